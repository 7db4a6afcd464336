"""Template → rough vamp: the template and its trim allowance, which changes from part to part.

How wide the allowance is at a point of the template:

* toe and back: the allowance of that part.
* side: the side allowance less the *widening share*. The press leaves a vamp `widening_percent` wider,
  which moves a point at the distance |y| from the axis out by widening_percent / 100 × |y|, straight across.
  What that gives square to the outline, widening_percent / 100 × |y| × c, with c the cosine
  between the outline's outward normal and the direction away from the axis (1 where the side runs along
  the axis; never below 0), is taken off the side allowance, until `least_side_mm` is reached or 0. A side
  allowance that is below `least_side_mm` as given stays as given.
* between parts: the larger of two allowances holds to the very end of its part and passes into the smaller
  one beyond it, by half a cosine wave over `blend_mm` along the template. So no part ever has
  less than its own allowance. Where a part is too short for this, the change is steeper.
"""


import numpy as np

from geometry.offset import offset_variable
from geometry.polygon import edge_lengths
from nest.pieces.piece import Part, Template
from nest.pieces.style import Allowances

ROUGH_TOLERANCE_MM = 0.25
"""A rough outline may lie this far beyond its allowance, never short of it.

Fewer vertices make placement faster: a vamp has 80 to 100 of them at a quarter of a millimetre, for
about a thousandth more area.
"""

SAMPLE_MM = 3.0
"""Along the template, the allowance is worked out at points no further apart, and runs linearly between them."""


def rough_outline(template: Template, allowances: Allowances, widening_percent: float = 0.0) -> np.ndarray:
    """Return the ring of the rough vamp.

    Every point of the template has at least its allowance around it; the ring lies at most
    ROUGH_TOLERANCE_MM further out than that asks for.
    """
    points, widths = allowance_along(template, allowances, widening_percent)
    return offset_variable(points, widths, ROUGH_TOLERANCE_MM)


def allowance_along(
    template: Template, allowances: Allowances, widening_percent: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return points along the template and the trim allowance at each.

    Returns
    -------
    (n, 2) float array
        The template's vertices with points between, no further apart than SAMPLE_MM.
    (n,) float array
        Allowance, mm; see the module's own words for what it is.
    """
    points, parts = along_template(template)
    starts, ends = _own_allowance(points, parts, allowances, widening_percent)
    widths = np.maximum(starts, np.roll(ends, 1))
    first_of_run = [i for i in range(len(parts)) if parts[i] is not parts[i - 1]]
    if not first_of_run:
        return points, widths
    lengths = edge_lengths(points)
    blended = widths.copy()
    for first, beyond in zip(first_of_run, [*first_of_run[1:], first_of_run[0] + len(parts)], strict=True):
        edges = np.arange(first, beyond) % len(parts)
        # Allowance of this part alone, at the run's vertices from its first to its last.
        own = np.append(starts[edges], ends[edges[-1]])
        own[1:-1] = widths[edges[1:]]
        distance = np.concatenate(((0.0,), np.cumsum(lengths[edges])))
        vertices = np.append(edges, beyond % len(parts))
        rise_first, rise_last = widths[vertices[0]] > own[0], widths[vertices[-1]] > own[-1]
        reach = min(allowances.blend_mm, distance[-1] / (2.0 if rise_first and rise_last else 1.0))
        for rises, level, away in (
            (rise_first, widths[vertices[0]], distance),
            (rise_last, widths[vertices[-1]], distance[-1] - distance),
        ):
            if rises:
                raised = own + np.maximum(level - own, 0.0) * _falling(away, reach)
                np.maximum.at(blended, vertices, raised)
    return points, blended


def along_template(template: Template) -> tuple[np.ndarray, tuple[Part, ...]]:
    """The template's ring with points set between its vertices, and the part of each edge."""
    counts = np.ceil(edge_lengths(template.outline) / SAMPLE_MM - 1e-9).astype(int).clip(1)
    following = np.roll(template.outline, -1, axis=0)
    points = [
        start + np.arange(count)[:, None] / count * (end - start)
        for start, end, count in zip(template.outline, following, counts, strict=True)
    ]
    parts = [part for part, count in zip(template.parts, counts, strict=True) for _ in range(count)]
    return np.concatenate(points), tuple(parts)


def _own_allowance(
    points: np.ndarray, parts: tuple[Part, ...], allowances: Allowances, widening_percent: float
) -> tuple[np.ndarray, np.ndarray]:
    """Allowance at both ends of each edge, from the edge's own part alone."""
    along = np.roll(points, -1, axis=0) - points
    outward_y = -along[:, 0] / np.hypot(*along.T)
    given = np.array([allowances.of(part) for part in parts])
    side = np.array([part is Part.SIDE for part in parts])
    most_taken = max(0.0, allowances.side_mm - max(0.0, allowances.least_side_mm))

    def less_widening(y: np.ndarray) -> np.ndarray:
        gain = widening_percent / 100.0 * np.abs(y) * np.clip(outward_y * np.sign(y), 0.0, None)
        return given - np.where(side, np.minimum(gain, most_taken), 0.0)

    return less_widening(points[:, 1]), less_widening(np.roll(points[:, 1], -1))


def _falling(distance: np.ndarray, reach: float) -> np.ndarray:
    """Half a cosine wave from 1 at no distance to 0 at `reach` and beyond."""
    if reach <= 0.0:
        return np.asarray(distance == 0.0, dtype=np.float64)
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * (np.clip(distance, 0.0, reach) / reach)))
