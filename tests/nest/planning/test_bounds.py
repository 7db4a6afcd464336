"""Bounds: never below what a layout reaches, and equal to the closed form where there is one."""

from math import pi

import numpy as np
import pytest
import shapely
from box_jobs import ROWS, flaw, hide, job, roll, style, zone
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box
from tiny_plans import rectangle, rectangle_lattice, vamp

from geometry.polygon import area
from geometry.pose import Pose
from nest.job.job import Settings
from nest.pieces.piece import Foot, Piece, Role
from nest.plan import Lay, Placed
from nest.planning.bound import hide_bound, lattice_density, lay_bound, reachable
from nest.planning.make import make_plan
from nest.rules import Rules


def density(piece, gap, one_way):
    """Rectangles with a gap tile as rectangles grown by the gap (elementary)."""
    return rectangle_lattice(piece.cut_outline, gap).density


def test_a_hide_without_faults_may_be_full():
    """Without a gap every point of a plain rectangle is within reach: the bound is 1, the reference too."""
    bound = hide_bound(hide(), {"box": [vamp()]}, {"V38": 2}, {"box": Rules()}, Settings(hide_gap_mm=0.0), density,
                       one_way=False)
    assert bound.cutting_yield_at_most == pytest.approx(1.0)
    # The corners of the fit ground are cut off by discs of half the piece's width, but the band covers some of that.
    assert 0.97 < bound.reference_yield <= 1.0


def test_ground_beyond_the_band_is_out_of_reach():
    """Beside a poor zone the outline reaches 12 mm over its edge (17 mm at its corners), no further."""
    zones = (zone("good", box(0, 0, 600, 500)), zone("poor", box(600, 0, 1000, 500), 3))
    reach = reachable(hide(zones=zones), [vamp()], Rules(), 0.0)
    assert 600.0 + 12.0 <= reach.bounds[2] <= 600.0 + 12.0 * 2**0.5 * 1.12
    assert reach.covers(box(5.0, 5.0, 600.0, 495.0))


def test_ground_too_narrow_for_the_net_outline_is_out_of_reach():
    """A good strip 80 mm wide beside a poor zone holds no net outline of 100 mm: nothing reaches its middle."""
    zones = (
        zone("good", box(0, 0, 500, 500)), zone("poor", box(500, 0, 800, 500), 3),
        zone("strip", box(800, 0, 1000, 80)), zone("below", box(800, 80, 1000, 500), 3),
    )
    reach = reachable(hide(zones=zones), [vamp()], Rules(), 0.0)
    assert not reach.intersects(box(800, 0, 1000, 80))


def test_reach_of_a_round_piece_is_the_opening():
    """For a disc the reach is the opening of the ground by it: corners lose r² (1 − π/4) each (elementary)."""
    ring = shapely.get_coordinates(Point(0, 0).buffer(50.0, quad_segs=32))[:-1]
    disc = Piece("D", "disc", "38", Foot.EITHER, Role.VAMP, ring, ring)
    reach = reachable(hide(), [disc], Rules(), 0.0)
    opened = 500_000.0 - 4 * 50.0**2 * (1.0 - pi / 4.0)
    assert opened <= reach.area <= opened + 0.002 * 500_000.0


def test_reference_is_reach_times_the_density_of_the_mix():
    """Two outlines of densities 0.5 and 1, as much rough area of each: together 1 / (0.5 / 0.5 + 0.5 / 1) = 2/3."""
    half, full = vamp("A", "box", "38"), vamp("B", "box", "39")
    known = {"A": 0.5, "B": 1.0}
    bound = hide_bound(
        hide(), {"box": [half, full]}, {"A": 3, "B": 3}, {"box": Rules()}, Settings(hide_gap_mm=0.0),
        lambda piece, gap, one_way: known[piece.piece_id], one_way=False,
    )
    reach = reachable(hide(), [half, full], Rules(), 0.0).area / 500_000.0
    assert bound.reference_yield == pytest.approx(reach * 2.0 / 3.0)


def test_lattices_are_worked_out_once_per_size():
    """Left and right, and the same outline again, share one lattice; its density is that of the tiling."""
    worked = lattice_density()
    ring = rectangle(60.0, 40.0)
    left = Piece("L", "s", "38", Foot.LEFT, Role.VAMP, ring, ring)
    right = Piece("R", "s", "38", Foot.RIGHT, Role.VAMP, ring, ring)
    assert worked(left, 0.0, False) == pytest.approx(1.0, abs=1e-6)
    assert worked(right, 0.0, False) == worked(left, 0.0, False)


@pytest.mark.parametrize(("one_way", "reference"), [(False, 1.0), (True, 2.0 / 3.0)])
def test_reference_of_one_way_leather_knows_no_half_turns(one_way, reference):
    """Triangles tile the plane with half turns; by translations alone they fill two thirds of it at most (Fáry 1950,
    from memory)."""
    ring = np.array(((0.0, 0.0), (90.0, 0.0), (0.0, 60.0)))
    piece = Piece("T", "s", "38", Foot.EITHER, Role.VAMP, ring, ring)
    bound = hide_bound(
        hide(), {"s": [piece]}, {"T": 2}, {"s": Rules()}, Settings(hide_gap_mm=0.0), lattice_density(), one_way=one_way)
    reach = reachable(hide(), [piece], Rules(), 0.0).area / 500_000.0
    assert bound.reference_yield == pytest.approx(reference * reach, rel=1e-5)


def _yields(plan):
    """Bound and cutting yield of everything that is cut."""
    bounds = {bound.material_id: bound for bound in plan.bounds}
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    hides = {one.hide_id: one for one in plan.hides}
    rolls = {one.roll_id: one for one in plan.rolls}
    for layout in plan.layouts:
        rough = sum(area(pieces[placed.piece_id].cut_outline) for placed in layout.placed)
        yield bounds[layout.hide_id], rough / hides[layout.hide_id].outline.area
    for lay in plan.lays:
        goods = rolls[lay.roll_id]
        rough = sum(area(pieces[placed.piece_id].cut_outline) for placed in lay.placed)
        yield bounds[lay.lay_id], rough / ((lay.length_mm + 2 * goods.end_loss_mm) * goods.width_mm)


@settings(deadline=None, max_examples=6)
@given(
    st.integers(500, 1200), st.integers(300, 700), st.integers(1, 20), st.sampled_from([0.0, 1.0, 6.0]),
    st.lists(st.tuples(st.integers(0, 1000), st.integers(0, 500), st.integers(2, 40)), max_size=3), st.booleans(),
)
def test_no_plan_is_better_than_its_bound(length, width, pairs, gap, spots, tight):
    """Whatever is laid, its cutting yield is at most the bound."""
    flaws = [flaw(Point(x, y).buffer(r), f"F{i}", coverable=not tight) for i, (x, y, r) in enumerate(spots)]
    asked = job(
        styles=[style(roll="knit")], order=[("box", "38", pairs)], hides=[hide("H", length, width, flaws=flaws)],
        rolls=[roll()], settings=Settings(hide_gap_mm=gap, roll_gap_mm=gap),
    )
    plan = make_plan(asked, passes=1, engine=ROWS)
    for bound, reached in _yields(plan):
        assert reached <= bound.cutting_yield_at_most + 1e-9
        assert bound.cutting_yield_at_most <= 1.0


def test_a_lay_of_rectangles_is_as_good_as_its_bound():
    """Reinforcements 204 × 104 mm, four abreast on 420 mm with gaps of 1 mm: the layout meets its bound within 1 %."""
    asked = job(styles=[style(roll="knit")], order=[("box", "38", 40)], hides=[],
                rolls=[roll(width_mm=440.0, selvedge_mm=10.0, end_loss_mm=0.0)])
    plan = make_plan(asked, passes=1, engine=ROWS)
    ((bound, reached),) = _yields(plan)
    assert reached > 0.99 * bound.cutting_yield_at_most
    assert bound.reference_yield == pytest.approx(reached, rel=0.02)


def test_sums_are_exactly_rounded():
    """A plan is the same under every Python (since 3.12 `sum` carries its rounding): no order of pieces counts."""
    rng = np.random.default_rng(5)
    pieces = {
        f"B{n}": vamp(f"B{n}", net=[(x * scale, y) for x, y in vamp().net_outline])
        for n, scale in enumerate(rng.uniform(0.6, 1.4, 40))
    }
    for _ in range(10):
        names = rng.permutation(list(pieces))
        lays = [Lay("lay", "knit", 4000.0, 1, tuple(Placed(str(one), Pose(0.0, 0.0, 0.0)) for one in order))
                for order in (names, names[::-1])]
        one, other = (lay_bound(lay, roll(), pieces, Settings(), density) for lay in lays)
        assert one == other
