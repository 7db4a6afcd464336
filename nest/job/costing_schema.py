"""Sections of the job file about money: [costing] and [[rate]]."""

from pydantic import model_validator

from nest.job.fields import (
    AnyPercent,
    Currency,
    Day,
    Money,
    PairsPerYear,
    PercentBelow100,
    PercentOfMaterial,
    RateAbove0,
    Seconds,
    Section,
    fault,
)


class CostingSection(Section):
    """[costing]: see nest.job.costing.Costing."""

    labour_per_hour: Money | None = None
    scrap_per_m2: Money | None = None
    setup_per_hide: Money | None = None
    setup_per_lay: Money | None = None
    press_per_hour: Money | None = None
    press_s_per_pair: Seconds | None = None
    freight_percent: PercentOfMaterial = {}
    duty_percent: PercentOfMaterial = {}
    overhead_percent: AnyPercent | None = None
    margin_percent: PercentBelow100 | None = None
    rates_on: Day | None = None
    """The day whose rates of exchange hold; without it the last ones of the table."""
    pairs_per_year: PairsPerYear = {}
    """By style; of "" for all styles together."""
    candidates: dict[str, list[str]] = {}
    """Other leathers for a leather, other rolls for a roll: { "Black side" = ["Brown side"] }."""

    @model_validator(mode="after")
    def _knows_wage_and_time(self):
        if (self.press_per_hour is None) != (self.press_s_per_pair is None):
            given, other = "press_per_hour", "press_s_per_pair"
            if self.press_per_hour is None:
                given, other = other, given
            raise fault(f"{other} beside {given}", "none", f"add {other}, or take out {given}")
        return self


class RateSection(Section):
    """[[rate]]: what one unit of a currency is in that of the job, from a day on."""

    currency: Currency
    date: Day
    rate: RateAbove0
