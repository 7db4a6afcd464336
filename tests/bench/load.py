"""How time and memory grow with the number of hides, step by step; and a batch of many jobs.

    python tests/bench/load.py [--hides 50 100 200 500] [--pairs-per-hide 10] [--outputs] [--seconds 0] [--batch 0]
                               [--workers 2]

A few simulated sides are placed by the real engine with few passes; larger jobs hold them again and again under new
names, so that every size of job is of one kind. Each size runs in a process of its own: reading its files, making
pieces, judging, finding orders of cutting and accounting, saving and reading the plan; with `--outputs` the folder is
written, without figures, in place of the orders and accounts that are a part of it, by several processes: their time
is added up, and beside it stands that by the clock on the wall. Printed are the seconds of processor time of each step,
the peak of memory, and the exponent of time over hides, fitted by least squares in logarithms (1 is linear).
With `--seconds` the largest job is also placed for so long, with every hide a different one. With `--batch` so many
jobs of one style each are run by the command `batch`'s machinery, twice: with `--workers` workers and with one, whose
plans must be the same byte by byte.
"""

import argparse
import json
import multiprocessing
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from shapely.geometry import mapping

sys.path.append(str(Path(__file__).parents[1] / "nest"))

from small_jobs import small_job

from nest.accounts import account
from nest.cutplan.work import priced_seconds
from nest.job.read import read_job
from nest.output import write_outputs
from nest.pieces.make import make_pieces
from nest.plan import HideLayout, Plan
from nest.planfile import plan_text, read_plan, write_plan
from nest.planning.make import make_plan
from nest.stock.distribution import SIDES
from nest.stock.material import Hide
from nest.stock.simulate import simulate_hides
from nest.verify import verify

KINDS = 10
PASSES = 2
SIZES = ("37", "38", "39", "40", "41", "42")


def write_job(folder: Path, hides: list[Hide], pairs: int) -> Path:
    """A job of one style of the demo, with these hides as GeoJSON, and this many pairs in six sizes."""
    share = {size: pairs // len(SIZES) + (i < pairs % len(SIZES)) for i, size in enumerate(SIZES)}
    path = small_job(folder, pairs={size: number for size, number in share.items() if number}, hides=0)
    rows = ["id,file,leather,lot,class,thickness_mm,area,unit"]
    (folder / "hides").mkdir(exist_ok=True)
    for hide in hides:
        rows.append(f"{hide.hide_id},hides/{hide.hide_id}.geojson,Black side,{hide.lot},{hide.quality},"
                    f"{hide.thickness_mm},{hide.measured_area_mm2 / 1e4:.4f},dm2")
        (folder / "hides" / f"{hide.hide_id}.geojson").write_text(json.dumps(geojson(hide)))
    (folder / "hides.csv").write_text("\n".join([*rows, ""]))
    text = path.read_text().replace("length_m = 40", "length_m = 9000")
    path.write_text(text)
    return path


def geojson(hide: Hide) -> dict:
    """The hide as the program reads it."""
    parts = [({"part": "hide"}, hide.outline)]
    parts += [({"part": "zone", "name": z.zone_id, "class": z.quality, "stretch_deg": z.stretch_deg}, z.outline)
              for z in hide.zones]
    parts += [({"part": "flaw", "kind": f.kind, "severity": f.severity, "tears": f.tears, "coverable": f.coverable},
               f.outline) for f in hide.flaws]
    return {"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": properties, "geometry": mapping(shape)} for properties, shape in parts
    ]}


def repeated(base: Plan, times: int) -> Plan:
    """The plan with its hides, layouts and lays so many times, each with names and pairs of its own."""
    most = max((one.pair for layout in base.layouts for one in layout.placed), default=0)
    hides, layouts, lays = [], [], []
    for t in range(times):
        hides += [replace(hide, hide_id=f"{hide.hide_id}-{t}") for hide in base.hides]
        layouts += [
            HideLayout(f"{layout.hide_id}-{t}", tuple(
                replace(one, pair=one.pair and one.pair + t * most) for one in layout.placed
            )) for layout in base.layouts
        ]
        lays += [replace(lay, lay_id=f"{lay.lay_id}-{t}") for lay in base.lays]
    order = tuple(
        replace(line, pairs_wanted=times * line.pairs_wanted, pairs_to_cut=times * line.pairs_to_cut)
        for line in base.order
    )
    # as long as a roll may be
    rolls = tuple(replace(roll, length_mm=1e7) for roll in base.rolls)
    return replace(
        base, hides=tuple(hides), layouts=tuple(layouts), lays=tuple(lays), order=order, rolls=rolls, bounds=(),
        issues=(),
    )


def timed(steps: dict[str, float], name: str, work: Callable, clock: Callable[[], float] = time.process_time):
    """Do the work and note its seconds: of processor time, all threads together, or by another clock."""
    begin = clock()
    found = work()
    steps[name] = clock() - begin
    return found


def processor_seconds() -> float:
    """Processor time of this process and of those that it has started and that have ended."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime


def measured(base: Plan, count: int, per_hide: int, outputs: bool, pipe) -> None:
    """Every step for a job of `count` hides, in this process; sends seconds and peak memory."""
    steps: dict[str, float] = {}
    plan = repeated(base, count // len(base.hides))
    with tempfile.TemporaryDirectory() as folder:
        job = write_job(Path(folder) / "job", list(plan.hides), count * per_hide)
        loaded = timed(steps, "read", lambda: read_job(job))
        timed(steps, "pieces", lambda: [make_pieces(style, SIZES) for style in loaded.styles])
        verdict = timed(steps, "verify", lambda: verify(plan))
        assert verdict.ok, [finding.sentence for finding in verdict.wrong[:3]]
        if not outputs:
            seconds = timed(steps, "cut orders", lambda: priced_seconds(plan))
            timed(steps, "account", lambda: account(plan, seconds=seconds))
        timed(steps, "save plan", lambda: write_plan(plan, Path(folder) / "plan.json"))
        again = timed(steps, "read plan", lambda: read_plan(Path(folder) / "plan.json"))
        assert plan_text(again) == plan_text(plan)
        if outputs:
            # written by several processes; as a run does it, orders of cutting are found once for drawings and accounts
            begin = time.monotonic()
            timed(steps, "outputs", lambda: write_outputs(
                plan, lambda seconds: account(plan, seconds=seconds), verdict, Path(folder) / "out", figures=False,
            ), processor_seconds)
            steps["clock"] = time.monotonic() - begin
    pipe.send((steps, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3))


def of_its_own(work, *arguments):
    """What `work(*arguments, pipe)` sends, from a process of its own."""
    here, there = multiprocessing.get_context("fork").Pipe()
    process = multiprocessing.get_context("fork").Process(target=work, args=(*arguments, there))
    process.start()
    there.close()
    try:
        return here.recv()
    finally:
        process.join()


def placed(folder: str, count: int, pairs: int, seconds: float, pipe) -> None:
    """The whole job placed for so many seconds: seconds it took, pairs placed, hides used, peak memory."""
    hides = list(simulate_hides(SIDES, count, seed=7, leather="Black side"))
    job = read_job(write_job(Path(folder) / "whole", hides, pairs))
    begin = time.monotonic()
    plan = make_plan(job, seconds=seconds)
    taken = time.monotonic() - begin
    verdict = verify(plan)
    pieces = sum(len(layout.placed) for layout in plan.layouts)
    used = sum(bool(layout.placed) for layout in plan.layouts)
    pipe.send((taken, verdict.ok, pieces / 2, used, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3))


def batch(folder: Path, jobs: int, workers: int) -> dict[str, bytes]:
    """Run a batch; its plans by name."""
    from nest.batch.jobs import BatchLimits, counted, find_jobs
    from nest.batch.run import run_batch
    from nest.cluster.where import Where

    out = folder / f"out-{workers}"
    begin = time.monotonic()
    rows = run_batch(find_jobs(folder / "jobs", out), BatchLimits(passes=PASSES), where=Where(local=workers))
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
    print(f"batch of {jobs} jobs, {workers} workers: {time.monotonic() - begin:.0f} s, {counted(rows)}, "
          f"largest worker {peak:.0f} MB", flush=True)
    return {row.name: (out / row.name / "plan.json").read_bytes() for row in rows}


def main() -> int:
    """Measure and print; 1 if memory passes 2 GB or the plans of two batches differ."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--hides", type=int, nargs="+", default=[50, 100, 200, 500])
    parser.add_argument("--pairs-per-hide", type=int, default=10)
    parser.add_argument("--outputs", action="store_true", help="write the folder too")
    parser.add_argument("--seconds", type=float, default=0.0, help="also place the largest job for so long")
    parser.add_argument("--batch", type=int, default=0, help="also run so many jobs of one style as a batch")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    right = True
    with tempfile.TemporaryDirectory() as folder:
        hides = list(simulate_hides(SIDES, KINDS, seed=1, leather="Black side"))
        base = make_plan(read_job(write_job(Path(folder) / "base", hides, KINDS * args.pairs_per_hide)), passes=PASSES)
        print(f"base: {KINDS} hides, {sum(len(layout.placed) for layout in base.layouts)} vamps placed", flush=True)
        found = {}
        for count in args.hides:
            found[count], peak = of_its_own(measured, base, count, args.pairs_per_hide, args.outputs)
            if len(found) == 1:
                print(f"{'hides':>6}" + "".join(f"{name:>11}" for name in found[count]) + f"{'peak MB':>10}")
            print(f"{count:>6}" + "".join(f"{s:>11.2f}" for s in found[count].values()) + f"{peak:>10.0f}", flush=True)
            right &= peak < 2000.0
        if len(found) > 1:
            logs = np.log(list(found))
            slopes = [np.polyfit(logs, np.log([one[name] for one in found.values()]), 1)[0] for name in found[count]]
            print(f"{'exp.':>6}" + "".join(f"{slope:>11.2f}" for slope in slopes))
        if args.seconds:
            count = max(args.hides)
            taken, ok, pairs, used, peak = of_its_own(placed, folder, count, count * args.pairs_per_hide, args.seconds)
            wanted = count * args.pairs_per_hide
            print(f"placed for {args.seconds:g} s: {taken:.0f} s, {pairs:.0f} of {wanted} pairs on {used} of {count} "
                  f"hides, {'passed' if ok else 'FAILED'} its checks, peak {peak:.0f} MB", flush=True)
            right &= ok and peak < 2000.0
        if args.batch:
            for number in range(args.batch):
                small_job(Path(folder) / "jobs" / f"style-{number:02d}", pairs={SIZES[number % len(SIZES)]: 2})
            plans = [batch(Path(folder), args.batch, workers) for workers in dict.fromkeys((args.workers, 1))]
            same = all(one == plans[0] for one in plans)
            print(f"plans of both batches are {'the same, byte by byte' if same else 'NOT the same'}")
            right &= same
    return 0 if right else 1


if __name__ == "__main__":
    sys.exit(main())
