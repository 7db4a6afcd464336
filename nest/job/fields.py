"""Kinds of values that keys of a job file may have, and the base of its sections."""

from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError, PydanticKnownError

from nest.job.findings import clipped
from nest.job.values import ValueFault, checked_name, day
from nest.limits import LARGEST_AMOUNT
from nest.stock.currencies import MINOR_DIGITS
from nest.units import MM_PER_LENGTH_UNIT

WORST_CLASS = 99
_MOST_PAIRS = 10**9
_MOST_PERCENT = 1000


def fault(expected: str, found: str, remedy: str = "correct it") -> PydanticCustomError:
    """An error that carries its own words."""
    return PydanticCustomError(
        "worded", "{expected}; {found}; {remedy}", {"expected": expected, "found": found, "remedy": remedy}
    )


def one_of(choices: Iterable[str]) -> BeforeValidator:
    """One of these texts alone, refused as a `Literal` of them is."""
    known = tuple(choices)

    def checked(value: Any) -> Any:
        if value not in known:
            raise PydanticKnownError("literal_error", {"expected": ", ".join(known)})
        return value

    return BeforeValidator(checked)


def _name(value: Any) -> Any:
    return _worded(checked_name, value) if isinstance(value, str) else value


def _worded(read: Callable[..., str], *given: str) -> str:
    """What a reader of values in tables makes of a text; its fault as one of a job file."""
    try:
        return read(*given)
    except ValueFault as error:
        raise fault(error.expected, error.found, error.remedy) from None


def _money(value: Any) -> Any:
    """A price written as a number or as text, exactly as written."""
    return _amount(value, "a price", "48.50")


def _amount(value: Any, what: str, example: str) -> Decimal:
    """A number from 0 to LARGEST_AMOUNT, as a number or as text, exactly as written; `what` names it ("a price")."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise fault(f"{what} such as {example}", str(value))
    try:
        amount = Decimal(str(value).strip())
    except InvalidOperation:
        raise fault(f"{what} such as {example}", repr(value), "write a plain number") from None
    if not amount.is_finite():
        raise fault(f"{what} such as {example}", str(value), "write a plain number")
    if amount < 0:
        raise fault(f"{what} of 0 or more", str(value))
    if amount > LARGEST_AMOUNT:
        raise fault(f"{what} of at most {LARGEST_AMOUNT:,}", clipped(value))
    return amount


def by_class(value: Any) -> Any:
    """Keys of a table by class as whole numbers."""
    if not isinstance(value, dict):
        return value
    for key in value:
        if not (str(key).isdigit() and 1 <= int(key) <= WORST_CLASS):
            raise fault("classes such as 1 or 2 as keys", repr(key), "write for instance { 1 = 2.5, 2 = 4.0 }")
    return {int(key): item for key, item in value.items()}


def _breaks(value: Any) -> Any:
    """Price breaks: quantities as keys, percent off as values, both exactly as written."""
    if not isinstance(value, dict):
        return value
    found = {_amount(key, "a quantity", "50"): _amount(off, "a percentage", "2.5") for key, off in value.items()}
    for off in found.values():
        if off >= 100:
            raise fault("less than 100 percent off", str(off))
    return found


def _pairs_per_year(value: Any) -> Any:
    """Good pairs a year: one number for all styles together, or a table by style."""
    by_style = {str(key).strip(): pairs for key, pairs in value.items()} if isinstance(value, dict) else {"": value}
    for pairs in by_style.values():
        if type(pairs) is not int or not 0 <= pairs <= _MOST_PAIRS:
            raise fault(
                f"a whole number from 0 to {_MOST_PAIRS}, or one for each style", repr(pairs),
                'write pairs_per_year = 20000, or { "Style" = 12000 }',
            )
    return by_style


def _percent(value: Any, most: int) -> Decimal:
    amount = _amount(value, "a percentage", "3.5")
    if amount > most:
        raise fault(f"a percentage of at most {most}", str(amount))
    return amount


def _percent_below_100(value: Any) -> Any:
    amount = _percent(value, 100)
    if amount == 100:
        raise fault("a percentage below 100", str(amount))
    return amount


def _percent_of_material(value: Any) -> Any:
    """One percentage for every material, or a table by leather and roll."""
    by_name = {str(key).strip(): one for key, one in value.items()} if isinstance(value, dict) else {"": value}
    return {name: _percent(one, _MOST_PERCENT) for name, one in by_name.items()}


def _currency(value: Any) -> Any:
    if not isinstance(value, str) or value not in MINOR_DIGITS:
        near = str(value).strip().upper()
        remedy = f"write {near}" if near in MINOR_DIGITS else "write a code such as EUR, USD or JPY"
        raise fault("a currency code of ISO 4217", clipped(value), remedy)
    return value


def _day(value: Any) -> Any:
    """A date, as TOML writes it or as text; refused with a time of day."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    return _worded(day, value if isinstance(value, str) else str(value), "a date")


def _rate(value: Any) -> Decimal:
    amount = _amount(value, "a rate", "0.9213")
    if not amount:
        raise fault("a rate above 0", str(value))
    return amount


Name = Annotated[str, BeforeValidator(_name)]
Text = Annotated[str, Field(min_length=1)]
Money = Annotated[Decimal, BeforeValidator(_money)]
RateAbove0 = Annotated[Decimal, BeforeValidator(_rate)]
Seconds = Annotated[Decimal, BeforeValidator(lambda value: _amount(value, "a time in seconds", "70"))]
PairsPerYear = Annotated[dict[str, int], BeforeValidator(_pairs_per_year)]
Currency = Annotated[str, BeforeValidator(_currency)]
Day = Annotated[str, BeforeValidator(_day)]
AnyPercent = Annotated[Decimal, BeforeValidator(lambda value: _percent(value, _MOST_PERCENT))]
PercentBelow100 = Annotated[Decimal, BeforeValidator(_percent_below_100)]
PercentOfMaterial = Annotated[dict[str, Decimal], BeforeValidator(_percent_of_material)]
Breaks = Annotated[dict[Decimal, Decimal], BeforeValidator(_breaks)]
Length = Annotated[float, Field(ge=0, le=1e5)]
Above = Annotated[float, Field(gt=0, le=1e6)]
Percent = Annotated[float, Field(ge=0, lt=100)]
QualityClass = Annotated[int, Field(ge=1, le=WORST_CLASS)]
LengthUnit = Annotated[str, one_of(MM_PER_LENGTH_UNIT)]


class Section(BaseModel):
    """Base of all sections: no unknown keys, no silent conversion, no NaN."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)
