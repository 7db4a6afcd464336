"""The gate: planted faults are found, and only those."""

import numpy as np
import pytest
import shapely
from tiny_problems import ELL, SQUARE, TRIANGLE, kind

from geometry.pose import Pose
from geometry.precision import OVERLAP_DEPTH_MM, as_ring
from nest.placement.gate import faults, polygons_of, sound
from nest.placement.problem import Ground, Item

KINDS = (kind("square", SQUARE, 99, (0.0, 90.0)), kind("ell", ELL, 99, (0.0, 90.0)), kind("triangle", TRIANGLE, 99))


def grid_of_items(seed: int, apart: float = 60.0) -> list[Item]:
    """Twenty items of all kinds on a grid wide enough that none touch, headings 0."""
    rng = np.random.default_rng(seed)
    return [Item(int(rng.integers(3)), Pose(apart * (n % 5), apart * (n // 5), 0.0)) for n in range(20)]


def moved(item: Item, dx: float, dy: float) -> Item:
    """The item displaced."""
    return Item(item.kind, Pose(item.pose.x + dx, item.pose.y + dy, item.pose.heading_deg))


def gate(items, gap: float = 0.0, grounds=None) -> list[int]:
    """Faults at the usual tolerance."""
    return faults(items, KINDS, gap, grounds, OVERLAP_DEPTH_MM)


@pytest.mark.parametrize("seed", range(5))
def test_touching_items_pass(seed):
    """A grid of items that touch at most passes whole, and unchanged."""
    items = grid_of_items(seed)
    assert gate(items) == []
    assert sound(items, KINDS, 0.0) == tuple(items)


@pytest.mark.parametrize("depth", [0.01, 0.5, 20.0])
@pytest.mark.parametrize("at", range(1, 20, 3))
def test_a_planted_overlap_is_found(at, depth):
    """One item pushed into its left neighbour: the later of the two is named, the rest passes."""
    items = [Item(0, Pose(50.0 * (n % 5), 60.0 * (n // 5), 90.0 * (n % 2))) for n in range(20)]
    items = [moved(item, 50.0 * (item.pose.heading_deg == 90.0), 0.0) for item in items]
    assert gate(items) == []
    if at % 5:
        items[at:at // 5 * 5 + 5] = [moved(item, -depth, 0.0) for item in items[at:at // 5 * 5 + 5]]
        assert gate(items) == [at]
    else:
        items[at] = moved(items[at], 0.0, -10.0 - depth)
        assert gate(items) == [at]
    assert len(sound(items, KINDS, 0.0)) == 19


def test_touching_by_rounding_is_no_overlap():
    """Depths below the tolerance are contacts."""
    items = [Item(0, Pose(0.0, 0.0, 0.0)), Item(0, Pose(50.0 - 0.5 * OVERLAP_DEPTH_MM, 0.0, 0.0))]
    assert gate(items) == []


@pytest.mark.parametrize("ring", [SQUARE, 0.5 * SQUARE + 10.0], ids=["the same place", "inside"])
def test_an_item_upon_another_is_found(ring):
    """Nothing crosses, all is covered."""
    kinds = (kind("square", SQUARE, 9), kind("other", as_ring(ring), 9))
    items = [Item(0, Pose(5.0, 5.0, 0.0)), Item(1, Pose(5.0, 5.0, 0.0))]
    assert faults(items, kinds, 0.0, None, OVERLAP_DEPTH_MM) == [1]
    assert faults(items[::-1], kinds, 0.0, None, OVERLAP_DEPTH_MM) == [1]


def test_a_hollow_may_hold_another_item():
    """In the corner of an L, bounding boxes overlap and outlines do not; a hundredth deeper they do."""
    items = [Item(1, Pose(0.0, 0.0, 0.0)), Item(2, Pose(20.0, 20.0, 0.0))]
    assert gate(items) == []
    assert gate([items[0], moved(items[1], -0.01, 0.0)]) == [1]


@pytest.mark.parametrize("apart, bad", [(2.99, [1]), (3.0, []), (3.5, []), (0.0, [1]), (-1.0, [1])])
def test_the_gap_is_held(apart, bad):
    """Nearer than the gap is a fault, the gap itself is not."""
    items = [Item(0, Pose(0.0, 0.0, 0.0)), Item(0, Pose(50.0 + apart, 0.0, 0.0))]
    assert gate(items, gap=3.0) == bad


def test_outlines_off_their_ground_are_found():
    """Over the edge, over a hole, off altogether; touching the edge is fine."""
    sheet = shapely.box(0, 0, 300, 60).difference(shapely.box(200, 20, 210, 30))
    grounds = [Ground(sheet, (sheet, sheet)), Ground(sheet, (sheet, sheet)), Ground(sheet, (sheet,))]
    good = [Item(0, Pose(0.0, 10.0, 0.0)), Item(0, Pose(110.0, 0.0, 90.0)), Item(0, Pose(210.0, 0.0, 0.0))]
    assert gate(good, grounds=grounds) == []
    bad = [Item(0, Pose(-0.01, 0.0, 0.0)), Item(0, Pose(60.0, 10.01, 0.0)), Item(0, Pose(150.02, 5.0, 0.0)),
           Item(1, Pose(900.0, 0.0, 0.0))]
    for item in bad:
        assert gate([item], grounds=grounds) == [0]


def test_cores_off_the_ground_of_their_heading_are_found():
    """The outline may lie there, and the core at the other heading, but not this one."""
    core = as_ring([(10, 10), (40, 10), (40, 40), (10, 40)])
    kinds = (kind("square", SQUARE, 9, (0.0, 90.0), core),)
    sheet, west, east = shapely.box(0, 0, 200, 50), shapely.box(0, 0, 100, 50), shapely.box(100, 0, 200, 50)
    grounds = [Ground(sheet, (west, east))]

    def at(x: float, heading: float) -> list[int]:
        place = Pose(x + 50.0 * (heading == 90.0), 0.0, heading)
        return faults([Item(0, place)], kinds, 0.0, grounds, OVERLAP_DEPTH_MM)

    assert at(60.0, 0.0) == []
    assert at(60.01, 0.0) == [0]
    assert at(60.0, 90.0) == [0]
    assert at(90.0, 90.0) == []
    assert at(89.99, 90.0) == [0]


def test_no_items_no_faults():
    """An empty layout passes."""
    assert gate([]) == []
    assert sound([], KINDS, 0.0) == ()


def test_polygons_lie_as_their_items():
    """The outlines judged are those of the poses: a quarter turn about the origin, then the move."""
    (shape,) = polygons_of([Item(2, Pose(100.0, 10.0, 90.0))], KINDS)
    assert shape.equals(shapely.Polygon([(100, 10), (100, 70), (60, 10)]))
