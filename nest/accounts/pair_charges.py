"""Charges of pairs that are estimated, not placed: what a pair takes × pairs cut × prices of the stock.

Leather is charged at the prices of the hides in stock, each class and each price of its own by its share of their
measured area, or at the leather's own. Set-up: a pair its part of a hide, and of a lay as long as its roll.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeAlias

from nest.accounts.charges import (
    Charge,
    ChargeKind,
    Pairs,
    material_of,
    press_charges,
    scrap_charge,
    setup_charge,
    unit_mm2,
    work_charge,
)
from nest.job.job import Job
from nest.perpair.use import KnownGround, LeatherUse
from nest.pieces.piece import Role
from nest.stock.material import Hide, Leather
from nest.stock.prices import hide_price
from nest.units import MM2_PER_DM2, MM2_PER_M2


@dataclass(frozen=True, slots=True)
class PairEstimate:
    """What one pair of a style and size takes: leather in mm², reinforcement off its roll in mm; for a pair cut.

    alone, use : where its style has the hides to itself, and where styles of one leather share them.
    """

    style: str
    size: str
    use: LeatherUse
    backing_mm2: float
    roll_mm: float
    cut_mm: float
    """Length of all cut lines of the pair."""
    cuts: int
    alone: LeatherUse
    ground: KnownGround

    @property
    def key(self) -> tuple[str, str]:
        """Style and size."""
        return self.style, self.size

    @property
    def leather_mm2(self) -> float:
        """Leather for the pair."""
        return self.use.material_mm2


PairsOf: TypeAlias = Mapping[tuple[str, str], Pairs]
TakenOf: TypeAlias = Mapping[tuple[str, str], PairEstimate]
"""By style and size."""


@dataclass(frozen=True, slots=True)
class PricedShare:
    """Hides of one price: their share of the measured area of all, 0..1, and what they are charged at."""

    share: Fraction
    material: str
    price: Fraction
    unit: str
    own_price: bool


def priced_shares(leather: Leather, hides: Sequence[Hide]) -> tuple[PricedShare, ...]:
    """Prices of a leather by the hides given, each with its share of their measured area; its own price without any."""
    if not hides:
        return (PricedShare(Fraction(1), leather.name, Fraction(leather.price), leather.price_unit, False),)
    whole = sum(Fraction(hide.measured_area_mm2) for hide in hides)
    shares: dict[tuple[str, Fraction, str, bool], Fraction] = {}
    for hide in hides:
        price, unit = hide_price(hide, leather)
        key = material_of(hide), Fraction(price), unit, hide.price is not None
        shares[key] = shares.get(key, Fraction(0)) + Fraction(hide.measured_area_mm2) / whole
    return tuple(PricedShare(share, *key) for key, share in shares.items())


def pair_charges(job: Job, pairs: PairsOf, found: TakenOf, priced_as: Mapping[str, Sequence[Hide]]) -> list[Charge]:
    """All charges of the pairs but what is added in percent, before price breaks.

    found : what a pair of each style and size takes.
    priced_as : by style, hides whose classes its leather is priced by where none of it is in stock.
    """
    return [*_leather_charges(job, pairs, found, priced_as), *_roll_charges(job, pairs, found),
            *_work_charges(job, pairs, found)]


def _leather_charges(job: Job, pairs: PairsOf, found: TakenOf, priced_as: Mapping[str, Sequence[Hide]]) -> list[Charge]:
    charges: list[Charge] = []
    styles = {style.name: style for style in job.styles}
    scrap = job.settings.costing.scrap_per_m2
    leathers = {leather.name: leather for leather in job.leathers}
    shares: dict[str, tuple[PricedShare, ...]] = {}
    for name in dict.fromkeys(name for name, _ in pairs):
        leather = leathers[styles[name].leather]
        hides = [hide for hide in job.hides if hide.leather == leather.name]
        shares[name] = priced_shares(leather, hides or priced_as.get(name, ()))
    for key, number in pairs.items():
        one, leather = found[key], leathers[styles[key[0]].leather]
        source = (f"estimate: {one.use.parallelogram_mm2 / MM2_PER_DM2:.2f} dm² parallelogram, "
                  f"{one.leather_mm2 / MM2_PER_DM2:.2f} dm² with waste, a pair of {key[0]} {key[1]}")
        taken = number.cut * Fraction(one.leather_mm2)
        charges += [
            Charge(*key, ChargeKind.LEATHER, source, taken * part.share / unit_mm2(part.unit), part.unit, part.price,
                   part.material, leather.name, part.own_price)
            for part in shares[key[0]]
        ]
        if scrap:
            left = number.cut * Fraction(one.leather_mm2 - one.use.rough_mm2) / Fraction(MM2_PER_M2)
            charges.append(scrap_charge(key, source, left, scrap))
    return charges


def _roll_charges(job: Job, pairs: PairsOf, found: TakenOf) -> list[Charge]:
    charges, styles = [], {style.name: style for style in job.styles}
    rolls = {roll.roll_id: roll for roll in job.rolls}
    for key, number in pairs.items():
        roll = rolls.get(styles[key[0]].roll)
        if roll is None:
            continue
        source = (f"estimate: {found[key].backing_mm2 / MM2_PER_DM2:.2f} dm² parallelogram over "
                  f"{roll.usable_width_mm:.0f} mm, a pair of {key[0]} {key[1]}")
        quantity = number.cut * Fraction(found[key].roll_mm) / 1000
        charges.append(Charge(*key, ChargeKind.REINFORCEMENT, source, quantity, "m", Fraction(roll.price_per_m),
                              roll.roll_id, roll.roll_id, role=Role.REINFORCEMENT))
    return charges


def _work_charges(job: Job, pairs: PairsOf, found: TakenOf) -> list[Charge]:
    """Cutting, set-up and pressing; a pair its part of a hide, and of a lay as long as its roll."""
    costing, table = job.settings.costing, job.settings.table
    rolls = {style.name: next((roll for roll in job.rolls if roll.roll_id == style.roll), None) for style in job.styles}
    charges = []
    for key, number in pairs.items():
        one, roll = found[key], rolls[key[0]]
        source = f"estimate: {one.cut_mm / 1000.0:.2f} m of cut lines, a pair of {key[0]} {key[1]}"
        if costing.labour_per_hour:
            seconds = Fraction(one.cut_mm / table.cut_mm_s + one.cuts * table.lift_s)
            charges.append(work_charge(key, source, number.cut * seconds / 3600, costing.labour_per_hour))
        if costing.setup_per_hide:
            hides = number.cut * Fraction(one.leather_mm2) / Fraction(one.ground.hide_mm2)
            charges.append(setup_charge(key, source, hides, costing.setup_per_hide, Role.VAMP))
        if costing.setup_per_lay and roll is not None:
            lays = number.cut * Fraction(one.roll_mm) / Fraction(roll.length_mm)
            charges.append(setup_charge(key, source, lays, costing.setup_per_lay, Role.REINFORCEMENT))
        charges += press_charges(key, source, number.cut, costing)
    return charges
