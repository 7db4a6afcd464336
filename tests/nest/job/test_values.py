"""Numbers, money and areas as people write them."""

from decimal import Decimal

import pytest

from nest.job.values import QUARTERS, ValueFault, area_mm2, decimal, money, positive, whole

QUARTER_FOOT_DM2 = 2.322576
"""Exact: ¼ ft² with 1 ft = 0.3048 m (international yard and pound agreement, 1959)."""


@pytest.mark.parametrize(
    ("text", "unit", "dm2"),
    [
        ("204.5", "dm2", 204.5),
        ("2.05", "m2", 205.0),
        ("22.25", "ft2", 89 * QUARTER_FOOT_DM2),
        ("22.3", "ft2", 22.3 * 4 * QUARTER_FOOT_DM2),
        ("4/1", "ft2", 17 * QUARTER_FOOT_DM2),
        ("21/3", "ft2", 87 * QUARTER_FOOT_DM2),
        ("21 / 0", "ft2", 84 * QUARTER_FOOT_DM2),
        ("21.3", QUARTERS, 87 * QUARTER_FOOT_DM2),
        ("21/3", QUARTERS, 87 * QUARTER_FOOT_DM2),
        ("21", QUARTERS, 84 * QUARTER_FOOT_DM2),
    ],
)
def test_areas(text, unit, dm2):
    """Areas in every unit; 4/1 is 4¼ ft², and .3 is three quarters only where the unit says so.

    Footage marks: Roberts & Etherington, Bookbinding and the Conservation of Books: A Dictionary, "footage".
    """
    assert area_mm2(text, unit) / 1e4 == pytest.approx(dm2, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("21/4", "ft2", "0 to 3 quarters"),
        ("21.5", QUARTERS, "0 to 3 quarters"),
        ("21.25", QUARTERS, "0 to 3 quarters"),
        ("21/3", "dm2", "an area"),
        ("0", "dm2", "above 0"),
        ("-3", "m2", "above 0"),
        ("", "m2", "an area"),
        ("1e3", "dm2", "an area"),
        ("2.05", "hides", "an area unit"),
        ("2.05", "", "an area unit"),
        ("21½", "ft2", "an area"),
    ],
)
def test_areas_that_are_none(text, unit, expected):
    """Five quarters, quarters of a dm², nothing, no unit: refused with what was expected."""
    with pytest.raises(ValueFault, match=expected):
        area_mm2(text, unit)


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1e400", "0x10", "1,000", "12 ", "", "--1"])
def test_only_plain_numbers(text):
    """Not-a-number, infinity, powers of ten, thousands separators and blanks are refused."""
    with pytest.raises(ValueFault):
        decimal(text, "a number")


def test_money_is_exact():
    """Money keeps its digits, and is not negative."""
    assert money("0.10", "a price") == Decimal("0.10")
    with pytest.raises(ValueFault, match="0 or more"):
        money("-0.01", "a price")
    with pytest.raises(ValueFault, match="at most 1,000,000,000"):
        money("1000000000.01", "a price")


def test_whole_and_positive():
    """12.0 is whole, 12.5 is not; nil is not above nil; a billion pairs are too many."""
    assert whole("12.0", "pairs") == 12
    assert positive("0.5", "a thickness") == 0.5
    for text in ("12.5", "-1", "1000000001"):
        with pytest.raises(ValueFault):
            whole(text, "pairs")
    with pytest.raises(ValueFault):
        positive("0", "a thickness")


@pytest.mark.parametrize(
    ("text", "found"),
    [("1.000", "1 or 1000"), ("12.500", "12.5 or 12500"), ("999.999", "999.9990 or 999999"), ("+1.000", "1 or 1000")],
)
def test_whole_numbers_that_can_be_read_two_ways(text, found):
    """Three digits behind a point may be decimals or thousands (common practice differs from country to country)."""
    with pytest.raises(ValueFault) as caught:
        whole(text, "a number of pairs")
    assert caught.value.found == f"{text!r}, which may mean {found}"


@pytest.mark.parametrize(("text", "value"), [("1000", 1000), ("12.0", 12), ("1000.000", 1000), ("3.0000", 3)])
def test_whole_numbers_that_are_plain(text, value):
    """Nought behind the point is no doubt where thousands are not grouped so."""
    assert whole(text, "a number of pairs") == value


def test_decimals_stay_readable():
    """An area, a length or a price of three decimals is legitimate: 1.234 m² is a small side."""
    assert area_mm2("1.234", "m2") == pytest.approx(1.234e6)
    assert positive("1.400", "a thickness") == 1.4
    assert money("4.125", "a price") == Decimal("4.125")
