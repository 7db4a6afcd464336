"""Tickets as files: one PDF a batch, and their lines in the index of all sheets."""

from collections.abc import Mapping, Sequence

from nest.cutplan.stamp import Stamp
from nest.pieces.piece import Foot
from nest.plan import Plan
from nest.report.tables import Table
from nest.sheets import MoreSheet
from nest.text import count_words
from nest.tickets.batches import Batch
from nest.tickets.steps import UNPLANNED, Planned
from nest.tickets.ticket import ticket_pages


def tickets_of(
    plan: Plan, batches: Sequence[Batch], files: Mapping[str, str], verified: bool, stamp: Stamp,
    planned: Mapping[str, Planned] | None = None,
) -> tuple[MoreSheet, ...]:
    """The ticket of each batch as a sheet to be written; `files` and `planned` go by the name of the batch."""
    return tuple(
        MoreSheet(
            files[batch.name], f"Batch {batch.name}",
            tuple(ticket_pages(plan, batch, verified, stamp, (planned or {}).get(batch.name, UNPLANNED))),
            (f"batch {batch.name}", f"from {', '.join(batch.hides)}", count_words(batch.pairs, "pair"),
             str(len(batch.vamps)), ""),
        )
        for batch in batches
    )


def batch_table(batches: Sequence[Batch]) -> Table:
    """Every vamp of every batch: where it was cut, and what it is, in the words of the list of outcomes."""
    rows = [
        (batch.name, vamp.hide_id, vamp.number, batch.style, vamp.size,
         "" if vamp.foot is Foot.EITHER else str(vamp.foot), vamp.pair or None)
        for batch in batches for vamp in batch.vamps
    ]
    return Table("batches", ("batch", "hide", "piece", "style", "size", "side", "pair"), tuple(rows))
