"""Left and right: own mirror images within 0.2 mm, and pieces that mirror each other exactly."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_styles import STEPPED, box, vamp

from geometry.polygon import area, hausdorff_distance, mirror_distance
from geometry.pose import Pose, mirror
from geometry.precision import GeometryError
from nest.pieces.mirror import OWN_MIRROR_MM, for_other_foot, is_own_mirror, symmetrical
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.rough import ROUGH_TOLERANCE_MM, allowance_along, rough_outline


@pytest.mark.parametrize(("shift", "own"), [(0.0, True), (0.09, True), (0.11, False), (-0.5, False)])
def test_tolerance_is_two_tenths(shift, own):
    """Off the axis by d an even outline is 2 d from its mirror image: 0.18 mm pass, 0.22 mm do not."""
    assert is_own_mirror(Pose(0.0, shift, 0.0).apply(vamp().outline)) is own
    assert OWN_MIRROR_MM == 0.2


def test_a_leaning_vamp_is_not_its_own_mirror():
    """One wing 8 mm longer makes left and right."""
    assert is_own_mirror(vamp().outline)
    assert not is_own_mirror(vamp(lean=8.0).outline)


def test_allowances_count_as_well():
    """An even template with 3 mm more on one side alone is not its own mirror image once cut."""
    points, widths = allowance_along(vamp(), STEPPED, 2.0)
    assert is_own_mirror(points, widths)
    assert not is_own_mirror(points, widths + 3.0 * (points[:, 1] > 40.0))


def test_a_tolerance_may_be_nothing():
    """At a tolerance of 0 an exactly symmetric outline equals its mirror image, unless its allowances differ."""
    ring = box().outline
    assert is_own_mirror(ring, tolerance_mm=0.0) and is_own_mirror(ring, np.full(4, 12.0), 0.0)
    assert not is_own_mirror(ring, np.array((12.0, 12.01, 12.0, 12.0)), 0.0)


@given(st.floats(-6.0, 6.0))
def test_symmetrical_halves_mirror_each_other(shift):
    """The result is its own mirror image exactly, and the half above the axis is unchanged."""
    ring = Pose(0.0, shift, 0.0).apply(box().outline)
    even = symmetrical(ring)
    assert mirror_distance(even) <= 1e-9
    assert area(even) == pytest.approx(2.0 * 200.0 * (80.0 + shift))


def test_symmetrical_changes_a_rough_vamp_by_its_thinning_only():
    """Of an even vamp the symmetrical rough outline is within the tolerance of the thinned one."""
    rough = rough_outline(vamp(), STEPPED, 2.0)
    assert hausdorff_distance(symmetrical(rough), rough) <= ROUGH_TOLERANCE_MM


def test_symmetrical_needs_the_axis():
    """An outline wholly above the axis has no mirror half to join."""
    with pytest.raises(GeometryError, match="found MultiPolygon"):
        symmetrical(Pose(0.0, 100.0, 0.0).apply(box().outline))


def test_piece_for_the_other_foot():
    """Mirrored outlines, the other foot, the same areas; twice over it is the piece again."""
    ring = vamp(lean=8.0).outline
    left = Piece("a-38-L", "a", "38", Foot.LEFT, Role.VAMP, ring, ring)
    right = for_other_foot(left, "a-38-R")
    assert right.foot is Foot.RIGHT and right.piece_id == "a-38-R"
    assert np.array_equal(right.cut_outline, mirror(ring))
    assert area(right.net_outline) == pytest.approx(area(ring))
    back = for_other_foot(right, "a-38-L")
    assert back.foot is Foot.LEFT and hausdorff_distance(back.cut_outline, ring) == 0.0
