"""What a plan keeps of the search that made it: its limits, what it took, and what was expected of it."""

from collections.abc import Sequence

from nest.errors import InputProblems
from nest.job.job import Job
from nest.perpair.needs import leather_needs
from nest.pieces.piece import Piece
from nest.pieces.quantities import CutQuantity
from nest.plan import ExpectedLeather, Search
from nest.planning.run import Run

SECONDS_DIGITS = 1


def search_of(job: Job, quantities: Sequence[CutQuantity], pieces: Sequence[Piece], run: Run) -> Search:
    """The search so far, with the leather that the estimate says for these pairs.

    By passes alone no time is kept, so that the same job and passes give the same plan.
    """
    try:
        needs = leather_needs(job, quantities, pieces)
    except InputProblems:  # the base size alone may be impossible to make; no estimate then, but a plan
        needs = ()
    expected = tuple(
        ExpectedLeather(need.leather, need.material_mm2, need.rough_mm2, need.error_percent)
        for need in needs if need.material_mm2 and need.error_percent is not None
    )
    spent = None if run.seconds is None else round(run.elapsed, SECONDS_DIGITS)
    return Search(run.seconds, spent, run.passes, run.cancelled(), expected)
