"""Estimates of a changed job from a few of its sizes: the others lie between them.

A change of millimetres moves what a pair takes steadily from size to size, so that the ends of the run and its middle
tell the rest. Of a size between two of them the difference to the job as it is lies between their differences, in
proportion to the steps. Where a style has no more sizes than that, nothing is left out.
"""

from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace

from nest.accounts.estimate import Cell, GroundOf, PairEstimate, pair_estimates
from nest.job.job import Job
from nest.pieces.remembered import Make
from nest.pieces.style import Style


class BetweenSizes:
    """`nest.accounts.estimate.pair_estimates` of a job, whole, and of changes of it, from the ends and the middle."""

    def __init__(self, job: Job, make: Make):
        self._job, self._make = job, make
        self._own: dict[tuple, list[PairEstimate]] = {}

    def __call__(
        self, job: Job, style: Style, sizes: Sequence[str], cell: Cell, notes: dict[str, None], ground: GroundOf
    ) -> list[PairEstimate]:
        """Estimates of each size; arguments and errors as of `pair_estimates`."""
        own = next((one for one in self._job.styles if one.name == style.name), style)
        key = style.name, tuple(sizes)
        if key not in self._own and sizes:
            self._own[key] = pair_estimates(self._job, own, sizes, cell, notes, ground, make=self._make)
        if style is own and job.settings is self._job.settings or not sizes:
            return self._own.get(key, [])
        few = sampled(len(sizes))
        made = pair_estimates(job, style, [sizes[i] for i in few], cell, notes, ground, make=self._make)
        found = dict(zip(few, made, strict=True))
        before = self._own[key]
        for low, high in zip(few, few[1:], strict=False):
            for i in range(low + 1, high):
                share = (i - low) / (high - low)
                found[i] = moved(before[i], ((before[low], found[low], 1.0 - share), (before[high], found[high], share)))
        return [found[i] for i in range(len(sizes))]


def sampled(count: int) -> list[int]:
    """Which of this many sizes, smallest first, are looked at: both ends of the run."""
    return sorted({0, count - 1})


def moved(own, ends):
    """`own` with each of its measures moved as the measures of `ends` moved: (before, after, weight) of each."""
    changed = {}
    for field in fields(own):
        value = getattr(own, field.name)
        parts = [(getattr(before, field.name), getattr(after, field.name), weight) for before, after, weight in ends]
        if isinstance(value, float):
            changed[field.name] = value + sum(weight * (after - before) for before, after, weight in parts)
        elif field.name == "ground":
            changed[field.name] = parts[0][1]
        elif is_dataclass(value):
            changed[field.name] = moved(value, parts)
    return replace(own, **changed)
