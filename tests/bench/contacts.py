"""No-fit and inner-fit polygons against shapely, at contact poses: touching there, apart or within just beside it.

    python tests/bench/contacts.py 1000000 --seed 1

Invented outlines: vamps at any heading, vamps on a coarse grid at right angles (edges along each other), stars with
deep hollows, combs that reach into combs, pieces inside a hide with holes; a gap for some. Positions on the boundary
of the polygon are judged by shapely from the two outlines alone: how far apart they are there, and whether they meet a
hundred-thousandth of a millimetre to either side. Ends with code 1 if shapely says otherwise anywhere.
"""

import argparse
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

sys.path.append(str(Path(__file__).parents[1] / "geometry"))

from displacements import vamp_ring

from geometry.nofit import ARC_SEGMENTS, inner_fit_polygon, no_fit_polygon
from geometry.pose import rotate
from geometry.precision import as_ring

BESIDE_MM = 1e-5
"""So far to either side of a contact the other outline is asked for; the grid of the sums is 1e-6 to 4e-6 mm."""

PER_PAIR = 2_000


def star(rng) -> np.ndarray:
    """A ring with deep hollows, 20 to 100 mm out."""
    count = int(rng.integers(8, 40))
    angles = 2.0 * np.pi * (np.arange(count) + rng.uniform()) / count
    return as_ring(rng.uniform(20.0, 100.0, count)[:, None] * np.column_stack((np.cos(angles), np.sin(angles))))


def comb(rng) -> np.ndarray:
    """A bar with teeth along one side, as deep as the bar is long."""
    teeth, pitch, deep = int(rng.integers(4, 12)), float(rng.integers(10, 20)), float(rng.integers(20, 80))
    points = [(0.0, -20.0), (teeth * pitch, -20.0)]
    for i in reversed(range(teeth)):
        points += [(pitch * (i + across), up) for across, up in ((1.0, 0.0), (0.75, deep), (0.5, deep), (0.5, 0.0))]
    return as_ring(points)


def side(rng) -> Polygon:
    """A hide with a wavy edge and three holes."""
    angles = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    out = 700.0 + 60.0 * np.sin(3 * angles + rng.uniform(0, 6)) + 15.0 * np.sin(17 * angles + rng.uniform(0, 6))
    hide = Polygon(np.column_stack((1.5 * out * np.cos(angles), out * np.sin(angles))))
    holes = [Point(*rng.uniform(-350, 350, 2)).buffer(rng.uniform(10, 40), quad_segs=6) for _ in range(3)]
    return hide.difference(shapely.union_all(holes))


def case_of(kind: str, rng) -> tuple[Polygon, np.ndarray, float]:
    """What is fixed, what moves, and the gap."""
    if kind == "vamps":
        return Polygon(vamp_ring(rng)), rotate(vamp_ring(rng), rng.uniform(0, 360)), 0.0
    if kind == "coarse vamps":
        return Polygon(vamp_ring(rng, 5.0)), rotate(vamp_ring(rng, 5.0), 90.0 * int(rng.integers(4))), 0.0
    if kind == "stars":
        return Polygon(star(rng)), rotate(star(rng), rng.uniform(0, 360)), 0.0
    if kind == "combs":
        return Polygon(comb(rng)), rotate(comb(rng), float(rng.choice((0.0, 180.0, 180.0, 90.0)))), 0.0
    if kind == "with a gap":
        return Polygon(vamp_ring(rng)), rotate(vamp_ring(rng), rng.uniform(0, 360)), float(rng.uniform(0.2, 5.0))
    return side(rng), rotate(vamp_ring(rng), rng.uniform(0, 360)), 0.0


KINDS = ("vamps", "coarse vamps", "stars", "combs", "with a gap", "inside a hide")


def contacts(region, count: int, rng) -> tuple[np.ndarray, np.ndarray]:
    """Points on the edges of a region, at random along them, and the normals there; (n, 2) each."""
    rings = [shapely.get_coordinates(ring) for part in shapely.get_parts(region)
             for ring in (part.exterior, *part.interiors)]
    start = np.vstack([ring[:-1] for ring in rings])
    along = np.vstack([np.diff(ring, axis=0) for ring in rings])
    length = np.hypot(*along.T)
    edge = rng.choice(len(start), count, p=length / length.sum())
    # Some at corners, most on edges.
    share = np.where(rng.uniform(size=count) < 0.1, 0.0, rng.uniform(size=count))
    normal = np.column_stack((along[edge, 1], -along[edge, 0])) / length[edge, None]
    return start[edge] + share[:, None] * along[edge], normal


def judged(kind: str, rng, tally: dict[str, Counter], worst: dict[str, float]) -> None:
    """One pair of outlines at `PER_PAIR` contacts."""
    fixed, moving, gap = case_of(kind, rng)
    within = kind == "inside a hide"
    if within:
        region = inner_fit_polygon(fixed, moving)
    else:
        region = no_fit_polygon(shapely.get_coordinates(fixed)[:-1], moving, gap)
    if region.is_empty:
        return
    spots, normal = contacts(region, PER_PAIR, rng)
    shapely.prepare(fixed)
    shapely.prepare(region)

    def placed(at):
        return shapely.polygons(moving[None] + at[:, None])

    there = placed(spots)
    apart = shapely.distance(fixed.boundary if within else fixed, there)
    most = gap / np.cos(np.pi / (4 * ARC_SEGMENTS))
    off = np.maximum(apart - most, gap - apart)
    worst[kind] = max(worst[kind], float(off.max()))
    seen = tally[kind]
    seen["poses"] += len(spots)
    seen["not touching"] += int((off > BESIDE_MM).sum())
    for way in (1.0, -1.0):
        beside = spots + way * BESIDE_MM * normal
        said = shapely.contains_xy(region, beside)
        # Where the way to the side leads near another edge of the region, nothing can be told.
        clear = shapely.distance(region.boundary, shapely.points(beside)) > 0.5 * BESIDE_MM
        rings = placed(beside)
        if within:
            true = shapely.covers(fixed, rings)
        elif gap:
            # Round a corner the chords lie a little outside: between the two distances either is right.
            distance = shapely.distance(fixed, rings)
            true = np.where(distance < gap, True, np.where(distance > most, False, said))
        else:
            true = shapely.intersects(fixed, rings)
        seen["asked beside"] += int(clear.sum())
        seen["otherwise beside"] += int((clear & (said != true)).sum())


def main() -> int:
    """Judge that many poses of every kind in turn, and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("poses", type=int)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    rng, begin = np.random.default_rng(arguments.seed), time.monotonic()
    tally: dict[str, Counter] = defaultdict(Counter)
    worst: dict[str, float] = defaultdict(float)
    round_of = 0
    while sum(seen["poses"] for seen in tally.values()) < arguments.poses:
        judged(KINDS[round_of % len(KINDS)], rng, tally, worst)
        round_of += 1
        if round_of % 30 == 0:
            done = sum(seen["poses"] for seen in tally.values())
            print(f"{done} poses, {time.monotonic() - begin:.0f} s", file=sys.stderr, flush=True)
    print(f"{'kind':<16}{'poses':>9}{'off, mm':>11}{'not touching':>14}{'asked beside':>14}{'otherwise':>11}")
    for kind, seen in tally.items():
        print(f"{kind:<16}{seen['poses']:>9}{worst[kind]:>11.1e}{seen['not touching']:>14}{seen['asked beside']:>14}"
              f"{seen['otherwise beside']:>11}")
    total = sum(tally.values(), Counter())
    print(f"{'all':<16}{total['poses']:>9}{max(worst.values()):>11.1e}{total['not touching']:>14}"
          f"{total['asked beside']:>14}{total['otherwise beside']:>11}")
    return 1 if total["not touching"] or total["otherwise beside"] else 0


if __name__ == "__main__":
    sys.exit(main())
