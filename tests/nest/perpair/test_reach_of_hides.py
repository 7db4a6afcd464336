"""What a vamp can reach of a hide: by hand for rectangles; and the yield reckoned from it."""

import math

import pytest
from box_jobs import box, flaw, hide, style, zone
from hypothesis import given
from hypothesis import strategies as st

from geometry.polygon import area
from nest.perpair.reach import Probe, Reach, heading_groups, reach
from nest.perpair.use import ground_of
from nest.perpair.yield_model import reached_yield
from nest.pieces.make import make_pieces
from nest.rules import Rules
from nest.stock.material import Leather

VAMP = make_pieces(style(), ["38"])[0][0]
STRICT = Rules(tolerance_deg=0.0)


def found(sheet, rules=STRICT, one_way=False):
    """The reach of the box vamp, 224 × 124 mm rough with round corners, on this hide."""
    return reach(sheet, VAMP, rules, 0.0, one_way=one_way)


def test_rectangle_by_hand():
    """1000 × 500 mm: all but the corners is in reach, positions are 776 × 376 mm (elementary).

    Outlines made simpler for the estimate are up to 2 mm too large, the hide 1 mm too small.
    """
    one = found(hide())
    assert one.area_mm2 == pytest.approx(500_000, rel=0.005)
    assert one.play_mm2 == pytest.approx(776 * 376, rel=0.02)


def test_ground_that_no_net_outline_fits_is_out_of_reach():
    """Of a good strip 90 mm wide nothing is reached, for the net outline takes 100; of one 150 wide it is.

    The trim-off band, 12 mm, may lie on poor ground: it reaches that far beyond.
    """
    def sheet(width):
        good = box(0, 0, 1000, width)
        return hide(zones=(zone("good", good), zone("poor", box(0, width, 1000, 500), quality=3)))

    assert found(sheet(90.0)) == Reach(0.0, 0.0)
    assert found(sheet(150.0)).area_mm2 == pytest.approx(162.0 * 1000.0, rel=0.01)


def test_a_flaw_in_the_middle_takes_ground_and_play():
    """A tear too large to go round it closely: less ground, and less play by the spot grown by the piece."""
    spot = box(440, 190, 560, 310)
    whole, torn = found(hide()), found(hide(flaws=(flaw(spot, tears=True, coverable=False),)))
    assert torn.area_mm2 == pytest.approx(whole.area_mm2 - spot.area, rel=0.01)
    assert torn.play_mm2 == pytest.approx(whole.play_mm2 - (120 + 224) * (120 + 124), rel=0.03)


def test_zones_that_share_no_heading_are_tried_each_its_own_way():
    """Two halves with stretch 60° apart: no piece lies over their border, each half has positions of its own."""
    halves = hide(zones=(zone("a", box(0, 0, 500, 500)), zone("b", box(500, 0, 1000, 500), stretch_deg=30.0)))
    one = found(halves)
    alone = found(hide(length=500.0)), found(hide(length=500.0, zones=(
        zone("b", box(0, 0, 500, 500), stretch_deg=30.0),)))
    # The border is for net outlines alone: bands of 12 mm reach over it, from both sides.
    assert one.play_mm2 > sum(half.play_mm2 for half in alone)
    assert found(hide()).play_mm2 > one.play_mm2
    assert [len(group) for group in heading_groups(halves, Rules(), one_way=False)] == [6, 2]
    assert [len(group) for group in heading_groups(halves, Rules(), one_way=True)] == [3, 1]
    assert len(heading_groups(halves, Rules(tolerance_deg=60.0), one_way=False)) == 1


def test_many_hides_are_told_from_some_in_proportion_to_fit_ground():
    """Of nine equal hides eight are looked at: the mean is that of one; a hide without fit ground counts as nothing."""
    one = found(hide())
    assert Probe([hide(f"H{i}") for i in range(9)], VAMP, STRICT, 0.0, one_way=False).mean == Reach(
        *(pytest.approx(figure, rel=1e-9) for figure in (one.area_mm2, one.play_mm2)))
    bad = hide("H2", zones=(zone("poor", box(0, 0, 1000, 500), quality=3),))
    half = Probe([hide(), bad], VAMP, STRICT, 0.0, one_way=False).mean
    assert half.area_mm2 == pytest.approx(0.5 * one.area_mm2)
    assert Probe([bad], VAMP, STRICT, 0.0, one_way=False).mean == Reach(0.0, 0.0)


def test_ground_is_that_of_the_base_size_whatever_is_ordered():
    """With hides the ground tells what the base size reaches; without, figures alone are known."""
    leather = Leather("calf", 0, "m2")
    known = ground_of(leather, [hide()], style(rules=STRICT), 0.0)
    assert known.reach == Probe([hide()], VAMP, STRICT, 0.0, one_way=False).mean
    assert ground_of(leather, [], style(), 0.0).reach is None
    base = style(rules=STRICT).grading.base_size
    for sizes in ([base], [next(size for size in ("37", "38", "40") if size != base)]):
        made, _ = make_pieces(style(rules=STRICT), sizes)
        assert ground_of(leather, [hide()], style(rules=STRICT), 0.0, made) == known


@given(st.floats(0.7, 0.96), st.floats(0.0, 0.1), st.floats(2e5, 4e6), st.floats(0.0, 0.7),
       st.floats(1e4, 8e4), st.floats(5.0, 20.0))
def test_yield_is_never_below_zero_nor_above_the_lattice(straight, turns, ground, play, rough, tolerance):
    """However much is open, what is held lies between nothing and the ground in reach at interlock yield."""
    within = Reach(ground, play * ground)
    density = min(1.0, straight + turns)
    reached = reached_yield(density, straight, within, 1.2 * ground, rough, tolerance)
    assert 0.0 <= reached <= density / 1.2 + 1e-12


@given(st.floats(1.0, 4.0), st.floats(2e4, 6e4))
def test_more_ground_of_one_shape_yields_no_less(factor, rough):
    """Scaled up, a hide of which the reach is known does not yield less (Golding 1902, chapter on clicking)."""
    side = 1000.0
    piece = math.sqrt(rough)

    def held(length):
        within = Reach(length**2, (length - piece) ** 2)
        return reached_yield(0.92, 0.88, within, length**2, rough, 10.0)

    assert held(side) <= held(factor * side) + 1e-12


def test_smaller_ground_holds_the_area_its_formula_says():
    """Coefficients are used as documented: straight density × area, play, what 25 pieces lose and gain (by hand)."""
    within = Reach(1e6, 4e5)
    by_hand = (0.7460 + 5 * 0.0021) * 0.9 * 1e6 + 0.1468 * 4e5 + 4e4 * (0.7111 * 5 - 2.7146)
    assert reached_yield(0.95, 0.9, within, 1.25e6, 4e4, 15.0) == pytest.approx(by_hand / 1.25e6)
    assert area(VAMP.cut_outline) == pytest.approx(224 * 124, rel=0.005)
