"""What the least used hide of each leather has left, and who pays for it, worked out by hand."""

from fractions import Fraction
from types import SimpleNamespace

import pytest

from nest.accounts.standard import _left_of_part_used
from nest.pieces.piece import Role

PLAN = SimpleNamespace(hides=[SimpleNamespace(hide_id=name, leather=name[:-1]) for name in ("calf1", "calf2", "kid1")])


def use(name, rough_mm2, paid_mm2, sizes, role=Role.VAMP):
    """What is used of one hide: rough area, what is paid, and by size the pieces and their share of it."""
    return SimpleNamespace(
        material_id=name, role=role, paid_mm2=paid_mm2,
        account=SimpleNamespace(rough_mm2=rough_mm2, material_mm2=paid_mm2),
        sizes=[SimpleNamespace(style="box", size=size, pieces=pieces, share=share) for size, pieces, share in sizes])


def takes(**by_size):
    """An estimate that says how much leather a pair of each size takes, mm²."""
    return SimpleNamespace(
        takes={("box", size[1:]): SimpleNamespace(leather_mm2=mm2) for size, mm2 in by_size.items()})


def left(uses, found):
    """What is left, by the size that pays for it."""
    return {size: float(mm2) for (_, size), mm2 in _left_of_part_used(PLAN, uses, found).items()}


def test_a_hide_beside_others_needs_as_much_as_they_do():
    """The other hide holds 600 of 1,000, so that 150 take 250. Of 900 paid for, 650 are left, shared 1 to 4."""
    first = use("calf1", 600.0, 1000.0, [("37", 4, 1.0)])
    least = use("calf2", 150.0, 900.0, [("38", 2, 0.2), ("39", 8, 0.8)])
    assert left([first, least], takes()) == pytest.approx({"38": 130.0, "39": 520.0})


def test_a_hide_alone_needs_what_the_estimate_takes():
    """Four pieces are two pairs of 120 and two are one of 150: 390 of 1,000; a size without an estimate takes none."""
    alone = use("kid1", 200.0, 1000.0, [("38", 4, 0.5), ("39", 2, 0.3), ("40", 1, 0.2)])
    assert left([alone], takes(s38=120.0, s39=150.0)) == pytest.approx({"38": 305.0, "39": 183.0, "40": 122.0})


def test_nothing_is_left_where_more_is_needed_and_lays_are_no_hides():
    """A hide filled closer than the estimate has nothing left; leathers stand apart."""
    full = use("kid1", 900.0, 1000.0, [("38", 4, 1.0)])
    lay = use("lay1", 10.0, 1000.0, [("38", 4, 1.0)], Role.REINFORCEMENT)
    alone = use("calf1", 100.0, 400.0, [("39", 2, 1.0)])
    assert _left_of_part_used(PLAN, [full, lay, alone], takes(s38=600.0, s39=300.0)) == {
        ("box", "38"): Fraction(0), ("box", "39"): Fraction(100)}
