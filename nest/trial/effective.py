"""The allowance that a part of a size has in effect (at the sides less the widening), and allowances made from such."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import ceil

import numpy as np

from nest.pieces.grading import template_of_size
from nest.pieces.piece import Part, Template
from nest.pieces.rough import along_template
from nest.pieces.style import Allowances, Style

ROUNDING_MM = 0.5


def rounded(now: float, new: float) -> float:
    """Rounded up to half a millimetre, but not beyond what it is now where it need not grow."""
    up = ceil(new / ROUNDING_MM - 1e-6) * ROUNDING_MM
    return up if new > now + 1e-9 else min(up, now)


def effective_allowance(style: Style, size: str, part: Part, widening_percent: float) -> float:
    """Allowance of a part; of the side what is left at the widest place when the widening is taken off, mm."""
    reach = side_reach_mm(style, size) if part is Part.SIDE else 0.0
    return allowance_left(style.allowances.for_size(size), part, widening_percent, reach)


def allowance_left(allowances: Allowances, part: Part, widening_percent: float, reach_mm: float) -> float:
    """The same of the allowances of one size, whose side reaches this far from the axis."""
    value = allowances.of(part)
    if part is not Part.SIDE:
        return value
    return value - min(widening_percent / 100.0 * reach_mm, max(0.0, value - max(0.0, allowances.least_side_mm)))


def side_reach_mm(style: Style, size: str) -> float:
    """`reach_of` the template of a size."""
    return reach_of(template_of_size(style.templates, size, style.grading))


def reach_of(template: Template) -> float:
    """Largest distance from the axis at which the press's widening counts in full square to a side, mm."""
    points, parts = along_template(template)
    along = np.roll(points, -1, axis=0) - points
    outward_y = -along[:, 0] / np.hypot(*along.T)
    side = np.array([part is Part.SIDE for part in parts])
    reach = []
    for y in (points[:, 1], np.roll(points[:, 1], -1)):
        reach.append(np.abs(y) * np.clip(outward_y * np.sign(y), 0.0, None))
    return float(np.max(np.where(side, np.maximum(*reach), 0.0)))


def with_widening(style: Style, size: str, widening: float, effective: float) -> float:
    """The side allowance of which `effective` is left at the widest place; never rounded down."""
    given = style.allowances.for_size(size).side_mm
    unchanged = abs(effective - effective_allowance(style, size, Part.SIDE, style.widening_percent)) < 1e-9
    if unchanged and widening == style.widening_percent:
        return given
    return ceil((effective + widening / 100.0 * side_reach_mm(style, size)) / ROUNDING_MM - 1e-6) * ROUNDING_MM


def allowances_by_size(now: Allowances, values: Mapping[str, Sequence[float]]) -> Allowances:
    """The style's allowances are the largest of any size; sizes that differ have their own."""
    most = [max(column) for column in zip(*values.values(), strict=True)]
    own = [(size, mine[0], mine[1], mine[2]) for size, mine in values.items() if [*mine] != most]
    kept = [row for row in now.by_size if row[0] not in values]
    toe, side, back = most
    return replace(now, toe_mm=toe, side_mm=side, back_mm=back, by_size=(*own, *kept))
