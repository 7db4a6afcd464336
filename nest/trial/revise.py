"""From a crimping trial to revised allowances: as little as leaves the wanted trim everywhere, with a stated safety.

What a millimetre of allowance more would leave is a millimetre of trim more. So where the pieces of a size were left
with m ± s mm at a part (mean and standard deviation), the allowance changes by

    wanted − (m − k s),

and mean − k standard deviations is then the trim wanted. The standard deviation is pooled over the sizes of a style
(within sizes, n − 1 each), for a few pieces a size tell little of the spread. k is given, or it is the one-sided
tolerance factor for a share of all pieces with a confidence (`nest.statistics.tolerance_factor`), which is larger
the fewer pieces were measured.

* Where one piece was short of the template line (trim below 0), the allowance grows at least by what that piece
  lacked. It never shrinks there, nor in sizes that are interpolated from there.
* With one piece a size the spread is not known: allowances may grow, never shrink.
* No allowance falls below the least the press needs, whatever trim is wanted; a note says where that holds one up. New
  allowances are rounded up to half a millimetre.
* Sides: the press's widening is taken off them (`nest.pieces.rough`). The trial's mean widening takes the place of the
  old one, rounded to a tenth of a percent, and the side allowance is set so that what is left of it at the widest place
  of the template is right. After a shortage at the side the widening taken off is not raised towards less allowance.
* Sizes not tried are interpolated between the nearest sizes tried, along the scale of sizes; beyond them the change of
  the nearest is taken over. They are named.
* Reject rate: rejected ÷ those of which it is known, with its interval (Clopper & Pearson). The style's own rate stays
  where it lies within the interval; otherwise the trial's takes its place.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum, sqrt

import numpy as np

from nest.job.job import Job
from nest.pieces.piece import Part
from nest.pieces.sizing import ordered, position, size_system
from nest.pieces.style import Style
from nest.statistics import share_interval, tolerance_factor
from nest.trial.effective import allowances_by_size, effective_allowance, rounded, with_widening
from nest.trial.measured import TriedPiece
from nest.trial.untried import neighbours, untried_notes

CONFIDENCE = 0.95

HELD_MM = 0.05
"""An allowance held up by less than this is not worth a word."""


@dataclass(frozen=True, slots=True)
class Safety:
    """How sure the trim wanted is to be left: mean − `k` sd; or, with k None, for `cover` of all pieces.

    The latter with `confidence`, in the sense of a one-sided tolerance limit for normal populations.
    """

    k: float | None = 2.0
    cover: float = 0.95
    confidence: float = 0.9

    def factor(self, count: int, freedom: int) -> float:
        """k for a mean of `count` pieces and a standard deviation of `freedom` degrees of freedom."""
        return self.k if self.k is not None else tolerance_factor(self.cover, self.confidence, count, freedom)

    def words(self) -> str:
        """The rule in words."""
        if self.k is not None:
            return f"mean − {self.k:g} standard deviations leave the trim wanted"
        return f"{self.cover:.0%} of all pieces keep the trim wanted, with {self.confidence:.0%} confidence"


@dataclass(frozen=True, slots=True)
class PartResult:
    """What was measured at one part of one size, and the allowance that follows; mm.

    own_sd : of this size alone, sd : pooled over the sizes; None where there is nothing to tell them by.
    short : a piece did not reach the template line. lean : mean − k sd is less than the trim wanted.
    asked_mm : what leaves the trim wanted; new_mm is more where the press needs more.
    For the side, allowances are those at the widest place, widening taken off.
    """

    size: str
    part: Part
    count: int
    mean_mm: float
    own_sd_mm: float | None
    sd_mm: float | None
    worst_mm: float
    wanted_mm: float
    factor: float | None
    short: bool
    lean: bool
    now_mm: float
    asked_mm: float
    new_mm: float


@dataclass(frozen=True, slots=True)
class RejectRate:
    """Pieces rejected of those of which it is known, with the 95 % interval of the rate (0..1), and their reasons."""

    tried: int
    rejected: int
    low: float
    high: float
    reasons: tuple[tuple[str, int], ...]

    @property
    def rate(self) -> float | None:
        """Rejected ÷ tried; None where nothing is known."""
        return self.rejected / self.tried if self.tried else None


@dataclass(frozen=True, slots=True)
class StyleRevision:
    """One style after its trial. `revised` is the style with its new figures; `sizes` were tried, `others` not."""

    style: Style
    revised: Style
    results: tuple[PartResult, ...]
    sizes: tuple[str, ...]
    others: tuple[str, ...]
    rejects: RejectRate
    notes: tuple[str, ...]

    @property
    def shortages(self) -> tuple[PartResult, ...]:
        """Where a piece was short of the template line: it spoils pieces, so it comes first."""
        return tuple(result for result in self.results if result.short)


def revise(
    job: Job, pieces: Sequence[TriedPiece], safety: Safety | None = None, wanted: Mapping[Part, float] | None = None
) -> tuple[StyleRevision, ...]:
    """Revise every style of which pieces were tried.

    Parameters
    ----------
    wanted : trim to be left beyond the template line by part, mm; by default the style's least allowances.
    """
    safety = safety or Safety()
    return tuple(
        _revise_style(job, style, mine, safety, wanted or {})
        for style in job.styles if (mine := [piece for piece in pieces if piece.style == style.name])
    )


def revised_job(job: Job, revisions: Sequence[StyleRevision], rejects: bool = True) -> Job:
    """The job with its revised styles; with `rejects` off they keep their old reject rates."""
    new = {one.style.name: one.revised for one in revisions}
    styles = tuple(new.get(style.name, style) for style in job.styles)
    if not rejects:
        styles = tuple(
            replace(style, reject_percent=old.reject_percent) for style, old in zip(styles, job.styles, strict=True)
        )
    return replace(job, styles=styles)


def jobs_to_compare(job: Job, revisions: Sequence[StyleRevision]) -> dict[str, Job]:
    """The job as it is, with its new allowances, and with its new reject rates too where they change; by name."""
    jobs = {"before": job, "new allowances": revised_job(job, revisions, rejects=False)}
    whole = revised_job(job, revisions)
    return jobs if whole == jobs["new allowances"] else jobs | {"new allowances and reject rate": whole}


def _revise_style(
    job: Job, style: Style, pieces: Sequence[TriedPiece], safety: Safety, wanted: Mapping[Part, float]
) -> StyleRevision:
    system = size_system(style.grading.system)
    sizes = ordered(system, dict.fromkeys(piece.size for piece in pieces))
    every = ordered(system, dict.fromkeys((*sizes, *(line.size for line in job.order if line.style == style.name))))
    notes: list[str] = []
    results = []
    for part in Part:
        aim = wanted.get(part, style.allowances.least_of(part))
        results += _results(style, part, sizes, pieces, safety, aim, notes)
    widening = _widening(style, pieces, any(one.short for one in results if one.part is Part.SIDE), notes)
    changes = {part: {one.size: one for one in results if one.part is part} for part in Part}
    values = {size: [_new_allowance(style, size, part, changes[part], widening) for part in Part] for size in every}
    others = tuple(size for size in every if size not in sizes)
    notes += untried_notes(style, every, {part: [*changes[part]] for part in Part})
    unordered = [size for size in sizes if (style.name, size) not in {(line.style, line.size) for line in job.order}]
    if unordered:
        notes.append(f"Tried, but not ordered: {', '.join(unordered)}.")
    rejects = _rejects(pieces)
    revised = replace(
        style, allowances=allowances_by_size(style.allowances, values), widening_percent=widening,
        reject_percent=_reject_percent(style, rejects, notes),
    )
    return StyleRevision(style, revised, tuple(results), sizes, others, rejects, tuple(notes))


def _results(style, part: Part, sizes, pieces, safety: Safety, aim: float, notes: list[str]) -> list[PartResult]:
    """Results of one part, size by size."""
    measured = {
        size: values for size in sizes
        if (values := [trim for piece in pieces if piece.size == size and (trim := piece.trim(part)) is not None])
    }
    if not measured:
        notes.append(f"Nothing was measured at the {part}; its allowance stays.")
        return []
    freedom = sum(len(values) - 1 for values in measured.values())
    squares = fsum(float(np.var(values)) * len(values) for values in measured.values())
    sd = sqrt(squares / freedom) if freedom else None
    if sd is None:
        notes.append(f"One piece a size tells no spread at the {part}; its allowance may grow, not shrink.")
    found = []
    for size, values in measured.items():
        mean, worst = float(np.mean(values)), min(values)
        factor = None if sd is None else safety.factor(len(values), freedom)
        now = effective_allowance(style, size, part, style.widening_percent)
        short = worst < 0.0
        change = aim - mean + (0.0 if sd is None or factor is None else factor * sd)
        lean = change > 1e-9
        if sd is None:
            change = max(0.0, change)
        if short:
            change = max(change, -worst)
        asked, least = now + change, style.allowances.least_of(part)
        new = max(asked, least) if change < 0.0 else asked
        own = float(np.std(values, ddof=1)) if len(values) > 1 else None
        found.append(PartResult(
            size, part, len(values), mean, own, sd, worst, aim, factor, short, lean, now, asked, rounded(now, new),
        ))
    held = [result for result in found if result.asked_mm < style.allowances.least_of(part) - HELD_MM]
    if held:
        said = ", ".join(f"{result.asked_mm:.1f} mm in size {result.size}" for result in held)
        notes.append(
            f"At the {part} {said} would leave the {aim:g} mm wanted, but the press needs {least:g} mm there "
            f"(least_{part}_mm), and no less is given; change least_{part}_mm if the press can do with less."
        )
    return found


def _widening(style: Style, pieces: Sequence[TriedPiece], side_short: bool, notes: list[str]) -> float:
    """Widening to count on, percent."""
    values = [piece.widening_percent for piece in pieces if piece.widening_percent is not None]
    now = style.widening_percent
    if len(values) < 2:
        return now
    mean = float(np.mean(values))
    new = min(max(round(mean, 1), 0.0), 50.0)
    if side_short and new < now:
        notes.append(
            f"The widening measured is {mean:.1f} % on {len(values)} pieces; after the shortage at the side {now:g} % "
            "stays."
        )
        return now
    notes.append(
        f"Widening: {mean:.1f} % measured on {len(values)} pieces (standard deviation {np.std(values, ddof=1):.1f}), "
        f"{now:g} % before; {new:g} % is taken off the sides now."
    )
    return new


def _new_allowance(style: Style, size: str, part: Part, results: Mapping[str, PartResult], widening: float) -> float:
    """The new allowance of one size, tried or not."""
    allowances = style.allowances.for_size(size)
    if not results:
        kept = allowances.of(part)
        return kept if part is not Part.SIDE else with_widening(style, size, widening, effective_allowance(
            style, size, part, style.widening_percent))
    now = effective_allowance(style, size, part, style.widening_percent)
    if size in results:
        new = results[size].new_mm
    else:
        new = now + _interpolated(style, size, results)
        new = rounded(now, max(new, allowances.least_of(part)) if new < now else new)
    return new if part is not Part.SIDE else with_widening(style, size, widening, new)


def _interpolated(style: Style, size: str, results: Mapping[str, PartResult]) -> float:
    """Change of allowance of a size between those tried; never less where a neighbour was short."""
    system = size_system(style.grading.system)
    at = float(position(system, size))
    near = [(float(position(system, one)), results[one]) for one in neighbours(style, size, [*results])]
    changes = [result.new_mm - result.now_mm for _, result in near]
    change = float(np.interp(at, [place for place, _ in near], changes))
    return max(0.0, change) if any(result.short for _, result in near) else change


def _rejects(pieces: Sequence[TriedPiece]) -> RejectRate:
    known = [piece for piece in pieces if piece.rejected is not None]
    failed = [piece for piece in known if piece.rejected]
    reasons = Counter(piece.reason for piece in failed)
    low, high = share_interval(len(failed), len(known), CONFIDENCE) if known else (0.0, 1.0)
    return RejectRate(len(known), len(failed), low, high, tuple(reasons.most_common()))


def _reject_percent(style: Style, rejects: RejectRate, notes: list[str]) -> float:
    """The reject rate to count on, percent."""
    now = style.reject_percent
    if rejects.rate is None:
        notes.append(f"The table does not say which pieces were rejected; {now:g} % stays.")
        return now
    reasons = "".join(f", {count} for {reason}" for reason, count in rejects.reasons)
    words = (f"Rejected: {rejects.rejected} of {rejects.tried}{reasons}: {rejects.rate:.1%} "
             f"({CONFIDENCE:.0%} interval {rejects.low:.1%} to {rejects.high:.1%})")
    if rejects.low <= now / 100.0 <= rejects.high:
        notes.append(f"{words}; {now:g} % is within it and stays.")
        return now
    if rejects.rejected == rejects.tried:
        notes.append(f"{words}; no rate serves when every piece fails, {now:g} % stays.")
        return now
    new = round(100.0 * rejects.rate, 1)
    notes.append(f"{words}; {new:g} % takes the place of {now:g} %.")
    if style.reject_percent_by_quality:
        notes.append("The reject rates by class of leather stay as they are.")
    return new
