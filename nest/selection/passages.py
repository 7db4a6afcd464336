"""What passes through stations, and when they work: whole minutes only, working or by the clock."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import accumulate


@dataclass(frozen=True, slots=True)
class Task:
    """Work at one station, working minutes of at least 1.

    least_lag : least minutes by the clock from the end of the task before to its start.
    most_span : most minutes by the clock from the start of the task before to its end.
    """

    station: int
    minutes: int
    least_lag: int = 0
    most_span: int | None = None


@dataclass(frozen=True, slots=True)
class Passage:
    """What passes the stations: its tasks in their order, the first not before the working minute `release`."""

    tasks: tuple[Task, ...]
    release: int = 0


@dataclass(frozen=True, slots=True)
class WorkingTime:
    """Stretches of work by the clock, (start, end) in minutes, in their order and apart."""

    stretches: tuple[tuple[int, int], ...]
    _before: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Working minutes before each stretch, and in all."""
        object.__setattr__(self, "_before", tuple(accumulate((b - a for a, b in self.stretches), initial=0)))

    @property
    def minutes(self) -> int:
        """Working minutes in all."""
        return self._before[-1]

    def start(self, minute: int) -> int:
        """The time by the clock at which work begins that begins with this working minute."""
        at = bisect_right(self._before, minute) - 1
        return self.stretches[at][0] + minute - self._before[at]

    def end(self, minute: int) -> int:
        """The time by the clock at which work ends that has taken up to this working minute, above 0."""
        at = bisect_left(self._before, minute) - 1
        return self.stretches[at][0] + minute - self._before[at]

    def first(self, clock: int) -> int:
        """The first working minute that begins at this time or later; `minutes` if there is none."""
        at = bisect_right(self.stretches, clock, key=lambda one: one[1])
        if at == len(self.stretches):
            return self.minutes
        return self._before[at] + max(0, clock - self.stretches[at][0])

    def offsets(self, minutes: int, ending: bool) -> Iterator[tuple[int, int, int]]:
        """First and last working minute, up to `minutes`, of each stretch, and what is added to them for the clock.

        A minute between two stretches belongs to the first where work ends, to the second where it begins.
        """
        for (clock, _), begin, end in zip(self.stretches, self._before, self._before[1:], strict=False):
            if begin < minutes or not begin:
                yield (begin + 1, end, clock - begin) if ending else (begin, end - 1, clock - begin)
