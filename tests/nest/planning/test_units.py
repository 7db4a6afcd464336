"""Wants, units and recasts: what is cut together, what comes back from the engine, what may be cut smaller."""

import pytest
import shapely
from box_jobs import ROWS, hide, job, style, zone
from shapely.geometry import box

from geometry.pose import Pose
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot
from nest.pieces.quantities import RejectPairs, cut_quantities
from nest.placement.budget import Budget
from nest.placement.problem import Item
from nest.planning.offer import make_offer, see_hide, units_of
from nest.planning.wants import Recasts, Unit, solved_core, vamp_wants
from nest.rules import Rules


def wants_of(one, sizes=("38",), pairs=3):
    """Wants of one style, the same pairs of each size."""
    asked = job(styles=[one], order=[(one.name, size, pairs) for size in sizes])
    pieces, _ = make_pieces(one, sizes)
    return vamp_wants(cut_quantities(asked.order, asked.styles, RejectPairs.BY_SIZE), pieces, {one.name: one.rules})


def test_a_pair_is_one_unit_where_it_shares_a_hide():
    """Three pairs: three units of a left and a right, or of two that serve both feet."""
    (lean,), (even,) = wants_of(style(lean=20.0)), wants_of(style())
    assert [piece.foot for piece in lean.pieces] == [Foot.LEFT, Foot.RIGHT]
    assert [piece.foot for piece in even.pieces] == [Foot.EITHER, Foot.EITHER]
    assert (lean.count, even.count) == (3, 3)
    assert even.area_mm2 == pytest.approx(2 * shapely.Polygon(even.pieces[0].cut_outline).area)


def test_single_pieces_are_units_where_pairs_may_part():
    """Three pairs: three left and three right units, or six that serve both feet."""
    loose = Rules(pairs_from_one_hide=False)
    assert [want.count for want in wants_of(style(lean=20.0, rules=loose))] == [3, 3]
    assert [want.count for want in wants_of(style(rules=loose))] == [6]


def test_rejects_are_cut_too():
    """Nine pairs at 10 % rejects are ten units."""
    (want,) = wants_of(style(reject_percent=10.0), pairs=9)
    assert want.count == 10


def test_the_solvers_core_is_never_smaller_than_the_net_outline():
    """Fewer corners, but all of the net area, within the cut outline."""
    (want,) = wants_of(style(lean=20.0))
    for piece in want.pieces:
        core = shapely.Polygon(solved_core(piece))
        assert core.covers(shapely.Polygon(piece.net_outline))
        assert shapely.Polygon(piece.cut_outline).covers(core)


def test_offer_names_families_sides_and_limits():
    """A left and a right kind of one family with the limit of units each; one kind with twice as many for either."""
    (lean,), (even,) = wants_of(style(lean=20.0)), wants_of(style())
    for want, sides, limits in ((lean, [-1, 1], [2, 2]), (even, [0], [4])):
        settings = job().settings
        seen = see_hide(hide(), [want], settings, one_way=False)
        kinds = make_offer(seen, [want], {0: 2}, 1.0).problem.kinds
        assert [kind.side for kind in kinds] == sides
        assert [kind.limit for kind in kinds] == limits
        assert len({kind.family for kind in kinds}) == 1 and kinds[0].family


def test_only_whole_pairs_of_one_class_come_back():
    """A left on class 1 and a right on class 2 are no unit when pairs must share a class; two on class 1 are."""
    (want,) = wants_of(style(lean=20.0, rules=Rules(net_quality=2)))
    side = hide(zones=(zone("a", box(0, 0, 500, 500), 1), zone("b", box(500, 0, 1000, 500), 2)))
    seen = see_hide(side, [want], job().settings, one_way=False)
    offer = make_offer(seen, [want], {0: 3}, 1.0)
    left, right = Item(0, Pose(150.0, 100.0, 0.0)), Item(1, Pose(150.0, 300.0, 0.0))
    other = Item(1, Pose(750.0, 300.0, 0.0))
    assert units_of([left, other], offer, seen, [want]) == ()
    assert units_of([left, right, other], offer, seen, [want]) == (Unit(0, (left.pose, right.pose)),)


def test_part_of_a_hide_may_be_offered():
    """Within a box, nothing is placed outside it."""
    (want,) = wants_of(style())
    seen = see_hide(hide(), [want], job().settings, one_way=False)
    part = box(0, 0, 500, 500)
    offer = make_offer(seen, [want], {0: 9}, 1.0, part)
    (layout,) = ROWS.solve_region(offer.problem, Budget(passes=1), seed=1)
    assert layout.items
    for item in layout.items:
        assert part.covers(shapely.Polygon(item.pose.apply(offer.problem.kinds[item.kind].outline)))


def test_a_unit_may_be_cut_as_a_smaller_size_in_its_place():
    """A pair of size 40 may be cut as 39 or 38, never the other way, and lies within its old outlines."""
    wants = wants_of(style(lean=20.0), ("38", "39", "40"))
    recasts = Recasts(wants)
    assert recasts.possible(2) == (2, 0, 1)
    assert recasts.possible(0) == (0,)
    unit = Unit(2, (Pose(300.0, 200.0, 10.0), Pose(300.0, 400.0, 170.0)))
    small = recasts.recast(unit, 0)
    assert small.want == 0
    for old, new, before, after in zip(wants[2].pieces, wants[0].pieces, unit.poses, small.poses, strict=True):
        assert old.foot is new.foot
        for whole, part in ((old.cut_outline, new.cut_outline), (old.net_outline, new.net_outline)):
            outer = shapely.Polygon(before.apply(whole)).buffer(1e-3)
            assert outer.covers(shapely.Polygon(after.apply(part)))


def test_styles_are_never_recast_into_each_other():
    """However large, a vamp of one style is not cut as one of another."""
    wants = (*wants_of(style("large")), *wants_of(style("small"), ("35",)))
    assert Recasts(wants).possible(0) == (0,)
