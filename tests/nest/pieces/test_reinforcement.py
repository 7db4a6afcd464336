"""Reinforcements: the inset, what it leaves uncovered, what is lost when it falls apart, and its weight."""

import numpy as np
import pytest
import shapely
from small_styles import EVEN, box, vamp

from geometry.polygon import area, contains, hausdorff_distance, polygon, ring_of
from geometry.pose import Pose
from geometry.precision import as_ring
from nest.pieces.piece import Part, Template
from nest.pieces.reinforcement import (
    COVER_SLACK_MM,
    cover_gaps,
    lost_share,
    reinforcement_outline,
    staying_outline,
    wanted_weight,
    weight_warnings,
)
from nest.pieces.rough import rough_outline
from nest.pieces.style import Allowances, WeightRow

TABLE = (WeightRow(1.2, 60.0, 80.0), WeightRow(1.6, 80.0, 110.0), WeightRow(2.2, 100.0, 150.0))


def test_reinforcement_is_10_mm_smaller_all_round():
    """10 mm inside the rough vamp (common practice, no source): shapely's buffer by -10, within 0.1 mm."""
    rough = rough_outline(vamp(lean=8.0), EVEN)
    backing, lost = reinforcement_outline(rough, 10.0)
    exact = ring_of(polygon(rough).buffer(-10.0, quad_segs=128))
    assert lost == ()
    assert hausdorff_distance(backing, exact) <= 0.11
    assert contains(rough, backing)


@pytest.mark.parametrize("radius", [60.0, 100.0, 150.0])
def test_a_reinforcement_lies_within_a_tenth_of_a_millimetre_of_its_inset(radius):
    """This holds at every point of a round outline."""
    turn = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    backing, _ = reinforcement_outline(radius * np.column_stack((np.cos(turn), np.sin(turn))), 10.0)
    along = shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(backing), 0.2))
    assert np.abs(np.hypot(*along.T) - (radius - 10.0)).max() <= 0.1


def test_staying_outline_is_what_lies_within_the_net_outline():
    """With 12 mm of allowance and 10 mm of inset all of the net outline is backed, with 20 mm less than all."""
    template = vamp(lean=8.0)
    rough = rough_outline(template, EVEN)
    covering, _ = reinforcement_outline(rough, 10.0)
    assert area(staying_outline(template.outline, covering)) == pytest.approx(area(template.outline), rel=1e-9)
    small, _ = reinforcement_outline(rough, 20.0)
    assert area(staying_outline(template.outline, small)) == pytest.approx(area(small), rel=1e-3)


def test_no_gap_where_the_inset_is_within_the_allowance():
    """An inset of 10 under an allowance of 12, or of just 12, leaves nothing bare."""
    template = vamp()
    rough = rough_outline(template, EVEN)
    for inset in (10.0, 12.0):
        assert cover_gaps(template, reinforcement_outline(rough, inset)[0]) == ()


def test_gap_is_told_by_part_place_and_size():
    """8 mm of allowance behind and 10 mm of inset leave the back edge of a box 2 mm bare, from end to end."""
    template = box()
    allowances = Allowances(14.0, 14.0, 8.0, 5.0, 5.0, 5.0, blend_mm=20.0)
    backing, _ = reinforcement_outline(rough_outline(template, allowances), 10.0)
    (gap,) = cover_gaps(template, backing)
    assert gap.part is Part.BACK
    assert gap.short_mm == pytest.approx(2.0, abs=COVER_SLACK_MM)
    assert gap.x == -100.0 and abs(gap.y) < 80.0


def test_one_gap_for_each_stretch_worst_first():
    """Bare on both sides, one wider than the other: two gaps, the worse one first."""
    template = box()
    backing = as_ring([(110.0, -77.0), (110.0, 75.0), (-110.0, 75.0), (-110.0, -77.0)])
    worse, lesser = cover_gaps(template, backing)[:2]
    assert (worse.short_mm, worse.y) == (5.0, 80.0)
    assert {gap.part for gap in cover_gaps(template, backing)} == set(Part)
    assert lesser.short_mm <= worse.short_mm
    sides = [gap for gap in cover_gaps(template, backing) if gap.part is Part.SIDE]
    assert [(gap.short_mm, gap.y) for gap in sides] == [(5.0, 80.0), (3.0, -80.0)]


@pytest.mark.parametrize(("short", "found"), [(0.198, False), (0.202, True)])
def test_two_tenths_short_of_the_template_line_count_as_reaching_it(short, found):
    """A fiftieth more at the toe leaves a gap."""
    backing = as_ring([(100.0 - short, -90.0), (100.0 - short, 90.0), (-110.0, 90.0), (-110.0, -90.0)])
    assert [(gap.part, gap.short_mm) for gap in cover_gaps(box(), backing)][:1] == [
        (Part.TOE, pytest.approx(short))] * found


def _bare(template, *boxes, length=110.0, width=90.0):
    """Part and depth of the gaps of a rectangle larger than the template, with boxes (x0, y0, x1, y1) taken out."""
    whole = shapely.box(-length, -width, length, width)
    ring = ring_of(shapely.difference(whole, shapely.union_all([shapely.box(*one) for one in boxes])))
    return [(gap.part, round(gap.short_mm, 6)) for gap in cover_gaps(template, ring)]


def test_a_gap_over_the_start_of_the_ring_is_one():
    """A side edge whose middle is the first vertex: bare 5 mm on either side of it is one gap; two gaps by parts."""
    ring = as_ring([(0.0, -80.0), (100.0, -80.0), (100.0, 80.0), (-100.0, 80.0), (-100.0, -80.0)])
    template = Template("box", "38", ring, (Part.SIDE, Part.TOE, Part.SIDE, Part.BACK, Part.SIDE))
    assert template.outline[0].tolist() == [0.0, -80.0]
    about = (-7.0, -95.0, 7.0, -76.0)
    assert _bare(template, about) == [(Part.SIDE, 4.0)]
    # The same with another gap on the toe; and a gap that ends before the last point of the ring stays its own.
    assert _bare(template, about, (97.0, -7.0, 115.0, 7.0)) == [(Part.SIDE, 4.0), (Part.TOE, 3.0)]
    apart = (-30.0, -95.0, -20.0, -77.0)
    assert [one[0] for one in _bare(template, (-1.0, -95.0, 7.0, -76.0), apart)] == [Part.SIDE, Part.SIDE]
    assert [one[0] for one in _bare(template, (1.0, -95.0, 7.0, -76.0), (-7.0, -95.0, -1.0, -77.0))] == [
        Part.SIDE, Part.SIDE]
    # A corner where parts change is no middle of a gap.
    toe_first = Template("box", "38", ring, (Part.TOE, Part.TOE, Part.SIDE, Part.BACK, Part.SIDE))
    assert {one[0] for one in _bare(toe_first, about)} == {Part.SIDE, Part.TOE}
    # Bare all round is one gap, of one part.
    (one,) = _bare(Template("box", "38", ring, (Part.SIDE,) * 5), length=90.0, width=75.0)
    assert one[0] is Part.SIDE and one[1] == round(float(np.hypot(10.0, 5.0)), 6)


def test_a_part_of_one_point_at_the_start_has_a_gap_of_its_own():
    """The first edge is 1 mm long and belongs to the toe; the side edges next to it are bare as well: three gaps."""
    ring = as_ring([(0.0, -80.0), (1.0, -80.0), (100.0, -80.0), (100.0, 80.0), (-100.0, 80.0), (-100.0, -80.0)])
    parts = Part.TOE, Part.SIDE, Part.TOE, Part.SIDE, Part.BACK, Part.SIDE
    gaps = _bare(Template("box", "38", ring, parts), (-7.0, -95.0, 7.0, -76.0))
    assert sorted(part for part, _ in gaps) == sorted((Part.SIDE, Part.SIDE, Part.TOE))


def test_largest_piece_is_kept_when_it_falls_apart():
    """Two squares on a 12 mm bridge fall apart at 10 mm of inset; the share that is lost is said."""
    rough = as_ring([(0, -40), (80, -40), (80, -6), (120, -6), (120, -30), (180, -30), (180, 30), (120, 30), (120, 6),
                     (80, 6), (80, 40), (0, 40)])
    kept, lost = reinforcement_outline(rough, 10.0)
    assert area(kept) == pytest.approx(60.0 * 60.0, rel=0.01)
    assert lost_share(lost, kept) == pytest.approx(1600.0 / (1600.0 + 3600.0), rel=0.01)


def test_inset_that_leaves_nothing_is_refused():
    """An inset of half the width leaves no piece; a negative one is no inset."""
    with pytest.raises(ValueError, match="inset that leaves a piece, found 90 mm"):
        reinforcement_outline(box().outline, 90.0)
    with pytest.raises(ValueError, match="not below zero, found -1 mm"):
        reinforcement_outline(box().outline, -1.0)
    with pytest.raises(ValueError, match="none of it covered"):
        staying_outline(box().outline, Pose(500.0, 0.0, 0.0).apply(box().outline))


def test_no_inset_is_the_rough_outline():
    """Inset 0 keeps the outline."""
    assert np.array_equal(reinforcement_outline(box().outline, 0.0)[0], box().outline)


def test_weight_is_looked_up_by_thickness():
    """The first row that reaches the thickness counts, in whatever sequence the table is given."""
    assert wanted_weight(TABLE[::-1], 1.2) == TABLE[0]
    assert wanted_weight(TABLE, 1.21) == TABLE[1]
    assert wanted_weight(TABLE, 2.3) is None


@pytest.mark.parametrize(
    ("thickness", "weight", "says"),
    [
        (1.4, 95.0, ""), (1.4, 80.0, ""), (1.4, 110.0, ""),
        (1.4, 70.0, "too light for an upper of 1.4 mm: 70 g/m², wanted 80 to 110"),
        (1.4, 150.0, "too heavy for an upper of 1.4 mm: 150 g/m², wanted 80 to 110"),
        (2.6, 120.0, "weight table ends at uppers of 2.2 mm"),
    ],
)
def test_weight_outside_the_table_is_warned_of(thickness, weight, says):
    """Too light, too heavy, or thicker than the table: one sentence each; within the range nothing."""
    warnings = weight_warnings("ankle", thickness, "R1", weight, TABLE)
    assert len(warnings) == bool(says)
    assert all(says in warning and "ankle" in warning and "R1" in warning for warning in warnings)


def test_no_table_no_warning():
    """A job without a weight table is not nagged."""
    assert weight_warnings("ankle", 1.4, "R1", 5.0, ()) == ()
