"""All ways to take one choice of each list, as jobs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import product

from nest.accounts.candidates import Changed, with_material
from nest.accounts.estimate import GroundOf
from nest.accounts.money import apportioned
from nest.job.job import Job
from nest.job.scenarios import AS_IT_IS, Choice, Choices
from nest.whatif.changes import with_allowance


@dataclass(frozen=True, slots=True)
class Scenario:
    """A job changed by one choice of each list.

    names : of the choices, list by list. changed : the job, and how it is priced. plain : the same with the allowances
    that the job has.
    """

    names: tuple[str, ...]
    changed: Changed
    plain: Changed

    @property
    def as_it_is(self) -> bool:
        """Whether nothing is changed."""
        return all(name == AS_IT_IS for name in self.names)


def combined(job: Job, choices: Sequence[Choices], ground: GroundOf) -> tuple[Scenario, ...]:
    """Every scenario, the job as it is first; `ground` as for estimates of the job."""
    plains: dict[tuple[Choice, ...], Changed] = {}
    found = []
    for picked in product(*(one.choices for one in choices)):
        key = tuple(replace(choice, name="", style="", more_mm=()) for choice in picked)
        if key not in plains:
            plains[key] = _changed(job, picked, ground)
        plain = plains[key]
        changed = replace(plain, job=_with_allowances(plain.job, picked))
        found.append(Scenario(tuple(choice.name for choice in picked), changed, plain))
    return tuple(found)


def _changed(job: Job, picked: Sequence[Choice], ground: GroundOf) -> Changed:
    """The job with every choice but those of allowances."""
    found = Changed(job, ground, {}, ())
    for choice in picked:
        if choice.rules:
            styles = tuple(replace(one, rules=replace(one.rules, **dict(choice.rules))) for one in found.job.styles)
            found = replace(found, job=replace(found.job, styles=styles))
        if choice.hide_gap_mm is not None:
            settings = replace(found.job.settings, hide_gap_mm=choice.hide_gap_mm)
            found = replace(found, job=replace(found.job, settings=settings))
        if choice.pairs is not None:
            found = replace(found, job=with_pairs(found.job, choice.pairs))
    for old, new in (swap for choice in picked for swap in choice.instead):
        swapped = with_material(found.job, old, new, found.ground)
        found = Changed(swapped.job, swapped.ground, {**found.priced_as, **swapped.priced_as},
                        (*found.notes, *swapped.notes))
    return found


def _with_allowances(job: Job, picked: Sequence[Choice]) -> Job:
    for choice in picked:
        for style in job.styles:
            if choice.style in ("", style.name):
                for part, mm in choice.more_mm:
                    job = with_allowance(job, style.name, part, mm)
    return job


def with_pairs(job: Job, pairs: int) -> Job:
    """The job with this many pairs ordered, shared out as they are, by largest remainder; rows of none are left out."""
    ordered = sum(line.pairs for line in job.order)
    shares = apportioned([Fraction(line.pairs * pairs, ordered) for line in job.order], Decimal(pairs), 0)
    lines = (replace(line, pairs=int(share)) for line, share in zip(job.order, shares, strict=True))
    return replace(job, order=tuple(line for line in lines if line.pairs))
