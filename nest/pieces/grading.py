"""From the base size to every size: proportional grading about the heel-toe axis.

Grading moves every point in proportion to its distance from the frame's origin, along the axis and across
it apart (the radial or proportional method of the grading chapters in pattern cutting texts, e.g.
F. Y. Golding, The Manufacture of Boots and Shoes, London 1902, "Shoe Grading").
"""

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from geometry import polygon
from geometry.precision import as_ring
from nest.pieces.piece import Template
from nest.pieces.sizing import length_mm, size_system, steps_between
from nest.pieces.style import Grading

GIRTH_TO_LENGTH = 0.9
"""Joint girth of a last as a share of its length (common practice, no source; within a tenth or so)."""


def graded(template: Template, size: str, grading: Grading) -> Template:
    """Return `template` graded to `size`.

    Each step from the template's own size adds `grading.length_step_mm` to its length along the axis and
    `grading.width_step_mm` to its width across. The axis stays on y = 0.

    Raises
    ------
    SizeError
        If the system or a size is not known.
    ValueError
        If that many steps down leave nothing of the template.
    """
    steps = float(steps_between(size_system(grading.system), template.size, size))
    if steps == 0.0:
        return Template(template.style, size, template.outline, template.parts)
    length, width = polygon.size(template.outline)
    scale = np.array((1.0 + steps * grading.length_step_mm / length, 1.0 + steps * grading.width_step_mm / width))
    if not (scale > 0.0).all():
        raise ValueError(
            f"expected steps per size that leave a template at size {size}, found {-steps:g} steps down of "
            f"{grading.length_step_mm:g} mm in {length:.1f} mm length and {grading.width_step_mm:g} mm in "
            f"{width:.1f} mm width"
        )
    return Template(template.style, size, as_ring(template.outline * scale), template.parts)


def nearest_template(templates: Sequence[Template], size: str, grading: Grading) -> Template:
    """Return the template given for `size`, or else the one of the nearest size (of two, the smaller).

    Raises
    ------
    SizeError
        If the system or a size is not known.
    """
    system = size_system(grading.system)

    def distance(template: Template) -> tuple[Fraction, Fraction]:
        steps = steps_between(system, size, template.size)
        return abs(steps), steps

    return min(templates, key=distance)


def template_of_size(templates: Sequence[Template], size: str, grading: Grading) -> Template:
    """Return the template of `size`: as given when there is one, else graded from the nearest size given."""
    return graded(nearest_template(templates, size, grading), size, grading)


def default_steps(system: str, base_size: str, template: Template) -> tuple[float, float]:
    """Length and width step per size, mm of template, for a job that gives none.

    Parts on the axial line scale with the last's length, wings with the distance round the last (Golding,
    fig. 148). So the length step is the system's step × template length ÷ length of the base
    size, and the width step is the girth step × template width ÷ girth of the base size. Girth steps: 5 mm
    EU, 6 mm UK (trade notes), Mondopoint in proportion; girth itself is taken as 0.9 × length.

    Raises
    ------
    SizeError
        If the system or the size is not known.
    """
    scale = size_system(system)
    base_length = length_mm(scale, base_size)
    length, width = polygon.size(template.outline)
    girth = GIRTH_TO_LENGTH * base_length
    return float(scale.step_mm) * length / base_length, scale.girth_step_mm * width / girth
