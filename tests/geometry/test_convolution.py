"""Convolution segments, held against the definition: every corner of one outline asked about every edge of the other.

Definition: Guibas, Ramshaw & Stolfi 1983, doi:10.1109/SFCS.1983.1.
"""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry._convolution import convolution


def cross(a, b) -> int:
    """Determinant of two vectors of whole numbers."""
    return int(a[0]) * int(b[1]) - int(a[1]) * int(b[0])


@st.composite
def rings(draw, most=9):
    """A ring about the origin, its inside to its left, no three corners in line; few directions, so that many agree."""
    reach = draw(st.sampled_from((3, 40, 10**6)))
    spots = draw(st.lists(st.tuples(*[st.integers(-reach, reach)] * 2), min_size=3, max_size=most, unique=True))
    around = sorted({np.arctan2(y, x): (x, y) for x, y in spots if (x, y) != (0, 0)}.items())
    ring = [spot for _, spot in around]
    while True:
        bent = [p for p, before, after in zip(ring, ring[-1:] + ring[:-1], ring[1:] + ring[:1], strict=True)
                if cross(np.subtract(p, before), np.subtract(after, p))]
        if len(bent) == len(ring):
            return np.array(ring, np.int64).reshape(-1, 2)
        ring = bent


def by_definition(a, b) -> list[tuple[int, ...]]:
    """Edges of b whose direction a corner of a sweeps, moved there, and the other way round."""
    found = []
    for corners, edges, later in ((a, b, True), (b, a, False)):
        for before, here, after in zip(np.roll(corners, 1, 0), corners, np.roll(corners, -1, 0), strict=True):
            came, goes = here - before, after - here
            left = cross(came, goes) > 0
            low, high = (came, goes) if left else (goes, came)
            for start, end in zip(edges, np.roll(edges, -1, 0), strict=True):
                along = end - start
                first = cross(low, along) > 0 or (later and cross(low, along) == 0)
                last = cross(along, high) > 0 or (not later and cross(along, high) == 0)
                if first and last:
                    ends = (start, end) if left else (end, start)
                    found.append((*(here + ends[0]).tolist(), *(here + ends[1]).tolist()))
    return sorted(found)


@settings(max_examples=200, deadline=None)
@given(rings(), rings())
def test_segments_are_those_of_the_definition(a, b):
    """Whatever turns right or lies parallel: the same segments, found by direction in place of one by one."""
    if len(a) < 3 or len(b) < 3:
        return
    found = convolution(a, np.array((0, len(a))), b, np.array((0, len(b))))
    assert sorted(map(tuple, found.tolist())) == by_definition(a, b)


def test_rings_of_a_container_count_one_by_one():
    """Two rings, outer and hole: the segments are those of both together."""
    outer = np.array(((0, 0), (10, 0), (10, 10), (0, 10)))
    hole = np.array(((4, 4), (4, 6), (6, 6), (6, 4)))
    piece = np.array(((0, 0), (2, 0), (1, 2)))
    both = convolution(np.concatenate((outer, hole)), np.array((0, 4, 8)), piece, np.array((0, 3)))
    assert sorted(map(tuple, both.tolist())) == sorted(by_definition(outer, piece) + by_definition(hole, piece))
