"""Few headings in place of many."""

from dataclasses import replace

import numpy as np
import pytest
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st

from geometry.precision import as_ring
from nest.placement import region_stage
from nest.placement.budget import Budget
from nest.placement.gate import faults
from nest.placement.headings import COARSE_DEG, few_headings, forms, with_few_headings
from nest.placement.model import build_model
from nest.placement.parameters import REGIONS
from nest.placement.problem import Ground, Kind, RegionProblem
from nest.placement.solve import solve_region

SHEET = shapely.affinity.rotate(shapely.box(0.0, 0.0, 100.0, 70.0), 2.5, origin=(0.0, 0.0))
"""Askew, so that the few headings serve it badly."""

WEDGE = as_ring(((0, 0), (34, 0), (30, 16), (0, 20)))
SIZES = tuple(as_ring(scale * WEDGE) for scale in np.linspace(0.9, 1.0, 11))
FINE = tuple(float(h % 360) for turn in (0, 180) for h in range(turn - 10, turn + 11))


def problem(headings_deg):
    """A wedge in eleven sizes, as often as they fit, on one sheet."""
    ground = Ground(SHEET, (SHEET,) * len(headings_deg))
    kinds = tuple(Kind(f"size {size}", ring, ring, headings_deg, 20) for size, ring in enumerate(SIZES))
    return RegionProblem(kinds, (ground,) * len(kinds))


def test_a_fine_grid_becomes_a_coarse_one():
    """21 headings in steps of 1° either way round: five of each, 5° apart, the ends among them."""
    kept = [FINE[h] for h in few_headings(FINE)]
    assert sorted(kept) == [0.0, 5.0, 10.0, 170.0, 175.0, 180.0, 185.0, 190.0, 350.0, 355.0]


def test_a_span_that_five_degrees_do_not_divide():
    """±4° in steps of 1°: 5° from the first, and the last; ±6° in steps of 1°: the last is only 2° from one of them."""
    headings_deg = [float(h % 360) for h in range(-4, 5)]
    assert sorted(headings_deg[h] for h in few_headings(headings_deg)) == [1.0, 4.0, 356.0]
    headings_deg = [float(h % 360) for h in range(-6, 7)]
    assert sorted(headings_deg[h] for h in few_headings(headings_deg)) == [4.0, 354.0, 359.0]


@pytest.mark.parametrize("headings_deg", [(), (7.0,), (0.0, 180.0), (0.0, 1.0), (350.0, 355.0, 0.0, 5.0, 170.0)])
def test_headings_that_are_few_all_stay(headings_deg):
    """None at all, one, two ways round, a narrow tolerance, a coarse grid over 0°."""
    assert few_headings(headings_deg) == tuple(range(len(headings_deg)))
    assert with_few_headings(problem(headings_deg)).kinds[0].headings_deg == headings_deg


@given(st.lists(st.integers(0, 359), min_size=1, max_size=90, unique=True))
def test_every_heading_has_one_of_the_few_near_by(headings_deg):
    """Whatever the headings: the few are some of them, every one has one of the few no more than 5° away."""
    kept = few_headings(headings_deg)
    assert list(kept) == sorted(set(kept))
    few = np.array([headings_deg[h] for h in kept])
    for heading in headings_deg:
        off = np.abs((few - heading + 180.0) % 360.0 - 180.0)
        assert off.min() <= COARSE_DEG + 1e-9


def test_kinds_go_on_sharing_their_ground():
    """One ground of all kinds stays one, with the cores of the headings kept; nothing changes where none are close."""
    many = problem(FINE)
    few = with_few_headings(many)
    assert few.grounds[0] is few.grounds[10]
    assert len(few.grounds[0].core) == len(few.kinds[0].headings_deg) == 10
    assert forms(many) == 11 * 42
    assert forms(few) == 11 * 10
    assert with_few_headings(few) is few


def test_all_headings_serve_in_the_end():
    """With passes alone limited: the layout is sound, its headings are the problem's, some are none of the few."""
    many = problem(FINE)
    layout = solve_region(many, Budget(passes=REGIONS.fine_passes), seed=3)[0]
    assert not faults(layout.items, many.kinds, 0.0, many.grounds, 1e-4)
    used = {item.pose.heading_deg for item in layout.items}
    assert used <= set(FINE)
    assert used - set(with_few_headings(many).kinds[0].headings_deg)
    again = solve_region(many, Budget(passes=REGIONS.fine_passes), seed=3, workers=1)[0]
    assert [item.pose for item in again.items] == [item.pose for item in layout.items]


def test_tables_of_all_headings_are_not_made_where_everything_is_placed(monkeypatch):
    """Two small wedges on a wide sheet: the few headings are all that is made ready."""
    made = []
    monkeypatch.setattr(
        region_stage, "build_model", lambda kinds, *more: made.append(kinds) or build_model(kinds, *more))
    many = problem(FINE)
    few_wanted = replace(many, kinds=(replace(many.kinds[0], limit=2),), grounds=many.grounds[:1])
    layout = solve_region(few_wanted, Budget(passes=REGIONS.fine_passes), seed=1)[0]
    assert len(layout.items) == 2
    assert [len(kinds[0].headings_deg) for kinds in made] == [10]
