"""Values as people write them in tables: numbers, whole numbers, money, areas.

Every reader returns the value or raises ValueFault with what was expected and found.
"""

import math
import re
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation

from nest.limits import LARGEST_AMOUNT
from nest.units import MM2_PER_AREA_UNIT, MM2_PER_FT2


class ValueFault(ValueError):
    """A value that cannot be read; `expected`, `found` and `remedy` as in nest.errors.Problem."""

    def __init__(self, expected: str, found: str, remedy: str = "correct it"):
        self.expected, self.found, self.remedy = expected, found, remedy
        super().__init__(f"expected {expected}, found {found}")


def checked_name(name: str) -> str:
    """A name that may become part of a file name; ValueFault if it holds other characters, or is too long."""
    name = name.strip()
    if not _NAME.fullmatch(name) or len(name) > 60 or name.endswith("."):
        expected = "a name of letters, digits, blanks and . - + _ up to 60 long"
        raise ValueFault(expected, repr(name[:70]), "choose another name")
    return name


QUARTERS = "ft2 quarters"
"""Area unit of footage marks that write quarters of a square foot after a point: "21.3" is 21¾ ft²."""

AREA_UNITS = (*MM2_PER_AREA_UNIT, QUARTERS)

AREA_DOUBT = 0.05
"""A measured area that is off its drawing, or off an earlier measure, by more than this share is reported."""

AREA_REFUSAL = 0.25
"""One that is off by more than this share is refused: its unit, or the drawing's, is wrong."""

LARGEST_WHOLE = 1_000_000
"""No count in a table may be larger."""

DATE_CELL = "the date "
"""What the text of a workbook's date cell begins with, before the date as ISO 8601 writes it."""

_SERIAL_DAY, _SERIAL_START = re.compile(r"\d{5}", re.ASCII), date(1899, 12, 30)
_FIRST_DAY, _LAST_DAY = date(2000, 1, 1), date(2099, 12, 31)

_DECIMAL = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}\.\d{3}", re.ASCII)
_NAME = re.compile(r"[\w][\w .+-]*")
_QUARTER_SUFFIX = re.compile(r"(\d+)\s*/\s*(\d+)", re.ASCII)
_QUARTER_POINT = re.compile(r"(\d+)(?:\.(\d+))?", re.ASCII)


def decimal(text: str, what: str, example: str = "12.5") -> Decimal:
    """A plain decimal number; `what` names it ("a price").

    Powers of ten, thousands separators, NaN and infinity are refused.
    """
    if not _DECIMAL.fullmatch(text):
        raise ValueFault(what, repr(text) if text else "an empty cell", f"write a plain number such as {example}")
    try:
        return Decimal(text)
    except InvalidOperation as error:  # pragma: no cover - the pattern admits only what Decimal reads
        raise ValueFault(what, repr(text)) from error


def two_readings(text: str) -> tuple[str, str] | None:
    """What "1.000" may mean, as decimals and with a separator of thousands: "1" and "1000"; None where it is plain.

    Three digits behind one to three that do not begin with 0. Where decimals are usual the caller must tell from what
    the value is of; a whole number is never written so.
    """
    if not _THOUSANDS.fullmatch(text):
        return None
    small, large = f"{Decimal(text).normalize():f}", text.replace(".", "").lstrip("+")
    # As decimals it is plain once it does not end three digits behind the point.
    return f"{small}0" if _THOUSANDS.fullmatch(small) else small, large


def positive(text: str, what: str) -> float:
    """A number above zero."""
    number = float(decimal(text, what))
    if not 0.0 < number < math.inf:
        raise ValueFault(f"{what} above 0", repr(text))
    return number


def whole(text: str, what: str, least: int = 0) -> int:
    """A whole number, not below `least`; `what` names it ("a number of pairs")."""
    number = decimal(text, what, example="12")
    if readings := two_readings(text):
        small, large = readings
        raise ValueFault(f"{what} that is whole", f"{text!r}, which may mean {small} or {large}", "write one of both"
                         if number == number.to_integral_value() else f"write {large}, or correct it")
    if number != number.to_integral_value():
        raise ValueFault(f"{what} that is whole", repr(text))
    if not least <= number <= LARGEST_WHOLE:
        raise ValueFault(f"{what} from {least} to {LARGEST_WHOLE}", repr(text))
    return int(number)


def day(text: str, what: str) -> str:
    """A date as ISO 8601 writes it, year-month-day; `what` names it ("a due date").

    A date cell of a workbook is read (a time of day is dropped), and so is the plain number of days that a spreadsheet
    makes of one. Days and months in another order are refused: 04/05 is May in one place and April in the next.

    References
    ----------
    ISO 8601-1:2019, section 5.2; ISO/IEC 29500-1:2016, section 18.17.4.1 (days count from the end of 1899).
    """
    written = text.removeprefix(DATE_CELL)
    fault = ValueFault(what, repr(written) if written else "an empty cell", "write it as 2026-03-31")
    try:
        if _SERIAL_DAY.fullmatch(written):
            found = _SERIAL_START + timedelta(days=int(written))
        else:
            found = date.fromisoformat(written.partition("T")[0])
    except ValueError as error:
        raise fault from error
    if not _FIRST_DAY <= found <= _LAST_DAY:
        raise ValueFault(f"{what} from {_FIRST_DAY.year} to {_LAST_DAY.year}", repr(written))
    return found.isoformat()


def money(text: str, what: str) -> Decimal:
    """An amount that is not negative, and at most LARGEST_AMOUNT."""
    amount = decimal(text, what)
    if amount < 0:
        raise ValueFault(f"{what} of 0 or more", repr(text))
    if amount > LARGEST_AMOUNT:
        raise ValueFault(f"{what} of at most {LARGEST_AMOUNT:,}", repr(text))
    return amount


def area_mm2(text: str, unit: str) -> float:
    """An area as measured, in mm².

    Footage is also read with the quarters as a suffix: "4/1" is 4¼ ft². Where a mark writes .1 .2 .3 for
    the quarters, the unit must say so (`QUARTERS`), for 4.3 could as well be tenths.

    Raises
    ------
    ValueFault
        If the unit or the number cannot be read, or the area is zero.

    References
    ----------
    M. T. Roberts, D. Etherington, Bookbinding and the Conservation of Books: A Dictionary, "footage".
    """
    if unit not in AREA_UNITS:
        raise ValueFault(
            f"an area unit ({', '.join(AREA_UNITS)})", repr(unit) if unit else "none", "give the unit of the area"
        )
    feet = unit in ("ft2", QUARTERS)
    if feet and (match := _QUARTER_SUFFIX.fullmatch(text)):
        quarters = int(match[1]) + _quarter(match[2], text) / 4.0
        area = quarters * MM2_PER_FT2
    elif unit == QUARTERS:
        match = _QUARTER_POINT.fullmatch(text)
        if not match:
            raise ValueFault("an area in square feet and quarters", repr(text), "write it as 21.3 or 21/3")
        area = (int(match[1]) + _quarter(match[2] or "0", text) / 4.0) * MM2_PER_FT2
    else:
        area = float(decimal(text, "an area")) * MM2_PER_AREA_UNIT[unit]
    if not 0.0 < area < math.inf:
        raise ValueFault("an area above 0", repr(text))
    return area


def _quarter(digits: str, text: str) -> int:
    """Number of quarters, 0 to 3."""
    if digits not in ("0", "1", "2", "3"):
        raise ValueFault(
            "0 to 3 quarters of a square foot", repr(text), "correct it, or give the unit ft2 for tenths of a foot"
        )
    return int(digits)
