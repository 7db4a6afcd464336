"""All pieces of a style: ids, feet, outlines that belong together, warnings and problems."""

from dataclasses import replace

import numpy as np
import pytest
from small_styles import EVEN, PARIS, SIZES, STEPPED, box, style, vamp
from trim_distances import trim_distance_by_part

from geometry.polygon import area, contains, hausdorff_distance, is_simple, mirror_distance, size
from geometry.pose import mirror
from geometry.precision import COORDINATE_GRID_MM
from nest.errors import InputProblems
from nest.pieces.make import NET_TOLERANCE_MM, _cover_warnings, make_pieces, pieces_of_lines
from nest.pieces.piece import Foot, Part, Role, Template
from nest.pieces.reinforcement import CoverGap
from nest.pieces.style import Allowances, OrderLine


@pytest.fixture(scope="module")
def run():
    """Every piece of a leaning vamp in seven sizes."""
    pieces, warnings = make_pieces(style(), SIZES)
    assert warnings == ()
    return pieces


def test_ids_and_sequence(run):
    """Smallest size first, vamps before reinforcements, left before right."""
    assert len(run) == 4 * len(SIZES)
    assert [piece.piece_id for piece in run[:5]] == [
        "ankle-36-L", "ankle-36-R", "ankle-36-L-reinf", "ankle-36-R-reinf", "ankle-37-L",
    ]
    assert len({piece.piece_id for piece in run}) == len(run)
    assert [piece.foot for piece in run[:4]] == [Foot.LEFT, Foot.RIGHT] * 2
    assert [piece.role for piece in run[:4]] == [Role.VAMP, Role.VAMP, Role.REINFORCEMENT, Role.REINFORCEMENT]


def test_right_is_left_mirrored(run):
    """A pair is left and mirrored right (common practice, no source), to the last digit."""
    for left, right in zip(run[::2], run[1::2], strict=True):
        assert right.piece_id == left.piece_id.replace("-L", "-R")
        assert np.array_equal(right.cut_outline, mirror(left.cut_outline))
        assert np.array_equal(right.net_outline, mirror(left.net_outline))


def test_even_style_serves_both_feet():
    """An outline that is its own mirror image gives one piece for both feet, evened out to the last digit."""
    pieces, _ = make_pieces(style(vamp()), SIZES)
    assert [piece.piece_id for piece in pieces[:3]] == ["ankle-36", "ankle-36-reinf", "ankle-37"]
    for piece in pieces:
        assert piece.foot is Foot.EITHER
        assert mirror_distance(piece.cut_outline) <= 2.0 * COORDINATE_GRID_MM


def test_outlines_are_rings_on_the_grid(run):
    """Every outline is simple, counter-clockwise and on the coordinate grid."""
    for piece in run:
        for ring in (piece.cut_outline, piece.net_outline):
            assert is_simple(ring)
            assert np.abs(ring / COORDINATE_GRID_MM - np.round(ring / COORDINATE_GRID_MM)).max() < 1e-6


def test_what_lies_within_what(run):
    """Net and reinforcement within rough; what stays of the reinforcement within it and within the net."""
    for vamp_piece, backing in zip(run[0::4], run[2::4], strict=True):
        assert contains(vamp_piece.cut_outline, vamp_piece.net_outline)
        assert contains(vamp_piece.cut_outline, backing.cut_outline, tolerance=2.0 * COORDINATE_GRID_MM)
        assert contains(backing.cut_outline, backing.net_outline, tolerance=2.0 * COORDINATE_GRID_MM)
        assert contains(vamp_piece.net_outline, backing.net_outline, tolerance=2.0 * COORDINATE_GRID_MM)


def test_base_size_is_the_template(run):
    """The net outline of the base size is the template within the net tolerance, never smaller."""
    template = vamp(lean=8.0)
    base = next(piece for piece in run if piece.size == "38" and piece.role is Role.VAMP)
    assert hausdorff_distance(base.net_outline, template.outline) <= NET_TOLERANCE_MM + COORDINATE_GRID_MM
    assert contains(base.net_outline, template.outline, tolerance=COORDINATE_GRID_MM)
    measured = trim_distance_by_part(template, base.cut_outline)
    assert measured[Part.TOE].least_mm >= STEPPED.toe_mm - COORDINATE_GRID_MM
    assert measured[Part.BACK].least_mm >= STEPPED.back_mm - COORDINATE_GRID_MM


def test_sizes_grow(run):
    """From size to size net area, rough area and reinforcement grow, and the template by its steps."""
    lefts = [piece for piece in run if piece.foot is Foot.LEFT and piece.role is Role.VAMP]
    areas = np.array([(area(piece.net_outline), area(piece.cut_outline)) for piece in lefts])
    assert (np.diff(areas, axis=0) > 0.0).all()
    extents = np.array([size(piece.net_outline) for piece in lefts])
    assert np.diff(extents, axis=0) == pytest.approx(np.tile((4.9, 4.7), (len(SIZES) - 1, 1)), abs=0.1)


def test_believable_sizes(run):
    """Rough vamp of a low shoe: 180-260 mm by 210-260 mm, 3-4.5 dm² (common practice, from memory)."""
    for piece in run:
        if piece.role is Role.VAMP:
            length, width = size(piece.cut_outline)
            assert 180.0 <= length <= 265.0 and 210.0 <= width <= 260.0
            assert 3e4 <= area(piece.cut_outline) <= 4.7e4


def test_same_input_same_pieces(run):
    """Made twice, the pieces are equal to the last digit, in whatever sequence the sizes are named."""
    again, _ = make_pieces(style(), SIZES[::-1])
    for one, other in zip(run, again, strict=True):
        assert one.piece_id == other.piece_id and np.array_equal(one.cut_outline, other.cut_outline)


def test_a_style_without_roll_has_no_reinforcement():
    """No roll, no backing."""
    pieces, _ = make_pieces(style(roll=""), ["38"])
    assert [piece.role for piece in pieces] == [Role.VAMP, Role.VAMP]


def test_size_text_stays_and_id_is_fit_for_a_file_name():
    """A half size keeps the user's spelling; its id has neither blank nor slash."""
    pieces, _ = make_pieces(style(vamp()), ["38 1/2"])
    assert pieces[0].size == "38 1/2" and pieces[0].piece_id == "ankle-38.5"


def test_reinforcement_that_does_not_reach_is_warned_of_once_a_part():
    """Seven sizes short at the back give one sentence, with the worst size and place."""
    short = Allowances(14.0, 14.0, 8.0, 5.0, 5.0, 5.0, blend_mm=20.0)
    _, warnings = make_pieces(style(box(), allowances=short, widening_percent=0.0), SIZES)
    assert len(warnings) == 1
    assert "at the back the reinforcement does not reach the template line by up to " in warnings[0]
    assert "7 sizes, most in size" in warnings[0]
    assert float(warnings[0].partition("up to ")[2].split()[0]) == pytest.approx(2.0, abs=0.2)


def test_reinforcement_that_falls_apart_is_warned_of():
    """A waist narrower than twice the inset splits the reinforcement; the larger part is kept and the loss said."""
    upper = np.array([(100.0, 50.0), (10.0, 50.0), (5.0, 3.0), (-5.0, 3.0), (-10.0, 40.0), (-100.0, 40.0)])
    outline = np.vstack((upper, upper[::-1] * (1.0, -1.0)))
    waisted = Template("ankle", "38", outline, (Part.SIDE,) * 12)
    pieces, warnings = make_pieces(style(waisted, allowances=replace(EVEN, side_mm=5.0), widening_percent=0.0), ["38"])
    assert any("falls into 2 pieces at an inset of 10 mm" in warning for warning in warnings)
    backing = next(piece for piece in pieces if piece.role is Role.REINFORCEMENT)
    assert backing.cut_outline[:, 0].min() > -10.0


def test_sizes_without_their_own_template_are_told():
    """With a template for each of two sizes, a third is graded from the nearest, and that is said."""
    templates = (box(200.0, 160.0, "38"), box(206.0, 165.0, "39"))
    pieces, warnings = make_pieces(style(templates=templates, allowances=EVEN), ["38", "39", "40"])
    assert size(pieces[2].net_outline) == pytest.approx((206.0, 165.0))
    assert [warning for warning in warnings if "template" in warning] == [
        "style ankle: size 40 has no template of its own, graded from size 39"
    ]


def test_all_problems_are_reported_together():
    """Two sizes that are none and one named twice: each is a problem with place, expected, found and remedy."""
    with pytest.raises(InputProblems) as caught:
        make_pieces(style(), ["38", "XL", "9"])
    assert [problem.found for problem in caught.value.problems] == ["'XL'", "'9'"]
    with pytest.raises(InputProblems, match=r"size 38\.5 twice"):
        make_pieces(style(), ["38.5", "38 1/2"])
    with pytest.raises(InputProblems, match="one of the size systems paris"):
        make_pieces(style(grading=replace(PARIS, system="continental")), ["38"])


def test_outlines_that_cannot_be_made_are_problems_of_their_sizes():
    """A template that crosses itself, or an inset that leaves nothing, is reported for every size it spoils."""
    crossed = np.array([(0.0, 0.0), (200.0, 150.0), (200.0, 0.0), (0.0, 100.0)])
    bow_tie = Template("ankle", "38", crossed, (Part.SIDE,) * 4)
    with pytest.raises(InputProblems, match="size 38: expected a template that does not cross"):
        make_pieces(style(bow_tie), ["38"])
    with pytest.raises(InputProblems) as caught:
        make_pieces(style(reinforcement_inset_mm=200.0), ["38", "39"])
    assert [problem.where for problem in caught.value.problems] == ["style ankle, size 38", "style ankle, size 39"]


def test_what_is_wrong_with_several_styles_is_said_at_once():
    """No style hides the faults of the next one; a style of which nothing is wanted is not made."""
    wrong = replace(PARIS, system="continental")
    styles = [replace(style(grading=wrong), name=name) for name in ("first", "second", "unwanted")]
    with pytest.raises(InputProblems) as caught:
        pieces_of_lines(styles, [OrderLine(name, "38", 1) for name in ("first", "second")])
    assert [problem.where for problem in caught.value.problems] == ["style first", "style second"]


def test_what_a_reinforcement_leaves_bare_is_said_once_a_part():
    """The worst place of all sizes, with its size; how many sizes where they are several."""
    toe, side = CoverGap(Part.TOE, 100.4, 1.0, 2.04), CoverGap(Part.SIDE, 0.0, -80.0, 5.0)
    said = _cover_warnings(style(), {"37": (toe,), "38": (replace(toe, short_mm=3.0), side), "39": ()})
    ends = "mm); a smaller inset or a larger allowance there covers it"
    assert said == [
        "style ankle: at the toe the reinforcement does not reach the template line by up to 3.0 mm (2 sizes, most in "
        f"size 38, at x 100, y 1 {ends}",
        "style ankle: at the side the reinforcement does not reach the template line by up to 5.0 mm (size 38, at x 0, "
        f"y -80 {ends}",
    ]
    assert _cover_warnings(style(), {"38": ()}) == []
