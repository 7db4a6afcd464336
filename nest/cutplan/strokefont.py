"""Digits for a pen and for a punch, drawn for this program: lines to follow, and dots to count.

By pen a digit is one or two lines in a box of its own; a bar stands under a number that would be another one upside
down. By punch it is dots in two rows: each of the outer row counts
one, each of the inner row five; a nought is two of the inner row.
"""

import numpy as np

from nest.job.cutting_table import NumberTool

_PEN = {
    "0": (((1, 0), (3, 0), (4, 1), (4, 5), (3, 6), (1, 6), (0, 5), (0, 1), (1, 0)),),
    "1": (((1, 5), (2, 6), (2, 0)),),
    "2": (((0, 5), (1, 6), (3, 6), (4, 5), (4, 4), (0, 0), (4, 0)),),
    "3": (((0, 6), (4, 6), (2, 3.6), (3, 3.6), (4, 2.6), (4, 1), (3, 0), (1, 0), (0, 1)),),
    "4": (((3, 0), (3, 6), (0, 2), (4, 2)),),
    "5": (((4, 6), (0, 6), (0, 3.4), (3, 3.4), (4, 2.4), (4, 1), (3, 0), (1, 0), (0, 1)),),
    "6": (((3, 6), (1, 5), (0, 3), (0, 1), (1, 0), (3, 0), (4, 1), (4, 2.4), (3, 3.4), (0, 3.0)),),
    "7": (((0, 6), (4, 6), (1.4, 0)),),
    "8": (((1, 3.2), (0, 4.2), (0, 5), (1, 6), (3, 6), (4, 5), (4, 4.2), (3, 3.2), (1, 3.2), (0, 2.2), (0, 1), (1, 0),
           (3, 0), (4, 1), (4, 2.2), (3, 3.2)),),
    "9": (((4, 3.0), (1, 2.6), (0, 3.6), (0, 5), (1, 6), (3, 6), (4, 5), (4, 3), (3, 1), (1, 0)),),
}
"""Lines of each digit in a box four wide and six high, its lower left corner at (0, 0)."""

_HIGH, _WIDE, _APART = 6.0, 4.0, 2.0
_BAR = 1.5
"""A bar stands this far under the digits."""
_TURNED = {"0": "0", "1": "1", "2": "2", "5": "5", "6": "9", "8": "8", "9": "6"}
"""What a digit reads as when it stands upside down, where it reads as one."""

_GROUP_APART = 2.0
DOT_MM = 0.2
"""A dot of a punch is drawn as a line of this length: most tables pass over what has none."""


def number_lines(number: int, high_mm: float, tool: NumberTool) -> list[np.ndarray]:
    """The lines of a number, (n, 2) mm each, written from (0, 0) to the right, `high_mm` high."""
    return _dots(str(number), high_mm) if tool is NumberTool.PUNCH else _digits(str(number), high_mm)


def number_wide(digits: int, high_mm: float, tool: NumberTool) -> float:
    """The most that a number with this many digits is wide, mm."""
    if tool is NumberTool.PUNCH:
        return 0.5 * high_mm * (3 * digits + _GROUP_APART * (digits - 1)) + DOT_MM
    return high_mm / _HIGH * (_WIDE * digits + _APART * (digits - 1))


def _digits(text: str, high_mm: float) -> list[np.ndarray]:
    step = _WIDE + _APART
    lines = [np.add(line, (i * step, 0.0)) for i, digit in enumerate(text) for line in _PEN[digit]]
    if _another_turned(text):
        bar = np.array(((0.0, 0.0), (len(text) * step - _APART, 0.0)))
        return [high_mm / (_HIGH + _BAR) * line for line in (*(np.add(line, (0.0, _BAR)) for line in lines), bar)]
    return [high_mm / _HIGH * line for line in lines]


def _another_turned(text: str) -> bool:
    """Whether a number turned by half a turn reads as another."""
    turned = [_TURNED.get(digit, "") for digit in reversed(text)]
    return all(turned) and "".join(turned) != text


def _dots(text: str, high_mm: float) -> list[np.ndarray]:
    """Dots half as far apart as the number is high; a group begins two such steps behind the one before it."""
    step, x, lines = 0.5 * high_mm, 0.0, []
    for digit in map(int, text):
        ones, fives = (0, 2) if digit == 0 else (digit % 5, digit // 5)
        places = [(i, 0.0) for i in range(ones)] + [(i, high_mm) for i in range(fives)]
        lines += [np.array(((x + i * step, y), (x + i * step + DOT_MM, y))) for i, y in places]
        x += step * (max(ones, fives) - 1 + _GROUP_APART)
    return lines
