"""Length of roll by the quick estimate beside lays that are placed, over invented jobs of one style or two.

    python tests/bench/rolls_estimated.py [--jobs 12] [--seconds 10]

The demo's styles and rolls, with sizes, pairs, width and gap drawn by the job's number. Leather is left out. What is
printed is the length of the lay with both end losses, as a plan has it, and the estimate's.
"""

import sys
from dataclasses import replace
from statistics import median

import numpy as np
from record import Value, bench_options, write_record

from nest.cli.demo import DEMO_FOLDER
from nest.estimate.make import quick_estimate
from nest.job.job import Job
from nest.job.read import read_job
from nest.pieces.make import make_pieces
from nest.pieces.quantities import CutLine
from nest.pieces.style import OrderLine
from nest.placement.budget import Budget
from nest.placement.solve import warm_up
from nest.planning.rolls import plan_roll, reinforcements
from nest.planning.run import Engine, Run, TimeShare

SIZES = ("36", "37", "38", "39", "40", "41", "42")


def invented(number: int) -> Job:
    """One job with one roll for all its styles."""
    job = read_job(DEMO_FOLDER / "job.toml")
    rng = np.random.default_rng(4000 + number)
    styles = job.styles[: 1 + number % 2] if number % 4 < 2 else job.styles[1:][: 1 + number % 2]
    roll = replace(job.rolls[number % len(job.rolls)], width_mm=float(rng.integers(90, 165)) * 10.0, length_mm=1e6)
    styles = tuple(replace(style, roll=roll.roll_id, reject_percent=0.0) for style in styles)
    first, count = int(rng.integers(0, 5)), int(rng.integers(1, 8))
    sizes = SIZES[first: first + count]
    most = int(rng.choice([3, 8, 20, 40]))
    order = tuple(OrderLine(style.name, size, int(rng.integers(1, most + 1))) for style in styles for size in sizes)
    settings = replace(job.settings, roll_gap_mm=float(rng.choice([0.5, 1.0, 2.0])))
    return replace(job, styles=styles, rolls=(roll,), order=order, hides=(), settings=settings)


def placed_mm(job: Job, seconds: float) -> float:
    """Length of the lay of the job's roll, both end losses with it."""
    pieces = [piece for style in job.styles
              for piece in make_pieces(style, [line.size for line in job.order if line.style == style.name])[0]]
    quantities = [CutLine(line.style, line.size, line.pairs, line.pairs) for line in job.order]
    run = Run(Engine.fresh(), 1, Budget(seconds))
    roll, = job.rolls
    found = plan_roll(roll, reinforcements(quantities, pieces), {style.name: style.rules for style in job.styles},
                      job.settings.roll_gap_mm, run, TimeShare(run, seconds))
    return found.lay.length_mm + 2.0 * roll.end_loss_mm


def main() -> int:
    """Print a line for each job, and the middle of all."""
    args = bench_options(__doc__, jobs=12, first=0, seconds=10.0)
    warm_up()
    print(f"{'job':>4}{'pairs':>7}{'sizes':>7}{'width':>7}{'across':>8}{'placed m':>10}{'estimate m':>12}{'ratio':>8}")
    ratios = []
    for number in range(args.first, args.first + args.jobs):
        job = invented(number)
        estimate = quick_estimate(job)
        length, said = placed_mm(job, args.seconds), estimate.rolls[0].length_mm
        ratios.append(said / length)
        across = [one.roll.across for one in estimate.sizes]
        print(f"{number:4}{sum(line.pairs for line in job.order):7}{len(job.order):7}{job.rolls[0].width_mm:7.0f}"
              f"{sum(across) / len(across):8.1f}{length / 1e3:10.3f}{said / 1e3:12.3f}{ratios[-1]:8.3f}", flush=True)
    print(f"estimate by placed: median {median(ratios):.3f}, least {min(ratios):.3f}, most {max(ratios):.3f}")
    if args.record:
        write_record(args.record, question="How near does the estimate of roll lengths come?", unit="ratio",
                     module="nest/perpair/measures.py", baseline=f"lays placed for {args.seconds:g} s",
                     metric="estimate, share of the length placed",
                     values=[Value("median", round(median(ratios), 3), n=len(ratios)),
                             Value("range", (round(min(ratios), 3), round(max(ratios), 3)), n=len(ratios))])
    return 0


if __name__ == "__main__":
    sys.exit(main())
