"""Currencies and rates: codes of ISO 4217, prices turned exactly, the rate of the day; bad input in one sentence."""

import json
from decimal import Decimal
from pathlib import Path

import pytest
from tiny_job import replace_in, with_more

from nest.accounts.money import minor_digits
from nest.errors import InputProblems
from nest.job.rates import said
from nest.job.read import read_job
from nest.stock.currencies import MINOR_DIGITS

MORE = """
[costing]
rates_on = 2026-11-10
freight_percent = { calf = 3.5 }
margin_percent = 20

[[leather]]
name = "kid"
price = 4.10
price_unit = "ft2"
price_by_class = { 2 = 3.05 }
price_currency = "USD"

[[rate]]
currency = "USD"
date = 2026-11-02
rate = 0.9213

[[rate]]
currency = "USD"
date = "2026-11-20"
rate = 0.95
"""


def test_prices_are_in_the_jobs_currency_at_the_rate_of_the_day(job_folder):
    """4.10 USD at 0.9213 are 3.777330 EUR, not at the later 0.95; the rate is kept and said."""
    job = read_job(with_more(job_folder, MORE))
    kid = job.leathers[1]
    assert (kid.price, kid.price_by_quality) == (Decimal("3.777330"), ((2, Decimal("2.809965")),))
    assert (kid.currency, kid.rate, kid.rate_date) == ("USD", Decimal("0.9213"), "2026-11-02")
    assert said(job.leathers, job.rolls, "EUR") == ("kid: priced in USD, at 0.9213 EUR for 1 USD as of 2026-11-02.",)
    later = read_job(with_more(job_folder, "").parent / "job.toml")
    assert later.leathers[0].currency == ""


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('price_currency = "USD"', 'price_currency = "usd"', "a currency code of ISO 4217, found 'usd'; write USD"),
        ('price_currency = "USD"', 'price_currency = "DEM"', "write a code such as EUR"),
        ('price_currency = "USD"', 'price_currency = "CHF"', "a rate of CHF, found none; add"),
        ("rates_on = 2026-11-10", "rates_on = 2026-11-01", "a rate of USD of 2026-11-01 or before, found later ones"),
        ("rates_on = 2026-11-10", 'rates_on = "10/11/2026"', "write it as 2026-03-31"),
        ("rate = 0.9213", "rate = 0", "a rate above 0"),
        ("rate = 0.9213", "rate = -1", "a rate of 0 or more"),
        ("rate = 0.9213", 'rate = "0,9213"', "write a plain number"),
        ('date = "2026-11-20"', "date = 2026-11-02", "one rate of USD a day"),
        ("margin_percent = 20", "margin_percent = 100", "a percentage below 100"),
        ("margin_percent = 20", "margin_percent = -2", "a percentage of 0 or more"),
        ("margin_percent = 20", "labour_per_hour = -2", "a price of 0 or more"),
        ("margin_percent = 20", 'scrap_per_m2 = "0,50"', "a price such as 48.50"),
        ("margin_percent = 20", 'setup_per_hide = "2 EUR"', "a price such as 48.50"),
        ("margin_percent = 20", 'press_per_hour = 20\npress_s_per_pair = "70 s"', "a time in seconds such as 70"),
        ("margin_percent = 20", "pairs_per_year = -5", "a whole number from 0"),
        ("margin_percent = 20", 'margin_percent = "a fifth"', "write a plain number"),
        ("margin_percent = 20", "overhead_percent = 5000", "a percentage of at most 1000"),
        ("margin_percent = 20", "press_per_hour = 20", "press_s_per_pair beside press_per_hour"),
        ("calf = 3.5", "cafl = 3.5", "did you mean 'calf'"),
        ("calf = 3.5", 'calf = "3,5"', "a percentage such as 3.5, found '3,5'; write a plain number"),
        ("price = 4.10", "price = -4.10", "a price of 0 or more"),
        ("price = 4.10", "price = 1e300", "a price of at most 1,000,000,000, found 1e+300; correct it"),
        ("rate = 0.9213", "rate = 1e12", "a rate of at most 1,000,000,000"),
        ("margin_percent = 20", 'labour_per_hour = "10000000000"', "a price of at most 1,000,000,000"),
        ("price = 4.10", 'price = "4,10"', "a price such as 48.50, found '4,10'; write a plain number"),
        ("2 = 3.05", '2 = "dear"', "a price such as 48.50"),
        ('price_unit = "ft2"', 'price_unit = "ft2"\nbreaks = { 50 = -1 }', "a percentage of 0 or more"),
        ('price_unit = "ft2"', 'price_unit = "ft2"\nbreaks = { fifty = 1 }', "a quantity such as 50"),
    ],
)
def test_bad_money_is_one_sentence(job_folder, old, new, expected):
    """Unknown or withdrawn codes, missing, late, doubled rates, text in numbers, commas: file, line and remedy."""
    assert old in MORE
    with pytest.raises(InputProblems) as caught:
        read_job(with_more(job_folder, MORE.replace(old, new)))
    assert len(caught.value.problems) == 1
    assert expected in str(caught.value) and "job.toml, line" in str(caught.value)


def test_an_unknown_currency_of_the_job_is_refused(job_folder):
    """"EURO" is no code; a sound one is kept."""
    replace_in("job.toml", "[settings]", '[settings]\ncurrency = "EURO"')(job_folder)
    with pytest.raises(InputProblems, match="a currency code of ISO 4217"):
        read_job(job_folder / "job.toml")


@pytest.mark.skipif(not Path("/usr/share/iso-codes/json/iso_4217.json").exists(), reason="iso-codes is not installed")
def test_codes_are_those_of_the_standard():
    """Every code is in the list of the package iso-codes, but three that are younger than it; minor units as known."""
    listed = json.loads(Path("/usr/share/iso-codes/json/iso_4217.json").read_text(encoding="utf-8"))["4217"]
    assert MINOR_DIGITS.keys() - {one["alpha_3"] for one in listed} <= {"XCG", "ZWG", "SLE"}
    assert [minor_digits(code) for code in ("JPY", "EUR", "KWD", "CLP", "INR")] == [0, 2, 3, 0, 2]
