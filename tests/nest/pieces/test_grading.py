"""Grading: steps are kept exactly, the axis stays, and defaults follow the published proportions."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_styles import PARIS, box, vamp

from geometry.polygon import area, size
from nest.pieces.grading import default_steps, graded, nearest_template, template_of_size
from nest.pieces.sizing import SizeError
from nest.pieces.style import Grading


@given(st.integers(72, 88), st.floats(0.0, 8.0), st.floats(0.0, 8.0))
def test_each_step_adds_its_length_and_width(half, length_step, width_step):
    """n steps up add n × the length step along the axis and n × the width step across it; half sizes half."""
    base = vamp(lean=8.0)
    grown = graded(base, f"{half / 2:g}", Grading("paris", "38", length_step, width_step))
    steps = half / 2.0 - 38.0
    (length, width), (base_length, base_width) = size(grown.outline), size(base.outline)
    assert length - base_length == pytest.approx(steps * length_step, abs=1e-9)
    assert width - base_width == pytest.approx(steps * width_step, abs=1e-9)
    assert area(grown.outline) == pytest.approx(area(base.outline) * length / base_length * width / base_width)


def test_axis_stays_where_it_is():
    """Points on the axis stay on it, and an even template stays even."""
    grown = graded(vamp(), "42", PARIS)
    assert grown.outline[:, 1].max() == pytest.approx(-grown.outline[:, 1].min())
    assert np.sign(grown.outline[:, 1]).tolist() == np.sign(vamp().outline[:, 1]).tolist()
    assert grown.size == "42" and grown.parts == vamp().parts


def test_own_size_is_untouched():
    """The base size is the template itself, whatever it is spelled like."""
    assert np.array_equal(graded(vamp(), "38.0", PARIS).outline, vamp().outline)


def test_a_template_of_the_size_goes_before_grading():
    """A size with its own template is taken as it is; others are graded from the nearest, of two the smaller."""
    templates = (box(200.0, 160.0, "38"), box(230.0, 170.0, "40"))
    assert size(template_of_size(templates, "40", PARIS).outline) == (230.0, 170.0)
    assert nearest_template(templates, "39.5", PARIS).size == "40"
    assert nearest_template(templates, "39", PARIS).size == "38"
    assert size(template_of_size(templates, "41", PARIS).outline) == pytest.approx((234.9, 174.7))


def test_default_length_step_is_in_proportion_to_the_last():
    """Golding (1902), fig. 148: axial parts scale with last length. EU 38 is 38 steps long, UK 5 is 30."""
    template = box(190.0, 171.0)
    assert default_steps("paris", "38", template)[0] == pytest.approx(190.0 / 38.0)
    assert default_steps("english", "5", template)[0] == pytest.approx(190.0 / 30.0)


def test_default_width_step_is_in_proportion_to_the_girth():
    """Wings scale with the distance round the last: a part as wide as the girth grows by the girth step.

    Girth steps 5 mm EU, 6 mm UK (trade notes); girth 0.9 × last length (common practice, no source).
    """
    assert default_steps("paris", "39", box(190.0, 0.9 * 260.0))[1] == pytest.approx(5.0)
    assert default_steps("english", "5", box(190.0, 0.9 * 254.0))[1] == pytest.approx(6.0)
    assert default_steps("paris", "39", box(190.0, 0.45 * 260.0))[1] == pytest.approx(2.5)


def test_default_steps_of_mondopoint_grow_like_the_paris_point():
    """Girth per mm of length is the same in every metric system."""
    template = box()
    systems = (("mondopoint", 5.0), ("mondopoint-7.5", 7.5))
    per_mm = [default_steps(system, "245", template)[1] / step for system, step in systems]
    assert per_mm[0] == pytest.approx(per_mm[1])
    assert per_mm[0] * 0.9 * 245.0 / 160.0 == pytest.approx(5.0 / (20.0 / 3.0))


def test_steps_that_leave_nothing_are_refused():
    """Twenty steps down of 10 mm from 200 mm leave no template."""
    with pytest.raises(ValueError, match="leave a template at size 18, found 20 steps down"):
        graded(box(), "18", replace(PARIS, length_step_mm=10.0))


def test_unknown_size_is_named():
    """A size outside the system is answered as such."""
    with pytest.raises(SizeError, match="found 'large'"):
        graded(box(), "large", PARIS)
