"""Advice on allowances from a record of trim: only where its interval supports a change.

As after a single trial (`nest.trial.revise`), mean − k standard deviations of a piece is to be the trim wanted; here of
a piece of lots and weeks to come, so that their scatter counts too. The change that it takes has an interval:

* Where all of it is above zero the allowance grows by what is to be expected, rounded up to half a millimetre.
* Where all of it allows half a millimetre less, the allowance shrinks, by no more than the interval allows, and never
  below the least that the press needs, nor where a piece was short of the template line.
* Where it lies within half a millimetre of zero the allowance is right. All else: cannot tell.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil

from nest.drift.weeks import Drift, SizeTrim
from nest.job.job import Job
from nest.pieces.piece import Part
from nest.pieces.sizing import ordered, size_system
from nest.pieces.style import Style
from nest.trial.effective import ROUNDING_MM, allowances_by_size, with_widening
from nest.trial.revise import RejectRate, StyleRevision


class Conclusion(StrEnum):
    """What the record says about an allowance."""

    MORE = "more"
    LESS = "less"
    RIGHT = "right as it is"
    CANNOT_TELL = "cannot tell"
    SHORT = "a piece was short"
    LEAST = "the press needs it"


@dataclass(frozen=True, slots=True)
class Advice:
    """The allowance of one part of one size: as it is, and as it should be, mm.

    mean_mm, mean_low_mm, mean_high_mm : trim left, with its 95 % interval. low_mm : mean less k standard deviations.
    change_low_mm, change_high_mm : 95 % interval of the change that leaves the trim wanted.
    """

    style: str
    size: str
    part: Part
    pieces: int
    mean_mm: float
    mean_low_mm: float
    mean_high_mm: float
    low_mm: float
    wanted_mm: float
    change_low_mm: float
    change_high_mm: float
    now_mm: float
    new_mm: float
    conclusion: Conclusion


def advised(found: Drift, job: Job, k: float, wanted: Mapping[Part, float] | None = None) -> tuple[Advice, ...]:
    """Advice for every part and size measured; `wanted` as `nest.trial.revise.revise` has it."""
    styles = {style.name: style for style in job.styles}
    return tuple(
        _advice(one, styles[one.style], k, (wanted or {}).get(one.part))
        for part in found.parts for one in part.sizes
    )


def _advice(one: SizeTrim, style: Style, k: float, wanted: float | None) -> Advice:
    least = style.allowances.least_of(one.part)
    aim = least if wanted is None else wanted
    left = one.low(k)
    low, high = (aim - edge for edge in reversed(left.interval))
    grown = one.now_mm + max(aim - left.mean, -min(0.0, one.least_mm))
    less = max(_up(one.now_mm + high), least)
    new = one.now_mm
    if low > 0.0:
        conclusion, new = Conclusion.MORE, max(_up(grown), one.now_mm)
    elif one.least_mm < 0.0:
        conclusion = Conclusion.SHORT
    elif less <= one.now_mm - ROUNDING_MM + 1e-9:
        conclusion, new = Conclusion.LESS, less
    elif _up(one.now_mm + high) <= one.now_mm - ROUNDING_MM + 1e-9:
        conclusion = Conclusion.LEAST
    else:
        conclusion = Conclusion.RIGHT if low >= -ROUNDING_MM and high <= ROUNDING_MM else Conclusion.CANNOT_TELL
    return Advice(one.style, one.size, one.part, one.pieces, one.mean.mean, *one.mean.interval, left.mean, aim, low,
                  high, one.now_mm, new, conclusion)


def _up(mm: float) -> float:
    return ceil(mm / ROUNDING_MM - 1e-6) * ROUNDING_MM


def revisions_of(job: Job, advice: Sequence[Advice]) -> tuple[StyleRevision, ...]:
    """The styles of which an allowance changes, as a trial gives them; sizes not measured stay as they are."""
    found = []
    for style in job.styles:
        changed = {(one.size, one.part): one for one in advice
                   if one.style == style.name and one.conclusion in (Conclusion.MORE, Conclusion.LESS)}
        if not changed:
            continue
        measured = [one.size for one in advice if one.style == style.name]
        sizes = ordered(size_system(style.grading.system), dict.fromkeys(
            (*measured, *(line.size for line in job.order if line.style == style.name))))
        values = {size: [_allowance(style, size, part, changed.get((size, part))) for part in Part] for size in sizes}
        revised = replace(style, allowances=allowances_by_size(style.allowances, values))
        nothing = RejectRate(0, 0, 0.0, 1.0, ())
        found.append(StyleRevision(style, revised, (), tuple(dict.fromkeys(measured)), (), nothing, ()))
    return tuple(found)


def _allowance(style: Style, size: str, part: Part, advice: Advice | None) -> float:
    given = style.allowances.for_size(size).of(part)
    if advice is None:
        return given
    if part is not Part.SIDE:
        return advice.new_mm
    return with_widening(style, size, style.widening_percent, advice.new_mm)
