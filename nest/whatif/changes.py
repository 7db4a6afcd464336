"""Jobs that differ in one thing: an allowance some mm larger or smaller, or one rule."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nest.job.job import Job
from nest.pieces.piece import Part
from nest.pieces.style import Allowances

STEPS_MM = (-2.0, -1.0, 1.0, 2.0)
"""Allowances are tried at these distances from what the job says."""

TOLERANCES_DEG = (5.0, 10.0, 15.0)


@dataclass(frozen=True, slots=True)
class AllowanceChange:
    """The job with `part`'s allowance `mm` larger, in every size of one style."""

    style: str
    part: Part
    mm: float
    job: Job

    @property
    def name(self) -> str:
        """In words."""
        return f"{self.style}: {self.part} {self.mm:+g} mm"


@dataclass(frozen=True, slots=True)
class RuleChange:
    """The job with one rule changed for every style, or one gap; `name` says from what to what."""

    name: str
    job: Job


def with_allowance(job: Job, style: str, part: Part, mm: float) -> Job:
    """The job with the allowance of one part of one style `mm` larger, in every size.

    Raises
    ------
    ValueError
        If that leaves an allowance below 0.
    """
    styles = tuple(
        replace(one, allowances=_larger(one.allowances, part, mm)) if one.name == style else one for one in job.styles
    )
    return replace(job, styles=styles)


def _larger(allowances: Allowances, part: Part, mm: float) -> Allowances:
    key = f"{part}_mm"
    more = {one: mm if one is part else 0.0 for one in Part}
    rows = tuple(
        (size, toe + more[Part.TOE], side + more[Part.SIDE], back + more[Part.BACK])
        for size, toe, side, back in allowances.by_size
    )
    value = getattr(allowances, key) + mm
    if value < 0.0 or any(min(row[1:]) < 0.0 for row in rows):
        raise ValueError(f"expected an allowance of 0 or more at the {part}, found {value:g} mm")
    return replace(allowances, **{key: value}, by_size=rows)


def allowance_changes(
    job: Job, parts: Sequence[Part] = tuple(Part), steps: Sequence[float] = STEPS_MM
) -> tuple[AllowanceChange, ...]:
    """Every part of every style that is ordered, at every step that leaves an allowance of 0 or more."""
    ordered = {line.style for line in job.order}
    changes = []
    for style in job.styles:
        for part in parts if style.name in ordered else ():
            for mm in steps:
                try:
                    changes.append(AllowanceChange(style.name, part, mm, with_allowance(job, style.name, part, mm)))
                except ValueError:
                    continue
    return tuple(changes)


def rule_changes(job: Job) -> tuple[RuleChange, ...]:
    """One change of each rule: tolerance, bias leave, pairs from one hide, flaws under the trim-off band, gap."""
    changes = []
    for degrees in TOLERANCES_DEG:
        changes.append(_ruled(job, f"tolerance ±{degrees:g}°", tolerance_deg=degrees))
    for key, words in (
        ("bias_leave", "bias"), ("pairs_from_one_hide", "pairs from one hide"),
        ("flaws_under_trim", "flaws under the trim-off band"),
    ):
        for value, word in ((True, "allowed"), (False, "not allowed")):
            if key == "pairs_from_one_hide":
                word = "demanded" if value else "not demanded"
            changes.append(_ruled(job, f"{words} {word}", **{key: value}))
    changes += gap_changes(job)
    return tuple(change for change in changes if change.job != job)


def gap_changes(job: Job) -> tuple[RuleChange, ...]:
    """The gap between cut lines on hides, half as wide and twice as wide; 1 mm where there is none."""
    gap = job.settings.hide_gap_mm
    return tuple(
        RuleChange(f"gap {other:g} mm instead of {gap:g} mm",
                   replace(job, settings=replace(job.settings, hide_gap_mm=other)))
        for other in ((0.5 * gap, 2.0 * gap) if gap else (1.0,))
    )


def _ruled(job: Job, name: str, **rules) -> RuleChange:
    styles = tuple(replace(style, rules=replace(style.rules, **rules)) for style in job.styles)
    # Where nothing changes the job stays the very same, so that it can be told.
    return RuleChange(name, job if all(a.rules == b.rules for a, b in zip(styles, job.styles, strict=True))
                      else replace(job, styles=styles))
