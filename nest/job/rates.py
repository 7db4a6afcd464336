"""Prices in another currency: the table of rates, and leathers, rolls and hides in the job's own currency by it."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar

from nest.job.findings import Findings
from nest.job.jobfile import JobFile
from nest.stock.currencies import Rate, rate_of
from nest.stock.material import Hide, Leather, Roll

Priced = TypeVar("Priced", Leather, Roll)


def rates_in(job_file: JobFile, findings: Findings) -> dict[str, Rate]:
    """The rate that holds of every currency something is priced in; problems where one is missing or doubtful."""
    settings, costing = job_file.single["settings"], job_file.single["costing"]
    own, on = settings.currency if settings else "", (costing and costing.rates_on) or ""
    table = [Rate(row.currency, row.date, row.rate) for row in job_file.repeated["rate"] if row]
    first: dict[tuple[str, str], int] = {}
    for i, row in enumerate(job_file.repeated["rate"]):
        if row is None:
            continue
        if own and row.currency == own:
            findings.refuse(job_file.where("rate", i, "currency"), f"another currency than the job's own, {own}",
                            row.currency, "take this rate out")
        if first.setdefault((row.currency, row.date), i) != i:
            findings.refuse(job_file.where("rate", i, "date"), f"one rate of {row.currency} a day",
                            f"another of {row.date}", "take one out")
    found: dict[str, Rate] = {}
    for section in ("leather", "roll"):
        for i, item in enumerate(job_file.repeated[section]):
            currency = item and item.price_currency
            if not currency or currency == own or currency in found:
                continue
            rate = rate_of(table, currency, on)
            if rate is None and own and None not in job_file.repeated["rate"]:  # else its rate may be what was refused
                late = on and any(row.currency == currency for row in table)
                findings.refuse(
                    job_file.where(section, i, "price_currency"),
                    f"a rate of {currency}" + (f" of {on} or before" if late else ""),
                    "later ones only" if late else "none", f'add [[rate]] with currency = "{currency}", date and rate',
                )
            elif rate is not None:
                found[currency] = rate
    return found


def in_own_currency(items: Sequence[Priced], currencies: Sequence[str | None], rates: dict[str, Rate]) -> tuple:
    """Leathers or rolls with their prices turned into the job's own currency; `currencies` as the job file has them."""
    done = []
    for item, currency in zip(items, currencies, strict=True):
        rate = rates.get(currency or "")
        if rate is None:
            done.append(item)
            continue
        more: dict[str, Any] = {"currency": rate.currency, "rate": rate.rate, "rate_date": rate.date}
        if isinstance(item, Roll):
            more["price_per_m"] = rate.converted(item.price_per_m)
        else:
            more |= {"price": rate.converted(item.price), "price_by_quality": tuple(
                (quality, rate.converted(price)) for quality, price in item.price_by_quality)}
        done.append(replace(item, **more))
    return tuple(done)


def hides_in_own_currency(hides: Sequence[Hide], leathers: Sequence[Leather]) -> tuple[Hide, ...]:
    """Hides with prices of their own, which are in the currency of their leather."""
    rates = {one.name: Rate(one.currency, one.rate_date, one.rate) for one in leathers if one.currency}
    return tuple(
        replace(hide, price=rates[hide.leather].converted(hide.price))
        if hide.price is not None and hide.leather in rates else hide for hide in hides
    )


def said(leathers: Sequence[Leather], rolls: Sequence[Roll], own: str) -> tuple[str, ...]:
    """Which prices were turned into the job's currency, and how."""
    names: dict[tuple, list[str]] = {}
    items: list[Leather | Roll] = [*leathers, *rolls]
    for item in items:
        if item.currency:
            name = item.roll_id if isinstance(item, Roll) else item.name
            names.setdefault((item.currency, item.rate, item.rate_date), []).append(name)
    return tuple(
        f"{', '.join(mine)}: priced in {currency}, at {rate} {own} for 1 {currency} as of {day}."
        for (currency, rate, day), mine in names.items()
    )
