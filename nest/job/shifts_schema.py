"""Keys of a file of shifts and stations."""

import re
from datetime import time
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, model_validator

from nest.job.fields import Day, Section, fault, one_of
from nest.job.findings import clipped

CUT = "cut"
STEPS = ("bond", "soften", "crimp", "check", "trim")
"""What stations do to batches, in its order; before it hides are cut, if a station does that."""

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
DAY_MINUTES = 24 * 60
_Seconds = Annotated[float, Field(gt=0, le=86_400)]


def _clock(value: Any) -> Any:
    """A time of day in minutes: "06:30", or as TOML writes it."""
    if isinstance(value, time) and value.second == value.microsecond == 0:
        return 60 * value.hour + value.minute
    found = _CLOCK.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise fault("a time of day", clipped(value), "write it as 06:30, in quotes")
    return 60 * int(found[1]) + int(found[2])


def _break(value: Any) -> Any:
    """A break in minutes of the day: "09:00-09:20"."""
    parts = [_CLOCK.fullmatch(part.strip()) for part in value.split("-")] if isinstance(value, str) else []
    minutes = [60 * int(part[1]) + int(part[2]) for part in parts if part is not None]
    if not len(parts) == len(minutes) == 2:
        raise fault("a break from one time of day to another", clipped(value), 'write it as "09:00-09:20"')
    return tuple(minutes)


_Clock = Annotated[int, BeforeValidator(_clock)]


class ShiftSection(Section):
    """[[shift]]: one shift of the days named."""

    begin: _Clock
    end: _Clock
    """On the next day where it is no later than the beginning."""
    breaks: list[Annotated[tuple[int, int], BeforeValidator(_break)]] = []
    days: Annotated[list[Annotated[str, one_of(WEEKDAYS)]], Field(min_length=1)] = list(WEEKDAYS[:5])

    @property
    def parts(self) -> list[tuple[int, int]]:
        """Work between its breaks, minutes from midnight on."""
        end = self.end + DAY_MINUTES * (self.end <= self.begin)
        at, parts = self.begin, []
        for start, stop in sorted(self._placed(*one) for one in self.breaks):
            parts.append((at, start))
            at = stop
        return [(a, b) for a, b in (*parts, (at, end)) if a < b]

    def _placed(self, start: int, stop: int) -> tuple[int, int]:
        """A break after midnight belongs to the shift that began before it."""
        start += DAY_MINUTES * (start < self.begin)
        return start, stop + DAY_MINUTES * (stop < self.begin)

    @model_validator(mode="after")
    def _has_its_breaks_within(self):
        at, end = self.begin, self.end + DAY_MINUTES * (self.end <= self.begin)
        for start, stop in sorted(self._placed(*one) for one in self.breaks):
            if not at <= start < stop <= end:
                raise fault("breaks within the shift, one after another", f"{clock_words(start)}-{clock_words(stop)}")
            at = stop
        return self


class StationSection(Section):
    """[[station]]: machines of one kind, or people, that do one step."""

    does: Annotated[str, one_of((CUT, *STEPS))]
    machines: Annotated[int, Field(ge=1, le=100)] = 1
    s_per_pair: _Seconds | None = None
    s_per_pair_by_style: dict[str, _Seconds] = {}
    s_per_hide: _Seconds | None = None
    set_up_min: Annotated[float, Field(ge=0, le=1440)] = 0.0

    @model_validator(mode="after")
    def _has_the_time_of_its_step(self):
        if self.does == CUT and (self.s_per_hide is None or self.s_per_pair is not None or self.s_per_pair_by_style):
            raise fault("s_per_hide alone for a station that cuts", "another time, or none", "give s_per_hide")
        if self.does != CUT and self.s_per_hide is not None:
            raise fault(f"s_per_pair for a station that does {self.does}", "s_per_hide", "correct the key")
        return self


class ShiftsFile(Section):
    """The whole file."""

    first_day: Day
    first_time: _Clock = 0
    days: Annotated[int, Field(ge=1, le=60)] = 14
    free: list[Day] = []
    one_order: bool = False
    shift: Annotated[list[ShiftSection], Field(min_length=1)]
    station: Annotated[list[StationSection], Field(min_length=1)]


def clock_words(minute: int) -> str:
    """A minute of the day as a time, "06:30"; of the next day too."""
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}"
