"""Scans of invented cards at 300 dpi: how far outline and axis lie from what was drawn.

    python tests/bench/templates.py [--cases 24] [--dpi 300] [--first 1]

Cards are the demo's two templates, an invented symmetric vamp, and each of them bent out of its symmetry, scaled by
0.9 to 1.1; the axis two punched holes by turns with a pen line; turned by up to 20° (every fifth by any angle), with
noise and blur. The hole or line lies on the axis exactly: a hand that punches beside it is no error of the scan.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
import shapely

sys.path.append(str(Path(__file__).parents[1] / "nest" / "digitise"))

from cards import bent, demo_card, furthest, read_card, vamp
from scans import scan

from nest.digitise.template import digitise_template


def card(number: int) -> tuple[str, np.ndarray]:
    """Name and outline of a card, (n, 2) mm: axis on y = 0, toe towards +x."""
    rng = np.random.default_rng(number)
    name = ("linden-39", "alder-39", "invented")[number % 3]
    ring = vamp() if name == "invented" else demo_card(name)
    ring = ring * rng.uniform(0.9, 1.1)
    return (name, ring) if number % 2 else (f"{name}, bent", bent(ring, rng.uniform(0.02, 0.06)))


def one_case(number: int, dpi: float, folder: Path) -> dict:
    """All measures of one card."""
    rng = np.random.default_rng(number + 10_000)
    name, ring = card(number)
    turn = rng.uniform(-180, 180) if number % 5 == 0 else rng.uniform(-20, 20)
    x0, x1 = ring[:, 0].min(), ring[:, 0].max()
    inside = shapely.intersection(shapely.LineString(((x0, 0.0), (x1, 0.0))), shapely.Polygon(ring).buffer(-8.0))
    heel, *_, toe = shapely.get_coordinates(max(shapely.get_parts(inside), key=shapely.length))
    by_holes = (number // 2) % 2 == 0
    low, high = rotated(ring, turn).min(axis=0), rotated(ring, turn).max(axis=0)
    pixels = scan(
        ring, turn, rng.uniform(10, 20, 2) - low, holes=(heel, toe) if by_holes else (),
        line=None if by_holes else (heel, toe), dpi=dpi, page=tuple(high - low + 40.0), seed=number,
    )
    cv2.imwrite(str(folder / "card.png"), pixels)
    toes = {"right": 0.0, "up": 90.0, "left": 180.0, "down": 270.0}
    side = min(toes, key=lambda key: abs((toes[key] - turn + 180.0) % 360.0 - 180.0))
    started = time.process_time()
    figures, _ = digitise_template(folder / "card.png", folder / "card.dxf", folder / "check.png", dpi, side, 160.0, ())
    seconds = time.process_time() - started
    off = (figures["axis_deg_in_picture"] - turn + 180.0) % 360.0 - 180.0
    found = read_card(folder / "card.dxf")
    return {
        "name": name, "by": "holes" if by_holes else "line", "turn": turn, "axis": abs(off),
        "outline": furthest(np.asarray(found.outline), ring), "symmetric": figures["symmetric"], "seconds": seconds,
    }


def rotated(ring: np.ndarray, angle: float) -> np.ndarray:
    """The ring turned about the origin."""
    cos, sin = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    return ring @ np.array(((cos, sin), (-sin, cos)))


def main() -> None:
    """Print a line a card, then the worst."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=24)
    parser.add_argument("--dpi", type=float, default=300.0)
    parser.add_argument("--first", type=int, default=1)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for number in range(asked.first, asked.first + asked.cases):
            row = one_case(number, asked.dpi, Path(folder))
            rows.append(row)
            print(
                f"{number}: {row['name']}, axis by {row['by']}, turned {row['turn']:.1f}°: outline "
                f"{row['outline']:.3f} mm, axis {row['axis']:.3f}°, {'symmetric' if row['symmetric'] else 'as it is'}, "
                f"{row['seconds']:.1f} s",
                flush=True,
            )
    outline, axis = (np.array([row[key] for row in rows]) for key in ("outline", "axis"))
    print(
        f"\n{len(rows)} cards: outline median {np.median(outline):.3f}, worst {outline.max():.3f} mm; axis median "
        f"{np.median(axis):.3f}, worst {axis.max():.3f}°; seconds worst {max(row['seconds'] for row in rows):.1f}"
    )


if __name__ == "__main__":
    main()
