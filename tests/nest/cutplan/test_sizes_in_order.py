"""Sizes stand in the order people count them, in every table."""

from types import SimpleNamespace

import numpy as np
import pytest

from nest.accounts.consumption import consumption
from nest.cutplan.sizes import sizes_in_order
from nest.pieces.piece import Role
from nest.pieces.sizing import size_key


def plan_of(*pieces):
    """A plan that holds pieces of these sizes, and lengths in mm."""
    return SimpleNamespace(pieces=[
        SimpleNamespace(size=size, net_outline=np.array(((0.0, 0.0), (length, 0.0), (length, 50.0))))
        for size, length in pieces
    ])


def test_half_sizes_of_a_shorter_style_stay_between_their_neighbours():
    """36 of a long and a short style, 36.5 of the short one alone, whose mean length is less: 36 comes first."""
    assert sizes_in_order(plan_of(("36.5", 202.0), ("36", 200.0), ("36", 240.0), ("37", 204.0))) == ("36", "36.5", "37")


def test_sizes_without_numbers_stand_by_length():
    """S, M and L are sorted by length, also with a numbered size among them, and by name where lengths are equal."""
    assert sizes_in_order(plan_of(("S", 200.0), ("L", 240.0), ("M", 220.0))) == ("S", "M", "L")
    assert sizes_in_order(plan_of(("38", 230.0), ("S", 200.0), ("L", 240.0))) == ("S", "38", "L")
    assert sizes_in_order(plan_of(("S", 190.0), ("S", 230.0), ("B", 210.0), ("A", 210.0))) == ("A", "B", "S")


@pytest.mark.parametrize("sizes", [("9", "9.5", "10"), ("6½", "7", "10½"), ("5 1/2", "6", "12")])
def test_numbers_are_counted_not_spelled(sizes):
    """9 before 10, halves in their places however they are written."""
    assert tuple(sorted(reversed(sizes), key=size_key)) == sizes


def test_consumption_runs_from_small_to_large():
    """Rows of a style by number: 9, 9.5, 10, then the style and the order."""
    shares = [SimpleNamespace(style="a", size=size, pieces=2, rough_mm2=2.0, net_mm2=1.0, share=1 / 3)
              for size in ("10", "9", "9.5")]
    account = SimpleNamespace(interlock_mm2=0.0, fault_mm2=0.0, edge_mm2=0.0, material_mm2=6.0)
    use = SimpleNamespace(role=Role.VAMP, account=account, paid_mm2=6.0, length_mm=0.0, sizes=shares)
    assert [row.size for row in consumption([use], Role.VAMP)] == ["9", "9.5", "10", "", ""]
