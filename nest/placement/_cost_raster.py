"""Compiled: what a piece costs at every place of a strip at once.

Depths of every form in every other are held on a grid of displacements; the cost of a piece over a window of the
strip is then the weighted sum of those of all other pieces, each shifted to where that piece lies: a few additions a
cell, which the processor does several at a time (overlap of rasterized shapes, looked at in all places: Umetani &
Murakami, "Coordinate descent heuristics for the irregular strip packing problem of rasterized shapes", 2022; from
memory). Pieces are shifted by whole cells, so that depths are off by up to a cell's width: they propose places, exact
depths decide.
"""

from typing import NamedTuple

import numpy as np

from geometry.compiled import Whole, compiled, uncounted
from nest.placement._cost import Model, State, angles_of, pair_depth, uniform

LEAST_CELLS, CELLS_PER_ITEM = 4000, 60
"""A strip has this many cells, at least (trial 010)."""

MOST_VALUES = 64_000_000
"""Nothing is made that would hold more, 256 MB; places are sampled then."""

QUICK_VALUES, VALUES_PER_SECOND = 8_000_000, 1_000_000
"""The limit also grows with the time there is: the second figure for each second, but no less than the first. Making
them takes a fortieth of that time (trial 015)."""

FEW_VALUES = 16
"""Hardly a raster holds fewer, so that too many forms are known before their rasters are counted."""

WINDOW_CELLS = 16_000
"""A longer strip is looked at in windows of this many cells."""

BLOCK = 8
"""The lowest cell of every block of this many by this many is a candidate."""

CANDIDATES = 5
"""Trial 010."""

MOST_WEIGHT = 1e30
"""Weights that have risen further count as this, so that sums stay finite in single precision."""


class Rasters(NamedTuple):
    """Depths on grids of displacements; f forms, numbered as the model lists them."""

    step: float
    """Width of a cell, mm; 0 where there are no rasters."""
    form: np.ndarray
    """(k, a) number of a form, -1 if it is not one."""
    extent: np.ndarray
    """(f, f, 4) of (fixed, moving): first column and row, number of columns and rows."""
    start: np.ndarray
    """(f, f) where the values of (fixed, moving) begin, row by row."""
    value: np.ndarray


class Window(NamedTuple):
    """Scratch: costs over a window of the strip, and the candidates found in it."""

    cost: np.ndarray
    line: np.ndarray
    low: np.ndarray
    where: np.ndarray
    """(m, 2) row and column."""


NO_RASTERS = Rasters(
    0.0, np.empty((0, 0), np.int64), np.empty((0, 0, 4), np.int64), np.empty((0, 0), np.int64), np.empty(0, np.float32)
)


def make_rasters(model: Model, strip_area_mm2: float, items: int, seconds: float | None = None) -> Rasters:
    """Rasters of all forms, with cells as fine as suit a strip of this area and this many items.

    They are NO_RASTERS if they would hold more than MOST_VALUES, or take too much of the `seconds` there are.
    """
    limit = MOST_VALUES if seconds is None else min(MOST_VALUES, max(QUICK_VALUES, VALUES_PER_SECOND * seconds))
    step = float(np.sqrt(strip_area_mm2 / max(LEAST_CELLS, CELLS_PER_ITEM * items)))
    kind = np.repeat(np.arange(len(model.worth)), np.diff(model.form_start))
    angle = np.concatenate([angles_of(model, k) for k in range(len(model.worth))])
    if FEW_VALUES * len(kind) ** 2 > limit:
        return NO_RASTERS
    form = np.full(model.fit_id.shape, -1, np.int64)
    form[kind, angle] = np.arange(len(kind))
    box = model.form_box[kind, angle]
    least = np.ceil((box[:, None, :2] - box[None, :, 2:]) / step)
    most = np.floor((box[:, None, 2:] - box[None, :, :2]) / step)
    extent = np.concatenate((least, np.maximum(most - least + 1.0, 0.0)), axis=2).astype(np.int64)
    count = extent[:, :, 2] * extent[:, :, 3]
    if count.sum() > limit:
        return NO_RASTERS
    start = np.concatenate(([0], np.cumsum(count.ravel())[:-1])).reshape(count.shape)
    value = np.empty(int(count.sum()), np.float32)
    _fill_rasters(model, step, kind, angle, extent, value)
    return Rasters(step, form, extent, start, value)


@compiled
def _fill_rasters(
    model: Model, step: float, kind: np.ndarray, angle: np.ndarray, extent: np.ndarray, value: np.ndarray
) -> None:
    at = 0
    for p in range(len(kind)):
        for q in range(len(kind)):
            scale = model.scale[kind[p], kind[q]]
            for r in range(extent[p, q, 3]):
                for c in range(extent[p, q, 2]):
                    value[at] = scale * pair_depth(
                        model, kind[p], angle[p], kind[q], angle[q],
                        (extent[p, q, 0] + c) * step, (extent[p, q, 1] + r) * step)
                    at += 1


@compiled
def make_window(rasters: Rasters) -> Window:
    """Scratch for `look`; empty without rasters."""
    cells = WINDOW_CELLS if rasters.step > 0.0 else 0
    return Window(np.empty(cells, np.float32), np.empty(cells, np.float32), np.empty(CANDIDATES, np.float32),
                  np.empty((CANDIDATES, 2), np.int64))


@uncounted
def cost_field(
    rasters: Rasters, state: State, i: Whole, k: Whole, a: Whole, x0: float, y0: float, rows: int, columns: int,
    cost: np.ndarray,
) -> None:
    """Fill the first rows x columns of the flat array `cost` with that of piece i as form (k, a).

    Row r and column c stand for the place (x0 + c step, y0 + r step).
    """
    step, value, extent = rasters.step, rasters.value, rasters.extent
    for c in range(rows * columns):
        cost[c] = np.float32(0.0)
    q = rasters.form[k, a]
    for j in range(state.n[0]):
        if j == i:
            continue
        p = rasters.form[state.kind[j], state.angle[j]]
        left = int(np.floor((state.x[j] - x0) / step + 0.5)) + extent[p, q, 0]
        low = int(np.floor((state.y[j] - y0) / step + 0.5)) + extent[p, q, 1]
        wide = extent[p, q, 2]
        c0, c1 = max(0, left), min(columns, left + wide)
        r0, r1 = max(0, low), min(rows, low + extent[p, q, 3])
        weight = np.float32(min(state.weight[i, j], MOST_WEIGHT))
        for r in range(r0, r1):
            to = np.uint64(r * columns + c0)
            source = np.uint64(rasters.start[p, q] + (r - low) * wide + (c0 - left))
            for c in range(np.uint64(max(0, c1 - c0))):
                cost[to + c] += weight * value[source + c]


@uncounted
def lowest_cells(
    cost: np.ndarray, rows: int, columns: int, line: np.ndarray, low: np.ndarray, where: np.ndarray, random: np.ndarray
) -> int:
    """The lowest cells of the blocks of a field, lowest first; blocks begin anywhere. Returns how many there are."""
    found = 0
    first_row, first_column = -int(uniform(random) * BLOCK), -int(uniform(random) * BLOCK)
    for top in range(first_row, rows, BLOCK):
        r0, r1 = max(top, 0), min(top + BLOCK, rows)
        for c in range(columns):
            line[c] = cost[r0 * columns + c]
        for r in range(r0 + 1, r1):
            row = np.uint64(r * columns)
            for c in range(np.uint64(columns)):
                line[c] = min(line[c], cost[row + c])
        for left in range(first_column, columns, BLOCK):
            best, column = np.float32(np.inf), 0
            for c in range(max(left, 0), min(left + BLOCK, columns)):
                if line[c] < best:
                    best, column = line[c], c
            if found == len(low) and best >= low[found - 1]:
                continue
            found = min(found + 1, len(low))
            p = found - 1
            while p > 0 and low[p - 1] > best:
                low[p], where[p, 0], where[p, 1] = low[p - 1], where[p - 1, 0], where[p - 1, 1]
                p -= 1
            deep = r0
            while cost[deep * columns + column] > best:
                deep += 1
            low[p], where[p, 0], where[p, 1] = best, deep, column
    return found


@uncounted
def look(
    model: Model, rasters: Rasters, state: State, i: Whole, k: Whole, a: Whole, window: Window
) -> tuple[int, float, float]:
    """Find the lowest places of piece i as form (k, a) in a window of the strip, the whole if it is short enough.

    Returns how many are in `window.where`, and the place (x, y) of its row 0 and column 0.
    """
    step, b = rasters.step, model.bounds
    x0, y0 = b[k, a, 0] + step * uniform(state.random), b[k, a, 1] + step * uniform(state.random)
    rows = min(max(1, int((b[k, a, 3] - y0) / step) + 1), len(window.cost))
    columns = max(1, int((b[k, a, 2] - x0) / step) + 1)
    most = len(window.cost) // rows
    if columns > most:
        x0 += int(uniform(state.random) * (columns - most + 1)) * step
        columns = most
    cost_field(rasters, state, i, k, a, x0, y0, rows, columns, window.cost)
    return lowest_cells(window.cost, rows, columns, window.line, window.low, window.where, state.random), x0, y0
