"""What a search may spend: seconds of wall clock, passes, or both, and until the user asks to stop."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

LEAST_SHARE = 0.25
"""However long the tables took, a search has this share of its seconds."""


def never() -> bool:
    """Nobody asks to stop."""
    return False


@dataclass(frozen=True, slots=True)
class Budget:
    """What one search may spend. Passes alone make it reproducible: same problem, seed and passes, same layout.

    seconds : wall-clock limit, or None. passes : limit on passes of each search, or None.
    cancelled : whether the user has asked to stop.
    begin : when the spending began, by `time.monotonic`.
    """

    seconds: float | None = None
    passes: int | None = None
    cancelled: Callable[[], bool] = never
    begin: float = field(default_factory=time.monotonic, compare=False)

    def started(self) -> "Budget":
        """The same budget, spent from now on."""
        return replace(self, begin=time.monotonic())

    @property
    def timed(self) -> bool:
        """Whether time alone ends the search."""
        return self.seconds is not None and self.passes is None

    @property
    def elapsed(self) -> float:
        """Seconds since the spending began."""
        return time.monotonic() - self.begin

    @property
    def left(self) -> float:
        """Seconds left, at least a quarter of all; infinite without a limit on time."""
        if self.seconds is None:
            return float("inf")
        return max(self.seconds - self.elapsed, LEAST_SHARE * self.seconds)
