"""Time and memory of inputs near the limits that `nest/limits.py` sets: each in a process of its own.

    python tests/bench/large_inputs.py [CASE ...] [--seconds 15]

A hide of 50,000 vertices, one with 500 flaws, templates of 20,000 vertices, smooth and as a zigzag that cannot be
thinned, and an order of sixty sizes. Each is placed by the command `place` with one pass; sixty sizes have the seconds
asked for. Printed are the exit code, processor time, time by the clock, the peak of memory and the last words. All data
are invented. Ends with code 1 where a command neither did its work nor refused it.
"""

import argparse
import json
import multiprocessing
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.path import make_path

sys.path.append(str(Path(__file__).parents[1] / "nest"))

from load import of_its_own, write_job
from small_jobs import small_job

from nest.cli import main as command
from nest.placement.solve import warm_up
from nest.stock.distribution import SIDES
from nest.stock.simulate import simulate_hides


def many_cornered(folder: Path) -> Path:
    """A hide whose outline has 50,000 vertices, a tenth of a millimetre rough."""
    job = write_job(folder, list(simulate_hides(SIDES, 1, seed=3, leather="Black side")), 6)
    (path,) = (folder / "hides").glob("*.geojson")
    data = json.loads(path.read_text())
    ring = np.array(data["features"][0]["geometry"]["coordinates"][0])
    along = np.concatenate(((0.0,), np.cumsum(np.hypot(*np.diff(ring, axis=0).T))))
    at = np.linspace(0.0, along[-1], 50_000)[:-1]
    points = np.column_stack([np.interp(at, along, axis) for axis in ring.T])
    points += np.random.default_rng(1).uniform(-0.05, 0.05, points.shape)
    data["features"][0]["geometry"]["coordinates"] = [np.vstack((points, points[:1])).round(4).tolist()]
    path.write_text(json.dumps(data))
    return job


def many_flaws(folder: Path) -> Path:
    """A hide with 500 flaws of some millimetres."""
    job = write_job(folder, list(simulate_hides(SIDES, 1, seed=3, leather="Black side")), 6)
    (path,) = (folder / "hides").glob("*.geojson")
    data, rng = json.loads(path.read_text()), np.random.default_rng(2)
    ring = np.array(data["features"][0]["geometry"]["coordinates"][0])
    middle, half = (ring.max(axis=0) + ring.min(axis=0)) / 2, np.ptp(ring, axis=0) / 4
    for x, y in middle + half * rng.uniform(-1.0, 1.0, (500, 2)):
        data["features"].append({"type": "Feature", "properties": {
            "part": "flaw", "kind": "scratch", "severity": 1, "coverable": True, "width_mm": 2.0,
        }, "geometry": {"type": "LineString", "coordinates": [[x, y], [x + 4.0, y + 2.0]]}})
    path.write_text(json.dumps(data))
    return job


def long_template(folder: Path, depth_mm: float) -> Path:
    """The demo's template with 20,000 vertices, in and out by a depth in turn."""
    job = small_job(folder, pairs={"39": 2}, hides=2)
    (name,) = (word for word in job.read_text().split('"') if word.endswith(".dxf") and "linden" in word)
    drawing = ezdxf.readfile(folder / name)
    # The longest closed polyline of the drawing is the template; its arcs are followed.
    outline = max(drawing.modelspace().query("LWPOLYLINE"), key=lambda one: len(one))
    ring = np.array([(x, y) for x, y, _ in make_path(outline).flattening(0.005)])
    along = np.concatenate(((0.0,), np.cumsum(np.hypot(*np.diff(ring, axis=0).T))))
    at = np.linspace(0.0, along[-1], 20_001)[:-1]
    points = np.column_stack([np.interp(at, along, axis) for axis in ring.T])
    ahead = np.roll(points, -1, axis=0) - points
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    # By a corner what goes in and out would cross its neighbours.
    corner = (ahead * np.roll(ahead, 1, axis=0)).sum(axis=1) < np.cos(0.05)
    near = np.convolve(np.pad(corner, 30, mode="wrap"), np.ones(61), mode="valid") > 0.5
    out = np.column_stack((ahead[:, 1], -ahead[:, 0]))
    points += depth_mm * out * ((np.arange(len(points)) % 2) * ~near)[:, None]
    outline.set_points([tuple(point) for point in points], format="xy")
    drawing.saveas(folder / name)
    return job


def sixty_sizes(folder: Path) -> Path:
    """Two pairs in each of sixty sizes, by thirds and halves of a Paris point."""
    sizes = [f"{32 + number // 4}{('', ' 1/3', '.5', ' 2/3')[number % 4]}" for number in range(60)]
    return small_job(folder, pairs=dict.fromkeys(sizes, 2), hides=12)


CASES: dict[str, Callable[[Path], Path]] = {
    "hide of 50,000 vertices": many_cornered, "500 flaws": many_flaws,
    "template of 20,000 vertices": lambda folder: long_template(folder, 0.0),
    "zigzag of 20,000 vertices": lambda folder: long_template(folder, 0.3),
    "sixty sizes": sixty_sizes,
}


def done(name: str, seconds: float, pipe) -> None:
    """Place one case in this process; sends exit code, processor time, time by the clock, and peak memory."""
    warm_up()
    with tempfile.TemporaryDirectory() as place:
        job = CASES[name](Path(place) / "job")
        limit = ("--seconds", f"{seconds:g}") if name == "sixty sizes" else ("--passes", "1")
        used, begin = time.process_time(), time.monotonic()
        code = command(["place", str(job), "--out", str(Path(place) / "out"), *limit, "--quiet"])
        pipe.send((code, time.process_time() - used, time.monotonic() - begin,
                   resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3))


def main() -> int:
    """Do the cases asked for, and print a line for each."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("cases", nargs="*", default=list(CASES), metavar="CASE", help=", ".join(CASES))
    parser.add_argument("--seconds", type=float, default=15.0, help="for sixty sizes")
    arguments = parser.parse_args()
    right = True
    print(f"{'case':<30}{'code':>5}{'processor, s':>14}{'clock, s':>10}{'peak MB':>9}", flush=True)
    for name in arguments.cases:
        code, used, clock, peak = of_its_own(done, name, arguments.seconds)
        print(f"{name:<30}{code:>5}{used:>14.1f}{clock:>10.1f}{peak:>9.0f}", flush=True)
        right &= code in (0, 2, 3)
    return 0 if right else 1


if __name__ == "__main__":
    multiprocessing.set_start_method("fork")
    sys.exit(main())
