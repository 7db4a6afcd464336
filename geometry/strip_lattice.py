"""How densely one outline packs on a strip of fixed width, in rows along it or columns across it."""

from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from geometry._rows import scan_rows
from geometry.nofit import no_fit_polygon
from geometry.polygon import area
from geometry.precision import GeometryError, as_ring
from geometry.tables import Tables, build_table, join_tables

SPREADS = 8
"""This many distances of neighbours in a row are tried, from touching to LOOSEST times that."""

LOOSEST = 1.5
CELLS = 32
RELATIVE_TOLERANCE = 1e-8
COLUMNS_COUNTED = 64
"""A lattice of columns shifts along from column to column; the mean over this many counts, from STARTS first shifts."""

STARTS = 16
WINDOW = 6


@dataclass(frozen=True, slots=True)
class StripLattice:
    """A lattice on a strip that is long beside the outline; mm.

    advance : length of strip that one outline takes, on the mean.
    density : area of an outline ÷ (advance × width of the strip).
    across : outlines side by side over the width, on the mean.
    in_rows : whether outlines of a row follow each other along the strip, or stand side by side across it.
    end : length that the ragged ends of a lay need beyond its advances.
    first, second : translations of the lattice, x and y.
    turned : where the half-turned outline lies beside its upright one, both by the middle of their bounding boxes;
        None when all lie upright.
    """

    advance: float
    density: float
    across: float
    in_rows: bool
    end: float
    first: tuple[float, float]
    second: tuple[float, float]
    turned: tuple[float, float] | None


def densest_strip_lattice(
    ring: np.ndarray, width: float, gap: float = 0.0, *, half_turns: bool = True
) -> StripLattice | None:
    """Return the best lattice of `ring`, as it is turned, on a strip of this width; None if it is too wide.

    The strip runs along x. Rows along it, and columns across it, are tried at SPREADS distances of neighbours, touching
    and looser; for each the rows (columns) are put together as closely as they go, with and without half-turned
    copies, and counted as far as they lie wholly on the strip. All outlines stay `gap` apart. What is returned can be
    laid; a mixture of outlines or a free layout may be denser.

    Parameters
    ----------
    ring : (n, 2) array
        Simple outline, mm, at the heading it is laid at.
    width : float
        Usable width, mm.
    half_turns : bool
        Whether outlines may also lie turned half round.

    Raises
    ------
    GeometryError
        If the width is not above zero.

    References
    ----------
    Rows put together: as `geometry.lattice`.
    """
    if not width > 0.0:
        raise GeometryError(f"expected a strip with some width, found {width} mm")
    ring = as_ring(ring)
    whole = area(ring)
    scale = 1.0 / np.sqrt(whole)
    unit = (ring - 0.5 * (ring.min(axis=0) + ring.max(axis=0))) * scale
    if np.ptp(unit[:, 1]) > width * scale * (1.0 + 1e-12):
        return None
    same, turned = (_table(unit, other, gap * scale) for other in (unit, -unit))
    found = []
    for in_rows in (True, False):
        touching = _touching(same, along_x=in_rows)
        for spread in np.linspace(1.0, LOOSEST, SPREADS):
            step = touching * spread
            for double in (True, False) if half_turns else (False,):
                along = np.array([(step, 0.0) if in_rows else (0.0, step)])
                out = scan_rows(same, turned, double, along, 2.0 if double else 1.0, RELATIVE_TOLERANCE)[0]
                if np.isfinite(out[0]):
                    measure = _rows if in_rows else _columns
                    found.append((*measure(out, unit, width * scale, double), out[1:].reshape(3, 2), double))
    # One outline after the other, for strips too narrow for more.
    alone = _touching(same, along_x=True)
    one_row = np.array(((alone, 0.0), (0.0, 2.0 * width * scale), (0.0, 0.0)))
    found.append((alone, 1.0, True, float(np.ptp(unit[:, 0])), one_row, False))
    advance, across, in_rows, end, cell, double = min(found, key=lambda one: one[0])
    advance = float(advance / scale)
    first, second, centre = ((float(x), float(y)) for x, y in cell / scale)
    return StripLattice(
        advance, whole / (advance * width), across, in_rows, float(end / scale), first, second,
        centre if double else None,
    )


def lay_on_strip(lattice: StripLattice, length: float, height: float, width: float, count: int) -> np.ndarray:
    """Lay `count` outlines of a lattice on the shortest start of a strip that holds them.

    The lattice is shifted across the strip until one of its rows touches the edge, in every way that can be told
    apart within its first WINDOW translations; the shift that needs the least length is kept.

    Parameters
    ----------
    length, height : float
        Size of the outline's bounding box along and across the strip, mm; no higher than the strip is wide.
    width : float
        Usable width of the strip, mm.

    Returns
    -------
    (count, 3) array
        Middle of the bounding box, x and y from the corner of the strip, and 1 for a half-turned outline, else 0;
        sorted along the strip.
    """
    u, v = np.array(lattice.first), np.array(lattice.second)
    if lattice.in_rows:
        along, across = u, v
    else:
        along, across = v, u
    along = along if along[0] > 0.0 else -along
    # enough translations both ways to cover the strip twice over, whatever the slant
    rows = ceil(width / max(abs(across[1]), 1e-9)) + 2
    steps = ceil(2.0 * count * lattice.advance / along[0]) + WINDOW
    drift = ceil(rows * abs(across[0]) / along[0])
    lift = ceil((steps + drift) * abs(along[1]) / max(abs(across[1]), 1e-9))
    j, k = np.meshgrid(np.arange(-rows - lift, rows + lift + 1), np.arange(-drift - lift, steps + drift + lift + 1))
    spots = j.reshape(-1, 1) * across + k.reshape(-1, 1) * along
    kinds = [np.column_stack((spots, np.zeros(len(spots))))]
    if lattice.turned is not None:
        kinds.append(np.column_stack((spots + lattice.turned, np.ones(len(spots)))))
    spots = np.vstack(kinds)
    spots = spots[(spots[:, 0] >= 0.0) & (spots[:, 0] <= steps * along[0])]
    room = width - height
    best, least = None, np.inf
    first = spots[spots[:, 0] <= WINDOW * along[0]]
    for shift in np.unique(np.round(first[np.abs(first[:, 1]) <= 2.0 * width, 1], 9)):
        y = spots[:, 1] - shift
        on = (y >= -1e-9) & (y <= room + 1e-9)
        if on.sum() < count:
            continue
        x = spots[on, 0]
        order = np.argsort(x, kind="stable")
        x = x[order]
        needed = x[count - 1:] - x[: len(x) - count + 1]
        start = int(np.argmin(needed))
        if needed[start] < least:
            least = needed[start]
            chosen = order[start:start + count]
            best = np.column_stack((spots[on, 0][chosen], y[on][chosen], spots[on, 2][chosen]))
    if best is None:
        raise GeometryError(f"expected room for {count} outlines on the strip, found none: {height} mm on {width} mm")
    best[:, 0] += 0.5 * length - best[0, 0]
    best[:, 1] = np.clip(best[:, 1], 0.0, room) + 0.5 * height
    return best


def _table(fixed: np.ndarray, moving: np.ndarray, gap: float) -> Tables:
    return join_tables([build_table(no_fit_polygon(fixed, as_ring(moving), gap), cells=CELLS)])


def _touching(table: Tables, *, along_x: bool) -> float:
    """Distance along x (or y) beyond which two outlines never meet, from the outline of their no-fit polygon."""
    whole = table.edge[:-1, 2] > 0.0
    begin, behind = table.edge[:-1][whole], table.edge[1:][whole]
    at, other = (0, 1) if along_x else (1, 0)
    start, end = begin[:, other], behind[:, other]
    crosses = ((start <= 0.0) & (end >= 0.0)) | ((start >= 0.0) & (end <= 0.0))
    if not crosses.any():
        return 0.0
    start, end, low, high = start[crosses], end[crosses], begin[crosses, at], behind[crosses, at]
    level = start == end
    share = np.where(level, 0.0, -start / np.where(level, 1.0, end - start))
    return float(np.where(level, np.maximum(low, high), low + share * (high - low)).max()) * (1.0 + 1e-9)


def _rows(lattice: np.ndarray, ring: np.ndarray, width: float, double: bool) -> tuple[float, float, bool, float]:
    """Mean advance, outlines across, True, and ragged end of a lattice whose first translation lies along x."""
    step, pitch, offset = lattice[1], lattice[4], lattice[6]
    room = width - float(np.ptp(ring[:, 1]))
    starts = [0.0]
    if double:
        starts += [-(offset + k * pitch) for k in range(-ceil(width / pitch) - 1, ceil(width / pitch) + 2)]
    best = 0
    for start in starts:
        if not 0.0 <= start <= room:
            continue
        count = floor((room - start) / pitch + 1e-9) + 1
        if double:
            low, high = (start * -1.0 - offset) / pitch, (room - start - offset) / pitch
            count += max(0, floor(high + 1e-9) - ceil(low - 1e-9) + 1)
        best = max(best, count)
    best = max(best, 1)
    rows = np.arange(best) * lattice[3]
    ragged = _arc(np.concatenate((rows, rows + lattice[5])) if double else rows, step)
    return step / best, float(best), True, float(np.ptp(ring[:, 0])) - step + ragged


def _arc(phases: np.ndarray, step: float) -> float:
    """Shortest stretch that holds a point of every row, whose points lie `step` apart."""
    around = np.sort(phases % step)
    return step - float(np.diff(around, append=around[0] + step).max())


def _columns(lattice: np.ndarray, ring: np.ndarray, width: float, double: bool) -> tuple[float, float, bool, float]:
    """The same for a lattice whose first translation lies along y: each column as far as it lies on the strip."""
    step, across, up = lattice[2], abs(lattice[3]), lattice[4]
    room = width - float(np.ptp(ring[:, 1]))
    columns = np.arange(COLUMNS_COUNTED) * up
    both = np.concatenate((columns, columns + lattice[6])) if double else columns
    starts = np.concatenate(([0.0], -both[:: max(1, len(both) // STARTS)])) % step
    phases = (both[None, :] + starts[:, None]) % step
    counts = np.maximum(np.floor((room - phases) / step + 1e-9) + 1.0, 0.0).sum(axis=1)
    mean = float(counts.max()) / COLUMNS_COUNTED
    if mean <= 0.0:
        return np.inf, 0.0, False, 0.0
    return across / mean, mean / (2.0 if double else 1.0), False, max(0.0, float(np.ptp(ring[:, 0])) - across)
