"""One invented vamp and styles made of it; shared by the tests of pieces."""

from dataclasses import replace

import numpy as np

from geometry.curves import closed_bspline
from geometry.precision import as_ring
from nest.pieces.piece import Part, Template
from nest.pieces.style import Allowances, Grading, Style
from nest.rules import Rules

EVEN = Allowances(12.0, 12.0, 12.0, 5.0, 5.0, 5.0)
STEPPED = Allowances(18.0, 14.0, 10.0, 6.0, 6.0, 5.0, blend_mm=40.0)
PARIS = Grading("paris", "38", 4.9, 4.7)
SIZES = ("36", "37", "38", "39", "40", "41", "42")

_HALF = ((112, 18), (96, 52), (60, 78), (10, 92), (-40, 100), (-78, 104), (-92, 92), (-84, 70), (-60, 50), (-42, 30),
         (-36, 12))


def vamp(lean: float = 0.0, size: str = "38") -> Template:
    """Low vamp with wings and a throat, about 200 × 204 mm; `lean` mm makes one wing longer than the other."""
    upper = np.array(_HALF, dtype=float)
    lower = upper[::-1] * (1.0, -1.0)
    lower[:, 0] -= lean * (lower[:, 1] < -85.0)
    outline = as_ring(closed_bspline(np.vstack((upper, lower))))
    middles = 0.5 * (outline + np.roll(outline, -1, axis=0))
    return Template("ankle", size, outline, tuple(_part(x, y) for x, y in middles))


def _part(x: float, y: float) -> Part:
    if x > 55.0:
        return Part.TOE
    return Part.SIDE if x > -30.0 or abs(y) > 88.0 else Part.BACK


def box(length: float = 200.0, width: float = 160.0, size: str = "38") -> Template:
    """A plain rectangle about the axis: toe edge at +x, two side edges, back edge at -x."""
    x, y = length / 2.0, width / 2.0
    outline = as_ring([(x, -y), (x, y), (-x, y), (-x, -y)])
    return Template("box", size, outline, (Part.TOE, Part.SIDE, Part.BACK, Part.SIDE))


def style(template: Template | None = None, **changes) -> Style:
    """A style of `template`, backed, with stepped allowances; `changes` as in dataclasses.replace."""
    template = template or vamp(lean=8.0)
    plain = Style(
        name="ankle", leather="calf", roll="backing", templates=(template,), grading=PARIS, allowances=STEPPED,
        widening_percent=2.0, reinforcement_inset_mm=10.0, reject_percent=5.0, reject_percent_by_quality=(),
        thickness_mm=1.4, rules=Rules(),
    )
    return replace(plain, **changes)
