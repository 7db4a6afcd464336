"""Travel of the cut order on 60 pieces: what 5 seconds find, beside what 60 seconds of the same router find.

    python tests/bench/cut_order.py [--seeds 3] [--short 5] [--long 60]

Pieces are invented vamps in a loose grid of a side, each turned to one of two sides and of one of several sizes by
the seed. Also printed: what the program finds on its own, without a time being asked for.
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "nest"))

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


def travel(rings: list[np.ndarray], before, seconds: float | None) -> tuple[float, float]:
    """Travel found, mm, and the time taken, s."""
    begun = time.perf_counter()
    order, picks = cut_route(rings, (0.0, 0.0), before, seconds)
    took = time.perf_counter() - begun
    return travel_mm([rings[i][picks[i]] for i in order]), took


def main() -> None:
    """Print one row a seed, and the worst."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--short", type=float, default=5.0)
    parser.add_argument("--long", type=float, default=60.0)
    arguments = parser.parse_args()
    print(f"seed  pairs asked   alone mm (s)      {arguments.short:g} s mm   {arguments.long:g} s mm   longer by")
    worst = 0.0
    for seed in range(1, arguments.seeds + 1):
        rings = outlines(seed)
        before = cut_before(rings)
        alone, took = travel(rings, before, None)
        short, _ = travel(rings, before, arguments.short)
        long, _ = travel(rings, before, arguments.long)
        worst = max(worst, short / long - 1.0)
        row = f"{seed:4} {len(before):12} {alone:10.0f} ({took:.1f}) {short:10.0f} {long:10.0f}"
        print(f"{row} {short / long - 1.0:10.1%}", flush=True)
    print(f"worst: {worst:.1%} longer")


if __name__ == "__main__":
    main()
