"""The paper that goes with a batch from cutting to trimming: one ticket a batch of a style, as PDF.

`batches_of` makes the batches of a plan, `tickets_of` their tickets, `batch_table` a list of what is in which.
"""

from nest.tickets.batches import Batch, batches_of
from nest.tickets.steps import Planned
from nest.tickets.write import batch_table, tickets_of

__all__ = ["Batch", "Planned", "batch_table", "batches_of", "tickets_of"]
