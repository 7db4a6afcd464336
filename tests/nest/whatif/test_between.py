"""What-ifs by estimate from the ends of the size run: against all sizes, with a shape that has a closed form."""

from dataclasses import replace

import pytest
from box_jobs import job, style

from geometry.polygon import area
from nest.accounts.estimate import GroundMemory, estimate_sheet
from nest.pieces.piece import Part
from nest.pieces.remembered import PieceMemory
from nest.pieces.style import OrderLine
from nest.whatif import allowance_changes
from nest.whatif.between import BetweenSizes
from nest.whatif.changes import with_allowance


def close_packed(ring, gap):
    """Cells as if outlines lost a tenth: steady in the size of the outline."""
    return 2.2 * area(ring), 2.3 * area(ring)


def run_of_sizes():
    """One style, five sizes."""
    plain = job(styles=[style()])
    one = replace(plain.styles[0], grading=replace(plain.styles[0].grading, length_step_mm=4.0, width_step_mm=3.0))
    order = tuple(OrderLine(one.name, str(size), 4) for size in range(36, 41))
    return replace(plain, styles=(one,), order=order)


@pytest.mark.parametrize("part", list(Part))
def test_sizes_between_the_ends_come_out_as_if_worked_out(part):
    """Two millimetres more: every size of the sheet within 1 in 1,000 of that from all sizes; the ends exactly."""
    one = run_of_sizes()
    changed = with_allowance(one, one.styles[0].name, part, 2.0)
    cells, ground = close_packed, GroundMemory(one)
    whole = estimate_sheet(changed, cells, ground=ground)
    short = estimate_sheet(changed, cells, ground=ground, estimates=BetweenSizes(one, PieceMemory()))
    for a, b in zip(whole.sizes, short.sizes, strict=True):
        rel = 1e-12 if a.size in ("36", "40") else 1e-3
        assert float(b.exact) == pytest.approx(float(a.exact), rel=rel)
        assert a.pairs == b.pairs
    assert float(short.order.exact) != float(estimate_sheet(one, cells, ground=ground).order.exact)


def test_the_job_as_it_is_is_worked_out_whole():
    """Of the job itself no size is left out: the sheet is the very same."""
    one = run_of_sizes()
    cells, ground = close_packed, GroundMemory(one)
    assert estimate_sheet(one, cells, ground=ground, estimates=BetweenSizes(one, PieceMemory())) == estimate_sheet(
        one, cells, ground=ground)


def test_a_what_if_makes_only_the_ends():
    """Of each change the smallest and the largest size are made, no other."""
    one, asked = run_of_sizes(), []

    class Counted(PieceMemory):
        def __call__(self, style, sizes):
            asked.append((style.allowances, tuple(sizes)))
            return super().__call__(style, sizes)

    between, cells, ground = BetweenSizes(one, Counted()), close_packed, GroundMemory(one)
    for change in allowance_changes(one, (Part.TOE,)):
        estimate_sheet(change.job, cells, ground=ground, estimates=between)
    own = one.styles[0].allowances
    assert {sizes for given, sizes in asked if given != own} == {("36", "40")}
