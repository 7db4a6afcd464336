"""Paths that follow each other become one, whatever their order and sense."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.polygon import area
from nest.job.chains import join_paths
from nest.job.drawing import Path


def path(points, closed=False, entity="1"):
    """A path on one layer."""
    return Path("CUT", np.array(points, dtype=float), closed, entity)


@settings(max_examples=60, deadline=None)
@given(
    cuts=st.sets(st.integers(0, 39), min_size=2, max_size=12), seed=st.integers(0, 1000),
    gap=st.sampled_from([0.0, 0.05, 0.15]),
)
def test_a_ring_cut_in_pieces_is_put_together(cuts, seed, gap):
    """A ring of forty points, cut anywhere, its pieces shuffled, turned and drawn apart: one closed ring again."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0.0, 2 * np.pi, 40, endpoint=False)
    ring = np.column_stack((np.cos(angle), np.sin(angle))) * (80.0 + rng.uniform(-5.0, 5.0, 40))[:, None]
    at = sorted(cuts)
    pieces = []
    for a, b in zip(at, [*at[1:], at[0] + 40], strict=True):
        points = ring[np.arange(a, b + 1) % 40]
        points = np.vstack((points[0] + rng.uniform(-gap, gap, 2) / 3, points[1:]))
        pieces.append(path(points[::-1] if rng.random() < 0.5 else points))
    joined = join_paths([pieces[i] for i in rng.permutation(len(pieces))])
    assert [p.closed for p in joined.paths] == [True]
    assert len(joined.paths[0].points) == 40
    assert area(joined.paths[0].points) == pytest.approx(area(ring), abs=gap * 600 + 1e-6)
    assert joined.widest_gap_mm <= 0.5 * gap


def test_two_rings_stay_two():
    """Two squares of lines side by side, their lines mixed, are two rings."""
    lines = []
    for left in (0.0, 50.0):
        corners = [(left, 0), (left + 40, 0), (left + 40, 40), (left, 40)]
        lines += [path((a, b)) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    joined = join_paths([*lines[::2], *lines[1::2]])
    assert sorted(area(p.points) for p in joined.paths) == [1600.0, 1600.0]
    assert all(p.closed for p in joined.paths) and joined.joins == 0


def test_nearest_ends_are_joined_first():
    """Where three ends come near each other, the two nearest are joined and the third stays open."""
    joined = join_paths([path([(0, 0), (10, 0)]), path([(10.05, 0), (20, 0)]), path([(10, 0.15), (10, 9)])])
    assert sorted(len(p.points) for p in joined.paths) == [2, 3]
    assert joined.joins == 1 and joined.widest_gap_mm == pytest.approx(0.05)


def test_short_line_is_not_closed_on_itself():
    """A line shorter than the gap does not vanish into a ring."""
    joined = join_paths([path([(0, 0), (0.1, 0)])])
    assert [p.closed for p in joined.paths] == [False]


def test_line_there_and_back_is_no_ring():
    """A closed polyline of two points encloses nothing: it is a line."""
    assert [p.closed for p in join_paths([path([(0, 0), (10, 0)], closed=True)]).paths] == [False]


def test_many_ends_at_one_place_are_refused():
    """A star of a hundred lines has no order: refused, quickly."""
    star = [path([(0, 0), (np.cos(a), np.sin(a))]) for a in np.linspace(1, 7, 100)]
    with pytest.raises(ValueError, match="at one place"):
        join_paths(star)


def test_sources_are_named():
    """A joined path names the entities it came from, three at most."""
    corners = [(0, 0), (40, 0), (40, 40), (20, 60), (0, 40)]
    edges = zip(corners, corners[1:] + corners[:1], strict=True)
    lines = [path(edge, entity=str(i)) for i, edge in enumerate(edges)]
    assert join_paths(lines).paths[0].entity == "0, 1, 2 and 2 more"
