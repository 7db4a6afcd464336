"""What a plan keeps of the search that made it: its limits, what it took, and what was expected of it."""

from collections.abc import Sequence

from nest.plan import ExpectedLeather, Search
from nest.planning.run import Run

SECONDS_DIGITS = 1


def search_of(run: Run, expected: Sequence[ExpectedLeather]) -> Search:
    """The search so far, with the leather that was estimated for these pairs.

    By passes alone no time is kept, so that the same job and passes give the same plan.
    """
    spent = None if run.seconds is None else round(run.elapsed, SECONDS_DIGITS)
    return Search(run.seconds, spent, run.passes, run.cancelled(), tuple(expected), run.courses.known)
