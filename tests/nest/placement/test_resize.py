"""Sizes and places chosen at once: known optima, limits, families, and never a layout that is not sound."""

import time
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layout_judge import outlines, overlapping, sticks_out
from tiny_problems import ELL, HALF_TURN, SQUARE, filled, kind, passes

from geometry.nofit import no_fit_polygon
from geometry.pose import Pose
from geometry.precision import as_ring
from nest.placement import solve
from nest.placement.budget import Budget
from nest.placement.choose import replacements
from nest.placement.parameters import REGIONS
from nest.placement.problem import Item
from nest.placement.resize import lines_off, resized, sizes_beside

SMALL, LARGE = kind("small", SQUARE, 9), kind("large", as_ring(1.01 * SQUARE), 9)
ROW = [Item(0, Pose(x, 0.2, 0.0)) for x in (0.4, 51.0, 101.0)]
"""Three squares of 50 mm with 1.6 mm of room between them, where each larger one needs half a millimetre."""


def find(problem, items, seconds=20.0):
    """The items resized, nobody stopping it."""
    return resized(problem, items, replacements(problem.kinds), lambda: seconds)


def kinds_of(items):
    """How many items of each kind there are."""
    return np.bincount([item.kind for item in items], minlength=2).tolist()


@pytest.mark.parametrize(("width", "larger"), [(151.51, 3), (151.4, 2), (150.4, 0)])
def test_scattered_room_is_gathered(width, larger):
    """Three squares of 50 or 50.5 mm in a row: as many are the larger ones as a row of this width holds."""
    start = [Item(0, Pose(width / 3 * q + 0.05, 0.1, 0.0)) for q in range(3)]
    problem = filled((SMALL, LARGE), shapely.box(0, 0, width, 50.6))
    found = find(problem, start)
    assert kinds_of(found) == [3 - larger, larger]
    assert overlapping(outlines(found, problem.kinds)) == []
    assert not any(sticks_out(shape, shapely.box(0, 0, width, 50.6)) for shape in outlines(found, problem.kinds))


def test_limits_hold():
    """Of two larger squares no third is made, though there is room."""
    problem = filled((SMALL, replace(LARGE, limit=2)), shapely.box(0, 0, 153, 51))
    assert kinds_of(find(problem, ROW)) == [1, 2]


def test_the_gap_is_kept():
    """Two gaps of 0.5 mm leave room for one larger square, none of them at 0.8 mm."""
    for gap, larger in ((0.5, 1), (0.8, 0)):
        sheet = shapely.box(0, 0, 151.55, 50.6)
        start = [Item(0, Pose((50.0 + gap) * q, 0.1, 0.0)) for q in range(3)]
        problem = filled((SMALL, LARGE), sheet, gap)
        found = find(problem, start)
        assert kinds_of(found) == [3 - larger, larger]
        shapes = outlines(found, problem.kinds)
        assert min(shapes[0].distance(shapes[1]), shapes[1].distance(shapes[2])) >= gap - 1e-3


@pytest.mark.parametrize(("roomy", "larger"), [((True, True), 2), ((True, False), 0)])
def test_families_stay_complete(roomy, larger):
    """A left and a right piece, each in a yard of its own, grow together or not at all."""
    kinds = tuple(
        replace(one, family=one.name, side=side) for side in (-1, 1) for one in (SMALL, LARGE)
    )
    yards = [shapely.box(x, 0, x + (51 if wide else 50.2), 51) for x, wide in zip((0.0, 100.0), roomy, strict=True)]
    problem = filled(kinds, shapely.MultiPolygon(yards))
    found = find(problem, [Item(0, Pose(0.1, 0.1, 0.0)), Item(2, Pose(100.1, 0.1, 0.0))])
    assert sum(kinds[item.kind].outline is LARGE.outline for item in found) == larger
    assert sorted(kinds[item.kind].side for item in found) == [-1, 1]


def test_two_of_one_outline_grow_in_twos_level_by_level():
    """Of three with room two grow; where two of the levels have one each of them, none does."""
    kinds = tuple(replace(one, family=one.name) for one in (SMALL, LARGE))
    items = [Item(0, Pose(100.0 * q, 0.1, 0.0)) for q in range(4)]
    yards = shapely.MultiPolygon([shapely.box(100 * q - 0.3, 0, 100 * q + (50.4 if q else 50.1), 51) for q in range(4)])
    problem = filled(kinds, yards)
    assert kinds_of(find(problem, items)) == [2, 2]
    by_level = replace(problem, level=lambda kind, pose: int(pose.x > 150.0))
    assert kinds_of(find(by_level, items)) == [2, 2]
    apart = replace(problem, level=lambda kind, pose: int(pose.x > 50.0) + int(pose.x > 150.0) + int(pose.x > 250.0))
    assert kinds_of(find(apart, items)) == [4, 0]


def test_sizes_beside_are_the_next_ones():
    """Of five graded squares each has its neighbours by size; a shape that fits neither way is none."""
    kinds = [kind(f"{q}", as_ring((1.0 + 0.1 * q) * SQUARE), 9) for q in (2, 0, 4, 1, 3)]
    kinds.append(kind("ell", as_ring(2.0 * ELL), 9))
    beside = sizes_beside(kinds, replacements(kinds))
    names = {kinds[k].name: [kinds[c].name for c in others] for k, others in beside.items()}
    assert names["0"] == ["1"] and names["1"] == ["0", "2"] and names["3"] == ["2", "4"]
    assert all("ell" not in others for name, others in names.items() if name != "4")


@settings(max_examples=60, deadline=None)
@given(st.floats(-70, 70), st.floats(-70, 70), st.floats(0.5, 8.0))
def test_lines_keep_off_from_within_too(x, y, reach):
    """No place within reach that all lines allow lies in the no-fit polygon; without lines none near by is free."""
    no_fit = no_fit_polygon(ELL, as_ring(0.6 * ELL))
    place = np.array((x, y))
    rng = np.random.default_rng(1)
    spots = place + rng.uniform(-reach, reach, (400, 2))
    lines = lines_off(no_fit, place, reach)
    clear = shapely.distance(shapely.boundary(no_fit), shapely.points(spots)) > 1e-6
    free = ~shapely.contains_xy(no_fit, *spots.T) & clear
    if lines is None:
        near = np.abs(spots - place).max(axis=1) < 0.5 * reach
        assert shapely.contains_xy(no_fit, x, y) and not (free & near).any()
        return
    allowed = np.all([spots @ line[:2] >= line[2] for line in lines], axis=0) if lines else np.ones(400, bool)
    assert not (allowed & shapely.contains_xy(no_fit, *spots.T) & clear).any()


def test_what_is_stopped_stays_as_it_is():
    """Asked to stop, or without time, the items come back."""
    problem = filled((SMALL, LARGE), shapely.box(0, 0, 153, 51))
    table = replacements(problem.kinds)
    assert resized(problem, ROW, table, lambda: 20.0, lambda: True) == tuple(ROW)
    assert resized(problem, ROW, table, lambda: 0.0) == tuple(ROW)
    seconds = iter((20.0, 0.0, 0.0, 0.0))
    assert resized(problem, ROW, table, lambda: next(seconds)) == tuple(ROW), "no time for all lines"


@pytest.mark.parametrize("gap_mm", [0.0, 1.0])
def test_found_layouts_resized_are_sound_and_never_smaller(gap_mm):
    """Ells of three sizes on a sheet with a hole, as the search leaves them and after; with room they grow."""
    kinds = tuple(kind(f"{q}", as_ring((1.0 + 0.012 * q) * ELL), 99, HALF_TURN) for q in range(3))
    sheet = shapely.box(0, 0, 260, 170).difference(shapely.box(120, 70, 150, 100))
    problem = filled(kinds, sheet, gap_mm)
    starts = [solve.solve_region(problem, passes(150), seed=seed)[0].items for seed in range(2)]
    # The largest as they were found to lie, then each as the smallest: there is room for all to grow again.
    found = solve.solve_region(filled(kinds[2:], sheet, gap_mm), passes(50), seed=2)[0].items
    roomy = [Item(0, item.pose) for item in found]
    for before in (*starts, roomy):
        after = find(problem, before, 5.0)
        shapes = outlines(after, kinds)
        assert len(after) == len(before) > 0 and overlapping(shapes) == []
        assert not any(sticks_out(shape, sheet) for shape in shapes)
        gain = sum(shape.area for shape in shapes) - sum(shape.area for shape in outlines(before, kinds))
        assert gain >= (100.0 if before is roomy else -1e-6)


def test_a_timed_search_resizes_at_the_end():
    """With no time but for resizing, a start is resized; families stay complete and all is sound."""
    asked = []

    def noting(problem, items, *rest):
        asked.append(len(items))
        return resized(problem, items, *rest)

    solve.warm_up()
    kinds = tuple(
        kind(f"{side}{q}", as_ring((1.0 + 0.012 * q) * ELL), 99, HALF_TURN, family=str(q), side=side)
        for side in (-1, 1) for q in range(3)
    )
    sheet, left_half = shapely.box(0, 0, 260, 170), shapely.box(0, 0, 130, 170)
    inside = []

    def level(kind, pose):
        inside.append(1)
        time.sleep(1e-5)
        assert len(inside) == 1, "asked by two threads at once"
        inside.pop()
        return int(not left_half.covers(shapely.Polygon(pose.apply(kinds[kind].outline))))

    how = replace(REGIONS, resize_seconds=0.0, resize=noting)
    layouts = solve.solve_region(filled(kinds, sheet, level=level), Budget(seconds=3.0), seed=1, how=how)
    assert len(asked) == 2 and min(asked) > 4
    for layout in layouts:
        assert overlapping(outlines(layout.items, kinds)) == []
        for q in range(3):
            mine = [item for item in layout.items if kinds[item.kind].family == str(q)]
            for at in (0, 1):
                assert sum(kinds[item.kind].side for item in mine if level(item.kind, item.pose) == at) == 0
