"""What changes of a job save: a good pair before and after, by style and for the order."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from nest.job.job import Job
from nest.whatif.runs import Cost, cost_all
from nest.whatif.slope import Estimated, mean_difference


@dataclass(frozen=True, slots=True)
class Saving:
    """Money of one style, "" for the order: a good pair `before` and `after`, and what it costs more, less below 0.

    change : its name. order : for all pairs ordered. year : None where the job does not say how many.
    """

    style: str
    change: str
    before: float
    after: float
    pair: Estimated
    order: float
    year: float | None


def savings(
    jobs: Mapping[str, Job], styles: Sequence[str], cost: Cost, seeds: Sequence[int], *,
    cancelled: Callable[[], bool] = lambda: False, tell: Callable[[str, int, int], None] | None = None,
) -> tuple[Saving, ...]:
    """Savings by style and for the order, where both sides were costed; the first of the jobs is the one before."""
    (now, job), *_ = jobs.items()
    runs = cost_all(jobs, seeds, cost, cancelled=cancelled, tell=tell).sheets
    found = []
    for change in [*jobs][1:]:
        for style in (*styles, ""):
            wanted = sum(line.pairs for line in job.order if style in ("", line.style))
            before, after = (
                {seed: float(row.exact_pair) for seed, sheet in runs.get(key, {}).items()
                 for row in (*sheet.styles, sheet.order) if row.style == style and row.exact_pair is not None}
                for key in (now, change)
            )
            gap, a_year = mean_difference(before, after), job.settings.costing.pairs_a_year(style, job.order)
            if gap is not None:
                both = before.keys() & after.keys()
                found.append(Saving(
                    style, change, fsum(before[seed] for seed in both) / len(both),
                    fsum(after[seed] for seed in both) / len(both), gap, gap.value * wanted,
                    gap.value * a_year if a_year else None,
                ))
    return tuple(found)
