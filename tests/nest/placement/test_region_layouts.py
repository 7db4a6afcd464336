"""The fullest region: every layout judged by shapely, rules of ground, direction, pairs and limits kept."""

from collections import Counter

import pytest
import shapely
from layout_judge import closest, cores, counts, headings_allowed, outlines, overlapping, sticks_out
from tiny_problems import (
    ELL,
    HALF_TURN,
    NEEDLE,
    QUARTERS,
    SLAT,
    SQUARE,
    TRIANGLE,
    filled,
    holed_sheet,
    kind,
    left_and_right,
    passes,
)

from geometry.polygon import area
from geometry.precision import as_ring
from nest.placement.budget import Budget
from nest.placement.problem import Ground, RegionProblem
from nest.placement.solve import solve_region

MANY = 1000

MIXED = (kind("ell", ELL, MANY, QUARTERS), kind("slat", SLAT, 3, (10.0, 100.0)), kind("square", SQUARE, 4))
PROBLEMS = {
    "mixed": filled(MIXED, holed_sheet()),
    "mixed, gap 4": filled(MIXED, holed_sheet(), 4.0),
    "needles, gap 2": filled((kind("needle", NEEDLE, MANY, (0.0, 170.0, 180.0)),), shapely.box(0, 0, 200, 100), 2.0),
    "two islands": filled(
        MIXED, shapely.MultiPolygon([shapely.box(0, 0, 150, 90), shapely.Point(300, 100).buffer(80)])
    ),
    "pairs": filled(left_and_right(MANY), holed_sheet()),
}


def family_counts(items, kinds, level=lambda kind, pose: 0) -> Counter:
    """Items of each (family, level, side)."""
    return Counter((kinds[i.kind].family, level(i.kind, i.pose), kinds[i.kind].side) for i in items)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", PROBLEMS)
def test_every_layout_is_sound(name, seed):
    """Every layout handed over: on its ground, apart by the gap, at allowed headings, within limits."""
    problem = PROBLEMS[name]
    layouts = solve_region(problem, passes(400), seed=seed)
    assert len(layouts[0].items) > 4
    for layout in layouts:
        shapes = outlines(layout.items, problem.kinds)
        assert overlapping(shapes) == []
        assert closest(shapes) >= problem.gap_mm - 0.01
        assert headings_allowed(layout, problem.kinds)
        assert all(n <= k.limit for n, k in zip(counts(layout, problem.kinds), problem.kinds, strict=True))
        grounds = [problem.grounds[item.kind].outline for item in layout.items]
        assert not any(sticks_out(shape, ground) for shape, ground in zip(shapes, grounds, strict=True))


def test_layouts_come_best_first():
    """Most area first."""
    problem = PROBLEMS["mixed"]
    areas = [sum(s.area for s in outlines(x.items, problem.kinds)) for x in solve_region(problem, passes(40), seed=4)]
    assert areas == sorted(areas, reverse=True)


@pytest.mark.parametrize("name", ["mixed", "pairs"])
def test_same_seed_and_passes_give_the_same_layouts(name):
    """Bit for bit, in threads that run as they like, on one or two of them."""
    first, second = (solve_region(PROBLEMS[name], passes(60), seed=5, workers=workers) for workers in (1, 2))
    assert first == second


def test_squares_fill_a_sheet_with_room_to_spare():
    """A sheet that is 6.2 by 4.2 squares takes 24 of them."""
    problem = filled((kind("square", SQUARE, MANY),), shapely.box(0, 0, 310, 210))
    assert len(solve_region(problem, passes(500), seed=1)[0].items) == 24


def test_two_triangles_make_a_rectangle():
    """Half turns let a rectangle hardly larger than its two triangles take both."""
    problem = filled((kind("triangle", TRIANGLE, MANY, HALF_TURN),), shapely.box(0, 0, 61, 41))
    best = solve_region(problem, passes(500), seed=1)[0]
    assert sorted(item.pose.heading_deg for item in best.items) == [0.0, 180.0]


def test_limits_are_reached_and_respected():
    """Of a kind with little demand no more is placed than wanted, however much room there is, and no less."""
    kinds = (kind("square", SQUARE, 3), kind("ell", ELL, 2, QUARTERS), kind("slat", SLAT, 0))
    best = solve_region(filled(kinds, shapely.box(0, 0, 400, 300)), passes(200), seed=1)[0]
    assert counts(best, kinds) == [3, 2, 0]


def test_a_region_smaller_than_the_piece_stays_empty():
    """No place, no item; no error."""
    problem = filled((kind("square", SQUARE, MANY),), shapely.box(0, 0, 49, 300))
    assert [layout.items for layout in solve_region(problem, passes(20), seed=1)] == [()]


def test_core_ground_of_nothing_leaves_the_region_empty():
    """Outline ground alone is not enough."""
    problem = filled((kind("square", SQUARE, 5),), shapely.box(0, 0, 300, 300), core_ground=shapely.Polygon())
    assert all(layout.items == () for layout in solve_region(problem, passes(20), seed=1))


def test_a_small_good_spot_is_used():
    """Cores may lie on a spot with room for two squares only: two are found, though most ground is out of reach."""
    spot = shapely.box(0, 0, 110, 60)
    problem = filled((kind("square", SQUARE, MANY),), shapely.box(0, 0, 320, 220), core_ground=spot)
    assert len(solve_region(problem, passes(3000), seed=1)[0].items) == 2


def test_cores_keep_to_the_ground_of_their_heading():
    """One half allows heading 0, the other a quarter turn; outlines may reach over, cores may not."""
    core = as_ring([(10, 10), (50, 10), (50, 18), (18, 18), (18, 50), (10, 50)])
    west, east = shapely.box(0, 0, 150, 200), shapely.box(150, 0, 300, 200)
    grounds = (Ground(shapely.box(0, 0, 300, 200), (west, east)),)
    kinds = (kind("ell", ELL, MANY, (0.0, 90.0), core),)
    over = 0
    for layout in solve_region(RegionProblem(kinds, grounds), passes(300), seed=3):
        headings = Counter(item.pose.heading_deg for item in layout.items)
        assert headings[0.0] > 3
        assert headings[90.0] > 3
        for item, outline, inner in zip(
            layout.items, outlines(layout.items, kinds), cores(layout.items, kinds), strict=True
        ):
            ground = west if item.pose.heading_deg == 0.0 else east
            assert not sticks_out(inner, ground)
            over += sticks_out(outline, ground)
    assert over > 0


def test_left_and_right_come_in_equal_numbers():
    """As many of one side as of the other, in every layout."""
    problem = PROBLEMS["pairs"]
    for layout in solve_region(problem, passes(100), seed=2):
        found = family_counts(layout.items, problem.kinds)
        assert found["pair", 0, -1] == found["pair", 0, 1] > 3


def test_pieces_that_are_their_own_partner_come_in_even_numbers():
    """Room for nine squares: eight are kept, and none where there is room for one."""
    kinds = (kind("square", SQUARE, MANY, family="even"),)
    assert len(solve_region(filled(kinds, shapely.box(0, 0, 155, 155)), passes(300), seed=1)[0].items) == 8
    assert solve_region(filled(kinds, shapely.box(0, 0, 60, 60)), passes(50), seed=1)[0].items == ()


def test_two_families_are_complete_each():
    """Sizes of a run are families of their own."""
    small = as_ring(0.9 * ELL)
    kinds = (
        *left_and_right(MANY, family="41"),
        kind("40 left", small, MANY, HALF_TURN, family="40", side=-1),
        kind("40 right", as_ring(small * (1.0, -1.0)), MANY, HALF_TURN, family="40", side=1),
    )
    for layout in solve_region(filled(kinds, holed_sheet()), passes(100), seed=1):
        found = family_counts(layout.items, kinds)
        assert len(layout.items) > 6
        for family in ("40", "41"):
            assert found[family, 0, -1] == found[family, 0, 1]


def test_families_are_complete_at_every_level():
    """Each half of the sheet is a level: partners lie in the same half."""
    def half(k, pose):
        return int(pose.x > 80.0)

    kinds = (kind("square", SQUARE, MANY, family="even"),)
    ground = shapely.box(0, 0, 160, 110).union(shapely.box(160, 0, 215, 60))
    for layout in solve_region(filled(kinds, ground, level=half), passes(300), seed=1):
        found = family_counts(layout.items, kinds, half)
        assert len(layout.items) >= 4
        assert all(n % 2 == 0 for n in found.values())


def test_the_figure_told_is_the_share_of_the_ground():
    """The listener hears the number of items and their area as a share of the ground, time running forwards."""
    heard = []
    problem = PROBLEMS["mixed"]
    best = solve_region(problem, passes(60), seed=1, listener=heard.append)[0]
    assert heard
    covered = sum(area(problem.kinds[item.kind].outline) for item in best.items)
    assert heard[-1].placed == len(best.items)
    assert heard[-1].figure == pytest.approx(covered / holed_sheet().area, rel=1e-9)
    assert [p.seconds for p in heard] == sorted(p.seconds for p in heard)


@pytest.mark.parametrize("few", [1, 2, 5])
@pytest.mark.parametrize("name", ["mixed, gap 4", "two islands", "pairs"])
def test_few_passes_lay_items_down_one_by_one(name, few):
    """One pass is enough for a sound layout that is no less than three fifths of what four hundred come to."""
    problem = PROBLEMS[name]
    layout = solve_region(problem, passes(few), seed=1)[0]
    shapes = outlines(layout.items, problem.kinds)
    assert overlapping(shapes) == [] and closest(shapes) >= problem.gap_mm - 0.01
    assert all(n <= k.limit for n, k in zip(counts(layout, problem.kinds), problem.kinds, strict=True))
    longer = solve_region(problem, passes(400), seed=1)[0]
    covered, most = (sum(area(problem.kinds[i.kind].outline) for i in one.items) for one in (layout, longer))
    assert covered >= 0.6 * most
    assert solve_region(problem, passes(few), seed=1)[0] == layout


def test_stopped_before_anything_was_found_items_are_laid_down():
    """A solve that is cancelled at once still hands over a layout."""
    layout = solve_region(PROBLEMS["pairs"], Budget(passes=1000, cancelled=lambda: True), seed=1)[0]
    assert layout.items and overlapping(outlines(layout.items, PROBLEMS["pairs"].kinds)) == []


def test_a_starved_search_lays_items_down_too():
    """Where the time is over at once, what is handed over comes near what one pass would have found."""
    problem = PROBLEMS["two islands"]
    starved = solve_region(problem, Budget(seconds=1e-3), seed=1)[0]
    least = solve_region(problem, passes(1), seed=1)[0]
    covered, most = (sum(area(problem.kinds[i.kind].outline) for i in one.items) for one in (starved, least))
    assert covered >= 0.75 * most and overlapping(outlines(starved.items, problem.kinds)) == []
