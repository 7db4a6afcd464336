"""How far a run is, for whoever listens."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from nest.placement.problem import Listener, Progress


@dataclass(frozen=True, slots=True)
class PlanProgress:
    """What a listener hears while a plan is made."""

    stage: str
    """"rolls", "hides", "choice", "room" or "finish"."""
    material_id: str
    """Hide or roll that is worked on; "" for none."""
    done_pieces: int
    total_pieces: int
    yield_so_far: float
    """Share of the ground of this hide, or of the strip of this roll, that pieces cover so far; 0..1."""
    seconds: float


@dataclass(slots=True)
class Watch:
    """Counts the pieces placed, and tells a listener; one for a run.

    settled : pieces on the leathers and rolls that are done with.
    here : pieces on the leather or roll in hand, beside those that the search in hand places.
    """

    listener: Callable[[PlanProgress], None] | None = None
    total: int = 0
    begin: float = field(default_factory=time.monotonic)
    settled: int = 0
    here: int = 0

    def settle(self, pieces: int) -> None:
        """Be done with a leather or roll on which this many pieces lie."""
        self.settled += pieces
        self.here = 0

    def tell(self, stage: str, material_id: str = "", more: int = 0, share: float = 0.0) -> None:
        """Tell the listener how far the run is, `more` pieces being placed by the search in hand."""
        if self.listener is not None:
            placed = self.settled + self.here + more
            self.listener(PlanProgress(stage, material_id, placed, self.total, share, time.monotonic() - self.begin))

    def hears(self, stage: str, material_id: str) -> Listener | None:
        """A listener for one search."""
        if self.listener is None:
            return None

        def hear(progress: Progress) -> None:
            self.tell(stage, material_id, progress.placed, progress.figure)

        return hear
