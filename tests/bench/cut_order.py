"""Travel of the cut order on 60 pieces: what the program finds, beside what twenty times the work finds.

    python tests/bench/cut_order.py [--seeds 3] [--times 20]

Pieces are invented vamps in a loose grid of a side, each turned to one of two sides and of one of several sizes by
the seed.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "nest"))

from record import Value, bench_options, write_record
from vamp_plans import vamp_pieces

from nest.cutplan.holding import cut_before
from nest.cutplan.order import cut_route, travel_mm

COLUMNS, ROWS = 10, 6


def outlines(seed: int) -> list[np.ndarray]:
    """Sixty outlines where they lie."""
    pick = np.random.default_rng(seed)
    vamps = [piece.cut_outline for piece in vamp_pieces() if piece.role == "vamp"]
    width, height = np.max([np.ptp(ring, axis=0) for ring in vamps], axis=0) + 1.0
    return [
        np.asarray(vamps[pick.integers(len(vamps))]) * (1 if pick.random() < 0.5 else -1)
        + (300.0 + width * i, 300.0 + height * j)
        for i in range(COLUMNS) for j in range(ROWS)
    ]


def travel(rings: list[np.ndarray], before, effort: float) -> tuple[float, float]:
    """Travel found, mm, and the time of the processor taken, s."""
    begun = time.process_time()
    order, picks = cut_route(rings, (0.0, 0.0), before, effort)
    took = time.process_time() - begun
    return travel_mm([rings[i][picks[i]] for i in order]), took


def main() -> None:
    """Print one row a seed, and the worst."""
    arguments = bench_options(__doc__, seeds=3, times=20.0)
    cut_route(outlines(0)[:5])  # compiled, or loaded, before time is taken
    print(f"seed  pairs asked   usual mm (s)   {arguments.times:g} times mm (s)   longer by")
    worst, values = 0.0, []
    for seed in range(1, arguments.seeds + 1):
        rings = outlines(seed)
        before = cut_before(rings)
        (usual, took), (long, longer) = travel(rings, before, 1.0), travel(rings, before, arguments.times)
        worst = max(worst, usual / long - 1.0)
        values.append(Value(f"seed {seed}", round(100.0 * (usual / long - 1.0), 2), n=1))
        row = f"{seed:4} {len(before):12} {usual:10.0f} ({took:.1f}) {long:10.0f} ({longer:.1f})"
        print(f"{row} {usual / long - 1.0:10.1%}", flush=True)
    print(f"worst: {worst:.1%} longer")
    if arguments.record:
        write_record(arguments.record, question="How near does the cut order come to what much more work finds?",
                     module="nest/cutplan/order.py", baseline=f"{arguments.times:g} times the work", unit="%",
                     metric="travel on 60 pieces, longer by", values=values)


if __name__ == "__main__":
    main()
