"""Penetration depths by table against shapely's shared area, on many displacements of invented vamps.

    python tests/bench/overlap.py [--pairs 1000] [--spots 100] [--seed 1]

For every pair of outlines `--spots` random displacements and as many contacts are judged (see
`tests/geometry/displacements.py`). Printed for both: how many overlap, how often table and shapely
disagree on whether they do, and the deepest such disagreement as a share of the outline's size. Further, where the
displacement lies within the box of all that overlap: the largest difference between the distance of the outlines by
table and by shapely, and how often the two disagree on whether the displacement lies inside.
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "geometry"))

from displacements import contact_spots, random_spots, vamp_pair

JUDGED_MM = 1e-6
"""Distances must agree to this, mm: a hundredth of the coordinate grid."""

JUDGED_SHARE = 1e-7
"""Disagreements this share of the size deep or more count as wrong; those below are rounding on contacts."""


def main() -> int:
    """Judge, print, and return 1 if table and shapely disagree beyond rounding."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--pairs", type=int, default=1000, help="pairs of outlines")
    parser.add_argument("--spots", type=int, default=100, help="displacements of each sort for each pair")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    begin = time.monotonic()
    sorts = {"random": random_spots, "contact": contact_spots}
    judged, overlap, differ, wrong = (dict.fromkeys(sorts, 0) for _ in range(4))
    worst, off = dict.fromkeys(sorts, 0.0), dict.fromkeys(sorts, 0.0)
    measured, side = dict.fromkeys(sorts, 0), dict.fromkeys(sorts, 0)
    for done in range(1, args.pairs + 1):
        pair = vamp_pair(rng)
        for sort, make in sorts.items():
            spots = make(pair, args.spots, rng)
            depth = pair.depths(spots)
            area, thickness = pair.shared(spots)
            apart = (depth > 0.0) != (area > 0.0)
            share = np.maximum(depth, thickness)[apart] / pair.size
            judged[sort] += len(spots)
            overlap[sort] += int((area > 0.0).sum())
            differ[sort] += len(share)
            wrong[sort] += int((share >= JUDGED_SHARE).sum())
            worst[sort] = max(worst[sort], float(share.max(initial=0.0)))
            near = pair.boxed(spots)
            off[sort] = max(off[sort], float(np.abs(pair.gaps(near) - pair.apart(near)).max(initial=0.0)))
            told, true = pair.told_inside(near)
            measured[sort] += len(near)
            side[sort] += int((told != true).sum())
        if done % 200 == 0:
            print(f"{done} of {args.pairs} pairs, {time.monotonic() - begin:.0f} s", file=sys.stderr, flush=True)
    print(f"{'displacements':<14}{'judged':>9}{'overlap':>9}{'disagree':>10}{'deepest/size':>14}{'beyond 1e-7':>13}")
    for sort in sorts:
        print(f"{sort:<14}{judged[sort]:>9}{overlap[sort]:>9}{differ[sort]:>10}{worst[sort]:>14.1e}{wrong[sort]:>13}")
    print(f"{'displacements':<14}{'measured':>9}{'distance off, mm':>18}{'inside wrong':>14}")
    for sort in sorts:
        print(f"{sort:<14}{measured[sort]:>9}{off[sort]:>18.1e}{side[sort]:>14}")
    return 1 if sum(wrong.values()) or sum(side.values()) or max(off.values()) > JUDGED_MM else 0


if __name__ == "__main__":
    sys.exit(main())
