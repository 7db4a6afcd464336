"""Digits of pen and punch, by hand and by what they share: a digit drawn badly is read as another."""

from itertools import pairwise

import numpy as np
import pytest

from nest.cutplan.strokefont import number_lines, number_wide
from nest.job.cutting_table import NumberTool

PEN, PUNCH = NumberTool.PEN, NumberTool.PUNCH
BOWL = [(4, 1), (3, 0), (1, 0), (0, 1)]
ARC = [(0, 5), (1, 6), (3, 6), (4, 5)]


def drawn(digit: int) -> list[tuple[float, float]]:
    """The one line of a digit in a box 4 wide and 6 high, without the bar that 6 and 9 have."""
    line = number_lines(digit, 6.0, PEN)[0]
    return [(round(x, 6), round(y, 6)) for x, y in (
        line if digit not in (6, 9) else line * 7.5 / 6.0 - (0.0, 1.5)).tolist()]


def edges(points) -> set[frozenset]:
    """The straight lines of a digit, whichever way they are run."""
    return {frozenset(pair) for pair in pairwise(points)}


def moved(points, x: int, y: int) -> set[frozenset]:
    """The lines mirrored along x, along y, or both."""
    return edges([(4 - a if x else a, round(6 - b, 6) if y else b) for a, b in points])


def test_digits_are_what_they_share():
    """0 is its own image either way, 8 from side to side; 6 is 9 turned; 2, 3, 5 and 8 have the arc or bowl of 0."""
    nought = drawn(0)
    assert edges(nought) == moved(nought, 1, 0) == moved(nought, 0, 1)
    assert edges(nought) == edges([*ARC, *BOWL, ARC[0]])
    assert edges(drawn(6)) == moved(drawn(9), 1, 1) and len(drawn(6)) == 10
    eight = drawn(8)
    assert edges(eight) == moved(eight, 1, 0) and edges(ARC) | edges(BOWL) < edges(eight)
    assert edges(ARC) < edges(drawn(2)) and edges(BOWL) < edges(drawn(3)) and edges(BOWL) < edges(drawn(5))
    # The pairs of points that 6 and 9, 8, 3 and 5 do not share with others.
    assert drawn(9)[:4] == [(4, 3), (1, 2.6), (0, 3.6), (0, 5)] and drawn(9)[3:7] == ARC
    assert drawn(9)[6:] == [(4, 5), (4, 3), (3, 1), (1, 0)]
    assert [point for point in eight if point not in ARC + BOWL] == [
        (1, 3.2), (0, 4.2), (4, 4.2), (3, 3.2), (1, 3.2), (0, 2.2), (4, 2.2), (3, 3.2)]


def test_straight_digits_by_hand():
    """The lines of 1, 4 and 7, the foot of 2, and the heads of 3 and 5."""
    assert drawn(1) == [(1, 5), (2, 6), (2, 0)] and drawn(7) == [(0, 6), (4, 6), (1.4, 0)]
    assert drawn(4) == [(3, 0), (3, 6), (0, 2), (4, 2)]
    assert drawn(2)[3:] == [(4, 5), (4, 4), (0, 0), (4, 0)]
    assert drawn(3)[:6] == [(0, 6), (4, 6), (2, 3.6), (3, 3.6), (4, 2.6), (4, 1)]
    assert drawn(5)[:6] == [(4, 6), (0, 6), (0, 3.4), (3, 3.4), (4, 2.4), (4, 1)]


@pytest.mark.parametrize(("tool", "digits", "wide"), [
    (PEN, 1, 4.0), (PEN, 2, 10.0), (PEN, 3, 16.0), (PUNCH, 1, 9.2), (PUNCH, 2, 24.2), (PUNCH, 3, 39.2),
])
def test_the_widest_number_is_as_wide_as_is_said(tool, digits, wide):
    """At 6 mm: digits 4 mm wide and 2 apart; or dots 3 mm apart, four at most, and 6 mm between groups."""
    assert number_wide(digits, 6.0, tool) == pytest.approx(wide)
    assert number_wide(digits, 3.0, tool) == pytest.approx(wide / 2.0 + (0.1 if tool is PUNCH else 0.0))
    numbers = [int(str(one) * digits) for one in (2, 3, 4)]
    assert max(np.vstack(number_lines(one, 6.0, tool))[:, 0].max() for one in numbers) == pytest.approx(wide)


def test_dots_by_hand():
    """507 at 6 mm: one five; two fives for nought; two ones and a five; each group 6 mm behind the one before."""
    dots = [(round(line[0, 0], 6), round(line[0, 1], 6)) for line in number_lines(507, 6.0, PUNCH)]
    assert dots == [(0, 6), (6, 6), (9, 6), (15, 0), (18, 0), (15, 6)]
    assert all((line[1] - line[0]).round(9).tolist() == [0.2, 0.0] for line in number_lines(507, 6.0, PUNCH))


def test_a_bar_stands_under_the_whole_number():
    """Of 68, which upside down is 89: a quarter of its digits' height below them, from the first to the last."""
    *digits, bar = number_lines(68, 7.5, PEN)
    assert bar.tolist() == [[0.0, 0.0], [10.0, 0.0]]
    points = np.vstack(digits)
    assert (points[:, 1].min(), points[:, 1].max(), points[:, 0].max()) == (1.5, 7.5, 10.0)
