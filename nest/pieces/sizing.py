"""Size systems: what a size is called, how long it is, how many steps lie between two sizes.

Paris point (EU) and English sizes measure the last, Mondopoint the foot (ISO 9407). Steps after
ISO/TS 19407: Paris point 2/3 cm, English 1/3 in, Mondopoint 5 mm or 7.5 mm. Positions on a
scale are fractions, so that thirds and halves stay exact.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

CHILDREN_SIZES = 13
"""English sizes start again after children's 13: adult 1 is the next step."""

_ROUNDED = Fraction(1, 200)
"""A decimal nearer than this to a third stands for it: 38.33, 38.67."""

_FRACTION_SIGNS = {"½": " 1/2", "⅓": " 1/3", "⅔": " 2/3"}
_NUMBER = re.compile(r"(\d{1,9})(?:[.,](\d{1,9})|\s+(\d)/(\d))?")
"""No size has more digits than these, and Python does not turn thousands of them into a number."""


class SizeError(ValueError):
    """A size or size system that is not known; `expected` and `found` say what is wrong."""

    def __init__(self, expected: str, found: str):
        self.expected, self.found = expected, found
        super().__init__(f"expected {expected}, found {found}")


@dataclass(frozen=True, slots=True)
class SizeSystem:
    """A scale of sizes. Position p (in steps from the scale's origin) is `origin_mm` + p × `step_mm` long."""

    name: str
    step_mm: Fraction
    origin_mm: Fraction
    measures: str
    """What the length is of: "last" or "foot"."""
    girth_step_mm: float
    """Usual growth of the joint girth from one size to the next (trade notes)."""
    least: Fraction
    most: Fraction
    """Range of positions that somebody makes shoes in."""
    examples: str


SIZE_SYSTEMS = {
    system.name: system
    for system in (
        SizeSystem(
            "paris", Fraction(20, 3), Fraction(0), "last", 5.0, Fraction(15), Fraction(55),
            "a Paris point (EU) size from 15 to 55 such as 38, 38.5 or 38 2/3",
        ),
        SizeSystem(
            "english", Fraction(127, 15), Fraction(508, 5), "last", 6.0, Fraction(0), Fraction(33),
            "an English size such as 5, 5.5 or 5 1/2 (up to 20), or 10C for children (up to 13.5C)",
        ),
        # Mondopoint girth steps: the EU one at the same growth per mm of length.
        SizeSystem(
            "mondopoint", Fraction(5), Fraction(0), "foot", 3.75, Fraction(16), Fraction(70),
            "a Mondopoint size in mm of foot length from 80 to 350, such as 245",
        ),
        SizeSystem(
            "mondopoint-7.5", Fraction(15, 2), Fraction(0), "foot", 5.625, Fraction(32, 3), Fraction(140, 3),
            "a Mondopoint size in mm of foot length from 80 to 350, such as 247.5",
        ),
    )
}
"""Every size system a job may name."""


def size_system(name: str) -> SizeSystem:
    """Return the size system of this name.

    Raises
    ------
    SizeError
        If there is none; the text names those there are.
    """
    if name not in SIZE_SYSTEMS:
        raise SizeError("one of the size systems " + ", ".join(SIZE_SYSTEMS), repr(name))
    return SIZE_SYSTEMS[name]


def position(system: SizeSystem, size: str) -> Fraction:
    """Return where `size` lies on the scale, in steps.

    Whole, half and third sizes are read, written 38.5, 38,5, 38½, 38 1/2, 38 2/3 or 38.67, as labels have it;
    English children's sizes carry a C before or after (common practice, no source).

    Raises
    ------
    SizeError
        If `size` is not a size of this system.
    """
    text, child = size.strip(), False
    if system.name == "english":
        bare = re.sub(r"^[Cc]\s*|\s*[Cc]$", "", text, count=1)
        text, child = bare, bare != text
    number = number_in(text)
    if number is not None and abs((third := Fraction(round(3 * number), 3)) - number) < _ROUNDED:
        number = third
    if number is None or ((2 * number).denominator != 1 and (3 * number).denominator != 1):
        raise SizeError(system.examples, repr(size))
    most = system.most
    if system.measures == "foot":
        number /= system.step_mm
    elif child:
        most = CHILDREN_SIZES + Fraction(1, 2)
    elif system.name == "english":
        number += CHILDREN_SIZES
    if not system.least <= number <= most:
        raise SizeError(system.examples, repr(size))
    return number


def number_in(text: str) -> Fraction | None:
    """Read a whole, decimal or mixed number such as 38, 38.5, 38½ or 38 2/3; None if `text` is none of these."""
    for sign, spelled in _FRACTION_SIGNS.items():
        text = text.replace(sign, spelled)
    match = _NUMBER.fullmatch(text)
    if match is None or match[4] == "0":
        return None
    whole, decimals, numerator, denominator = match.groups()
    if numerator:
        return int(whole) + Fraction(int(numerator), int(denominator))
    return Fraction(f"{whole}.{decimals}") if decimals else Fraction(int(whole))


def size_key(size: str) -> tuple[bool, Fraction, str]:
    """What sizes whose system is not known are sorted by: their number, 9 before 10; names follow, by letters."""
    number = number_in(size)
    return number is None, number or Fraction(0), size


def length_mm(system: SizeSystem, size: str) -> float:
    """Length the size stands for, mm: of the last, or of the foot in Mondopoint."""
    return float(system.origin_mm + position(system, size) * system.step_mm)


def steps_between(system: SizeSystem, start: str, end: str) -> Fraction:
    """Steps from one size up to another, negative when `end` is the smaller; half sizes are half steps."""
    return position(system, end) - position(system, start)


def ordered(system: SizeSystem, sizes: Iterable[str]) -> tuple[str, ...]:
    """Return `sizes`, smallest first."""
    return tuple(sorted(sizes, key=lambda size: position(system, size)))


def size_label(system: SizeSystem, size: str) -> str:
    """One spelling for every way to write a size, free of blanks and slashes: "38 1/2" gives "38.5"."""
    number = position(system, size)
    if system.measures == "foot":
        return f"{float(number * system.step_mm):g}"
    if system.name != "english":
        return f"{float(number):.4g}"
    # Children's half size after 13 and adult half size before 1 are one step; keep the user's own choice.
    child = "c" in size.lower()
    return f"{float(number if child else number - CHILDREN_SIZES):.4g}" + ("C" if child else "")
