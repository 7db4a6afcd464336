"""What other commands take from the ledger: the hides of a lot for an estimate, and how far a plan has come."""

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from nest.cli import ledger as shared
from nest.errors import LedgerProblem
from nest.text import count_words

if TYPE_CHECKING:
    from nest.job.job import Job
    from nest.plan import Begun, Plan


def like_lot(job: "Job", lot: str, address: str) -> "tuple[Job, list[str]]":
    """The job with the hides of a lot, as the ledger has them, in place of its own of that leather; what it rests on.

    Raises
    ------
    LedgerProblem
        If there is no such lot, or its leather is not in the job.
    """
    from nest.ledger.rows import hide_rows
    from nest.ledger.stock import hide_of
    from nest.ledger.used import lots

    opened = shared.opened(address)
    known = {leather.name: leather for leather in job.leathers}
    with opened.reading() as connection:
        rows = [row for row in hide_rows(connection, lot=lot) if not row.parent]
        if not rows:
            raise LedgerProblem(f"the ledger has no lot {lot!r}; see `vampyield stock count`.")
        if strange := {row.leather for row in rows} - known.keys():
            raise LedgerProblem(f"lot {lot} is of {', '.join(sorted(strange))}, which is no leather of the job file.")
        hides = tuple(
            hide_of(opened, connection, row, known[row.leather], measured_margins=job.measured_margins) for row in rows
        )
        found = lots(connection, lot=lot)
    said = []
    for one in found:
        achieved = "none cut yet"
        if one.cutting_yield:
            achieved = f"{one.cut} of them cut at a yield of {one.cutting_yield:.1%}"
        spoiled = f", {200.0 * one.spoiled / one.vamps:.1f} % of the pairs spoiled" if one.vamps else ""
        said.append(
            f"{one.leather}: estimated on the {count_words(one.hides, 'hide')} of lot {lot}"
            f"{f' from {one.supplier}' * (len(found) > 1 and bool(one.supplier))}; "
            f"{achieved}{spoiled}, {one.lowered} given a lower class, {one.withdrawn} withdrawn."
        )
    numbers = Counter(hide.leather for hide in hides)
    said += [f"{leather}: only {count_words(number, 'hide')} to go by." for leather, number in numbers.items()
             if number < 3]
    mine = numbers.keys()
    others = tuple(hide for hide in job.hides if hide.leather not in mine)
    return replace(job, hides=(*others, *hides)), said


def begun_of(plan: "Plan", address: str) -> "Begun":
    """How far the cutting of a plan has come, by the ledger.

    Raises
    ------
    LedgerProblem
        If the ledger does not have the plan.
    """
    from nest.ledger.plans import plan_of, plan_row

    opened = shared.opened(address)
    with opened.reading() as connection:
        return plan_of(opened, connection, plan_row(connection, plan.name.split()[0]))[1]
