"""Tables kept between solves: right for every pair and its mirror image, held within their room, shared by threads."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.nofit import no_fit_polygon
from geometry.overlap import depth_inside
from geometry.pose import mirror, rotate
from geometry.precision import as_ring
from geometry.tables import build_table, join_tables
from geometry.tablestack import TableStack, bytes_of
from nest.placement import tablestore
from nest.placement.tablestore import TURNS, TableStore

EXACT = 1e-6
"""No-fit polygons lie on a grid of about this, mm."""

WEDGE = as_ring([(0.0, -20.0), (90.0, -30.0), (100.0, 10.0), (40.0, 35.0), (0.0, 30.0)])
BOAT = as_ring([(-50.0, -20.0), (50.0, -30.0), (80.0, 0.0), (50.0, 30.0), (-50.0, 20.0)])  # its own mirror image
RINGS = [WEDGE, mirror(WEDGE), BOAT, 0.8 * WEDGE, mirror(0.8 * WEDGE)]


def no_fit(store, rings, wanted):
    """Tables, and where that of each fixed ring, moving ring and turn is."""
    tables, codes = store.no_fit(rings, [(i, j, np.array([turn], np.int64)) for i, j, turn in wanted])
    return tables, np.concatenate(codes)


def depths(tables, code, points):
    """Depths of points within the no-fit polygon that a code stands for."""
    sign = -1.0 if code & 1 else 1.0
    return np.array([depth_inside(tables, code >> 1, x, sign * y) for x, y in points])


@given(st.integers(0, 4), st.integers(0, 4), st.integers(0, TURNS - 1), st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_every_pair_has_the_depths_of_its_own_no_fit_polygon(i, j, turn, seed):
    """By shapely, whether the table is its own or that of its mirror image."""
    store = STORE
    tables, (code,) = no_fit(store, RINGS, [(i, j, turn)])
    polygon = no_fit_polygon(RINGS[i], as_ring(rotate(RINGS[j], turn * 360.0 / TURNS)))
    x0, y0, x1, y1 = polygon.bounds
    points = np.random.default_rng(seed).uniform((x0, y0), (x1, y1), (40, 2))
    at = shapely.points(points)
    truth = np.where(shapely.contains(polygon, at), shapely.distance(polygon.boundary, at), 0.0)
    np.testing.assert_allclose(depths(tables, int(code), points), truth, atol=EXACT)


STORE = TableStore()


def test_images_share_a_table():
    """Left beside left and right beside right, turned the other way; of what is its own image, both ways of turning."""
    turn = TURNS // 72
    _, codes = no_fit(TableStore(), RINGS, [(0, 3, turn), (1, 4, TURNS - turn), (0, 4, turn), (1, 3, TURNS - turn),
                                           (2, 2, turn), (2, 2, TURNS - turn), (0, 2, turn), (1, 2, TURNS - turn)])
    at, image = codes >> 1, codes & 1
    assert len(set(at.tolist())) == 4
    assert all(at[q] == at[q + 1] and image[q] != image[q + 1] for q in range(0, 8, 2))


def test_a_small_store_holds_no_more_than_its_room_and_answers_the_same():
    """What is dropped is made again; models keep the stack they read."""
    turns = [TURNS // 360 * q for q in range(24)]
    small, large = TableStore(most_bytes=120_000), TableStore()
    points = np.random.default_rng(1).uniform(-80.0, 80.0, (30, 2))
    first, codes = no_fit(small, RINGS[:1], [(0, 0, turns[0])])
    before = depths(first, int(codes[0]), points)
    for turn in turns:
        asked = [(0, 2, turn), (0, 0, turn)]
        (mine, mine_at), (other, other_at) = no_fit(small, RINGS, asked), no_fit(large, RINGS, asked)
        for a, b in zip(mine_at, other_at, strict=True):
            np.testing.assert_array_equal(depths(mine, int(a), points), depths(other, int(b), points))
        assert small.held_bytes <= 120_000
    np.testing.assert_array_equal(depths(first, int(codes[0]), points), before)
    many = [(0, 2, turn) for turn in turns]
    tables, codes = no_fit(small, RINGS, many)  # alone they need more than the room: they get it
    assert len(set(codes.tolist())) == len(many) and len(tables.frame) >= len(many)


def test_a_store_gives_its_memory_back_and_answers_the_same():
    """It holds neither pairs nor grounds any more; tables that somebody still reads stay as they were."""
    store, wanted = TableStore(), [(0, 3, TURNS // 7), (2, 1, TURNS // 5)]
    tables, codes = no_fit(store, RINGS, wanted)
    ground = (b"outer", b"inner", b"outline", b"core", 0.0)
    made = []

    def make():
        made.append(build_table([WEDGE], cells=8))
        return made[-1]

    assert store.ground(ground, make) is store.ground(ground, make) is made[0] and store.held_bytes > 0
    store.release()
    assert store.held_bytes == 0 and store.ground(ground, make) is made[1]
    points = np.random.default_rng(3).uniform(-100.0, 100.0, (200, 2))
    again, later = no_fit(store, RINGS, wanted)
    for before, after in zip(codes, later, strict=True):
        old = depths(tables, int(before), points)
        assert old.any() and old.tolist() == depths(again, int(after), points).tolist()


def test_what_is_being_asked_for_is_not_given_back(monkeypatch):
    """If memory is given back while tables are being made, whoever asked for them still gets all of them."""
    store, build = TableStore(), tablestore.build_table

    def building(rings, **options):
        store.release()
        return build(rings, **options)

    monkeypatch.setattr(tablestore, "build_table", building)
    _, codes = no_fit(store, RINGS, [(i, j, TURNS // 9) for i in range(5) for j in range(5)])
    assert len(codes) == 25 and store.held_bytes > 0


def test_threads_that_ask_at_once_get_what_they_asked_for():
    """Though there is room for less than they ask for together."""
    store, truth = TableStore(most_bytes=150_000), TableStore()
    points = np.random.default_rng(2).uniform(-80.0, 80.0, (10, 2))

    def ask(who: int):
        asked = [(who % 5, (who + q) % 5, TURNS // 90 * (q + who)) for q in range(6)]
        (mine, at), (other, other_at) = no_fit(store, RINGS, asked), no_fit(truth, RINGS, asked)
        return all(np.array_equal(depths(mine, int(a), points), depths(other, int(b), points))
                   for a, b in zip(at, other_at, strict=True))

    with ThreadPoolExecutor(6) as pool:
        assert all(pool.map(ask, range(30)))


def test_a_stack_answers_as_joined_tables_do():
    """Table by table it gives back what was laid in it; what does not fit is not taken."""
    made = [build_table(no_fit_polygon(WEDGE, as_ring(rotate(BOAT, q))), cells=9) for q in (0.0, 10.0, 77.0)]
    made.append(build_table(shapely.Polygon(BOAT), cells=7, outside=True))
    stack = TableStack(sum(map(bytes_of, made)) + 10)
    for at, table in enumerate(made):
        assert stack.fits(table)
        assert stack.add(table) == at == len(stack) - 1
    assert not stack.fits(made[0])
    for mine, other in zip(stack.tables, join_tables(made), strict=True):
        np.testing.assert_array_equal(mine, other)
    for at, table in enumerate(made):
        back = stack.table(at)
        for mine, other in zip(back, table, strict=True):
            np.testing.assert_array_equal(mine, other)
        assert back.near.dtype == table.near.dtype


def test_more_edges_than_a_narrow_stack_can_count():
    """Are refused by it and taken by a wide one."""
    angles = np.linspace(0.0, 2.0 * np.pi, 40_000, endpoint=False)
    table = build_table(shapely.Polygon(100.0 * np.column_stack((np.cos(angles), np.sin(angles)))), cells=4)
    assert not TableStack(50_000_000).fits(table)
    wide = TableStack(50_000_000, wide=True)
    wide.add(table)
    assert depth_inside(wide.tables, 0, 0.0, 0.0) == pytest.approx(100.0, rel=1e-6)
