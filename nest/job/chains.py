"""Open paths joined into closed ones, doubled and empty ones dropped."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from geometry.precision import JOIN_GAP_MM
from nest.job.drawing import Path

SILENT_GAP_MM = 1e-3
"""A gap up to this is rounding: joined without a word."""

DOUBLED_MM = 0.06
"""A line that lies nowhere further than this from another one of its layer is that line drawn again."""

_DOUBLE_GRID_MM = 0.01
_MOST_ENDS_AT_ONE_PLACE = 64


@dataclass(frozen=True, slots=True)
class Joined:
    """Paths after joining, and what was mended."""

    paths: tuple[Path, ...]
    joins: int
    widest_gap_mm: float
    doubled: int
    empty: int


def join_paths(paths: Sequence[Path], gap_mm: float = JOIN_GAP_MM) -> Joined:
    """Join the paths of one layer where their ends lie within `gap_mm` of each other, nearest first.

    Both ends that meet are moved to their middle. A path whose own ends meet is closed. O(n log n) for ends that do
    not crowd.

    Raises
    ------
    ValueError
        If ends crowd at one place so that they have no clear order.
    """
    sound = [path for path in map(_without_repeats, paths) if path is not None]
    first: dict[bytes, Path] = {}
    for path in sound:
        first.setdefault(_likeness(path), path)
    single = list(first.values())
    single = _without_covered(single)
    closed = [path for path in single if path.closed]
    open_paths = [path for path in single if not path.closed]
    partner, distances = _partners(open_paths, gap_mm)
    chained = list(_chains(open_paths, partner))
    return Joined(
        paths=(*closed, *chained), joins=sum(1 for distance in distances if distance > SILENT_GAP_MM),
        widest_gap_mm=max(distances, default=0.0), doubled=len(sound) - len(single), empty=len(paths) - len(sound),
    )


def _without_repeats(path: Path) -> Path | None:
    """The path without points that repeat the one before; None if nothing of length is left."""
    points = path.points
    if len(points) == 0:
        return None
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.any(points[1:] != points[:-1], axis=1)
    points = points[keep]
    if path.closed and len(points) > 1 and (points[0] == points[-1]).all():
        points = points[:-1]
    if len(points) < 2:
        return None
    # Two points cannot enclose anything: a "closed" line there and back is a line.
    return Path(path.layer, points, path.closed and len(points) > 2, path.entity)


def _likeness(path: Path) -> bytes:
    """Equal for paths through the same points, in either sense and from any start."""
    cells = np.round(path.points / _DOUBLE_GRID_MM).astype(np.int64)
    return bytes([path.closed]) + cells[np.lexsort(cells.T)].tobytes()


def _without_covered(paths: Sequence[Path]) -> list[Path]:
    """The paths without those that run along others within `DOUBLED_MM`; of two like ones the first stays."""
    if len(paths) < 2:
        return list(paths)
    lines = np.array([shapely.LinearRing(p.points) if p.closed else shapely.LineString(p.points) for p in paths])
    mine, other = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=DOUBLED_MM)
    closed, length = np.array([path.closed for path in paths]), shapely.length(lines)
    # Only an outline doubles an outline; and what is longer is never doubled by what is shorter.
    fits = (mine != other) & (~closed[mine] | closed[other]) & (length[mine] <= length[other] + 4.0 * DOUBLED_MM)
    mine, other = mine[fits], other[fits]
    near = shapely.bounds(lines)
    within = (near[mine][:, :2] >= near[other][:, :2] - DOUBLED_MM).all(axis=1)
    within &= (near[mine][:, 2:] <= near[other][:, 2:] + DOUBLED_MM).all(axis=1)
    mine, other = mine[within], other[within]
    covered = shapely.covers(shapely.buffer(lines[other], DOUBLED_MM, quad_segs=4), lines[mine])
    gone = np.zeros(len(paths), dtype=bool)
    for i, j in sorted(zip(mine[covered].tolist(), other[covered].tolist(), strict=True), reverse=True):
        # An outline within reach of another one all around may still be another: a thin rim around a hole.
        alike = not closed[i] or shapely.hausdorff_distance(lines[i], lines[j]) <= 2.0 * DOUBLED_MM
        if alike and not gone[j]:
            gone[i] = True
    return [path for path, drop in zip(paths, gone, strict=True) if not drop]


def _partners(paths: Sequence[Path], gap_mm: float) -> tuple[dict[int, int], list[float]]:
    """Which end meets which (end 2 i is the start of path i, 2 i + 1 its end), and how far apart they were."""
    if not paths:
        return {}, []
    ends = np.array([end for path in paths for end in (path.points[0], path.points[-1])])
    _, crowd = np.unique(np.floor(ends / max(gap_mm, 1e-9)), axis=0, return_counts=True)
    if crowd.max() > _MOST_ENDS_AT_ONE_PLACE:
        raise ValueError(f"{crowd.max()} ends of lines at one place")
    points = shapely.points(ends)
    first, second = shapely.STRtree(points).query(points, predicate="dwithin", distance=gap_mm)
    pairs = first < second
    first, second = first[pairs], second[pairs]
    lengths = np.hypot(*(ends[first] - ends[second]).T)
    partner: dict[int, int] = {}
    distances = []
    for k in np.argsort(lengths, kind="stable"):
        a, b = int(first[k]), int(second[k])
        if a in partner or b in partner:
            continue
        if a // 2 == b // 2 and _length(paths[a // 2].points) <= 3.0 * gap_mm:
            continue
        partner[a], partner[b] = b, a
        distances.append(float(lengths[k]))
    return partner, distances


def _length(points: np.ndarray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def _chains(paths: Sequence[Path], partner: dict[int, int]):
    """Walk from end to partner: first from ends that meet nothing, then around the loops."""
    used: set[int] = set()
    starts = [end for end in range(2 * len(paths)) if end not in partner]
    for end in (*starts, *range(0, 2 * len(paths), 2)):
        if end // 2 in used:
            continue
        walked: list[int] = []
        here: int | None = end
        while here is not None and here // 2 not in used:
            used.add(here // 2)
            walked.append(here)
            here = partner.get(here ^ 1)
        yield _as_one(paths, walked, closed=here is not None)


def _as_one(paths: Sequence[Path], walked: list[int], closed: bool) -> Path:
    """One path through the paths entered at the ends in `walked`."""
    runs = [paths[end // 2].points[::-1] if end % 2 else paths[end // 2].points for end in walked]
    points = [runs[0]]
    for run in runs[1:]:
        middle = 0.5 * (points[-1][-1] + run[0])
        points[-1] = points[-1][:-1]
        points.append(np.vstack((middle, run[1:])))
    joined = np.concatenate(points)
    if closed:
        middle = 0.5 * (joined[0] + joined[-1])
        joined = np.vstack((middle, joined[1:-1]))
        closed = len(joined) > 2
    entities = list(dict.fromkeys(paths[end // 2].entity for end in walked))
    shown = ", ".join(entities[:3]) + (f" and {len(entities) - 3} more" if len(entities) > 3 else "")
    return Path(paths[walked[0] // 2].layer, joined, closed, shown)
