"""A job moved by hand: millimetres, prices, rejects, rules and leathers, each as far as a slider is pushed."""

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from nest.accounts.candidates import Changed, with_material
from nest.accounts.estimate import GroundOf
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.pieces.piece import Part
from nest.stock.material import Hide, Leather, Roll
from nest.whatif.changes import with_allowance

MOST_PERCENT = 90.0
"""Prices move no further than this, either way."""


@dataclass(frozen=True, slots=True)
class Moved:
    """How far each thing is moved; empty, or None, where it is not.

    more_mm : (style, part, mm more than now). prices : (leather or roll, percent more than now).
    rejects : (style, percent of its pairs in all). instead : (leather, what takes its place).
    """

    more_mm: tuple[tuple[str, Part, float], ...] = ()
    prices: tuple[tuple[str, float], ...] = ()
    rejects: tuple[tuple[str, float], ...] = ()
    instead: tuple[tuple[str, str], ...] = ()
    tolerance_deg: float | None = None
    bias_leave: bool | None = None
    pairs_from_one_hide: bool | None = None
    flaws_under_trim: bool | None = None
    hide_gap_mm: float | None = None

    @property
    def rules(self) -> dict[str, Any]:
        """The rules that are changed, by name."""
        names = ("tolerance_deg", "bias_leave", "pairs_from_one_hide", "flaws_under_trim")
        return {name: getattr(self, name) for name in names if getattr(self, name) is not None}

    @property
    def boxes(self) -> "Moved":
        """What of it changes ground or lattice as a whole: leathers, rules, gap."""
        return replace(self, more_mm=(), prices=(), rejects=())


def moved_job(job: Job, moved: Moved, ground: GroundOf) -> Changed:
    """The job with everything moved, and how it is priced.

    Raises
    ------
    PlanProblem
        If something is moved that the job does not have, or further than it goes.
    """
    _check(job, moved)
    styles = tuple(
        replace(style, rules=replace(style.rules, **moved.rules)) if moved.rules else style for style in job.styles
    )
    for name, percent in moved.rejects:
        styles = tuple(
            replace(one, reject_percent=percent, reject_percent_by_quality=()) if one.name == name else one
            for one in styles
        )
    changed = replace(job, styles=styles) if moved.rules or moved.rejects else job
    if moved.hide_gap_mm is not None and moved.hide_gap_mm != job.settings.hide_gap_mm:
        changed = replace(changed, settings=replace(job.settings, hide_gap_mm=moved.hide_gap_mm))
    for name, percent in moved.prices:
        changed = _dearer(changed, name, 1 + Decimal(str(percent)) / 100)
    for style, part, mm in moved.more_mm:
        try:
            changed = with_allowance(changed, style, part, mm) if mm else changed
        except ValueError as error:
            raise PlanProblem(f"{style}: {error}; move it less.") from error
    found = Changed(changed, ground, {}, ())
    for old, new in moved.instead:
        swapped = with_material(found.job, old, new, found.ground)
        found = Changed(swapped.job, swapped.ground, {**found.priced_as, **swapped.priced_as},
                        (*found.notes, *swapped.notes))
    return found


def _check(job: Job, moved: Moved) -> None:
    styles, leathers = {one.name for one in job.styles}, {one.name for one in job.leathers}
    stock = leathers | {one.roll_id for one in job.rolls}
    for name in (*(one[0] for one in moved.more_mm), *(one[0] for one in moved.rejects)):
        if name not in styles:
            raise PlanProblem(f"the plan has no style named {name!r}; it has {', '.join(sorted(styles))}.")
    for name, percent in moved.prices:
        if name not in stock or not abs(percent) <= MOST_PERCENT:
            raise PlanProblem(f"the price of {name!r} cannot move by {percent:g} %; name a leather or roll of the plan "
                              f"and at most {MOST_PERCENT:g} %.")
    for pair in moved.instead:
        if not leathers.issuperset(pair):
            raise PlanProblem(f"{pair[1]!r} cannot take the place of {pair[0]!r}; name leathers of the plan.")
    if any(not 0.0 <= percent <= MOST_PERCENT for _, percent in moved.rejects):
        raise PlanProblem(f"rejects lie from 0 to {MOST_PERCENT:g} % of the pairs; correct them.")
    if moved.tolerance_deg is not None and not 0.0 <= moved.tolerance_deg <= 45.0:
        raise PlanProblem(f"the tolerance lies from 0 to 45°, not at {moved.tolerance_deg:g}°; correct it.")
    if moved.hide_gap_mm is not None and not 0.0 <= moved.hide_gap_mm <= 100.0:
        raise PlanProblem(f"the gap lies from 0 to 100 mm, not at {moved.hide_gap_mm:g} mm; correct it.")


def _dearer(job: Job, name: str, factor: Decimal) -> Job:
    """The job with every price of a leather, or of a roll, times a factor."""

    def leather(one: Leather) -> Leather:
        classes = tuple((quality, factor * price) for quality, price in one.price_by_quality)
        return replace(one, price=factor * one.price, price_by_quality=classes)

    def hide(one: Hide) -> Hide:
        return one if one.price is None or one.leather != name else replace(one, price=factor * one.price)

    def roll(one: Roll) -> Roll:
        return replace(one, price_per_m=factor * one.price_per_m)

    return replace(
        job, leathers=tuple(leather(one) if one.name == name else one for one in job.leathers),
        hides=tuple(map(hide, job.hides)), rolls=tuple(roll(one) if one.roll_id == name else one for one in job.rolls),
    )
