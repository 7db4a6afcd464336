"""A file of shifts and stations: when people work, and how long each station takes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from pathlib import Path

from nest.job.findings import Findings, listed
from nest.job.jobfile import read_alone, read_whole_file
from nest.job.shifts_schema import CUT, STEPS, WEEKDAYS, ShiftsFile

__all__ = ["CUT", "STEPS", "Shifts", "Station", "read_shifts"]


@dataclass(frozen=True, slots=True)
class Station:
    """Machines that do one step; seconds a pair of every style alike unless `by_style` has its own, or a hide."""

    does: str
    machines: int = 1
    s_per_pair: float | None = None
    by_style: tuple[tuple[str, float], ...] = ()
    s_per_hide: float | None = None
    set_up_min: float = 0.0

    def seconds_a_pair(self, style: str) -> float | None:
        """Seconds for a pair of this style; None where nothing is stated."""
        return dict(self.by_style).get(style, self.s_per_pair)


@dataclass(frozen=True, slots=True)
class Shifts:
    """Stretches of work without a break, in local time, and the stations; one calendar holds for all of them.

    one_order : no batch overtakes another.
    """

    stretches: tuple[tuple[datetime, datetime], ...]
    stations: tuple[Station, ...]
    one_order: bool = False


def read_shifts(path: Path | str, styles: Sequence[str]) -> Shifts:
    """The shifts and stations in a file; `styles` are those that it may name.

    Raises
    ------
    InputProblems
        Every problem found in it, by line and key.
    """
    (section, where), _, findings = read_alone(
        path, lambda source, findings: read_whole_file(source, ShiftsFile, findings))
    stations = _stations(section, where, styles, findings)
    stretches = _stretches(section, where, findings)
    findings.raise_problems()
    return Shifts(stretches, stations, section.one_order)


def _stations(section, where: Callable[..., str], styles: Sequence[str], findings: Findings) -> tuple[Station, ...]:
    named: set[str] = set()
    stations = []
    for i, one in enumerate(section.station):
        if one.does in named:
            findings.refuse(where("station", i, "does"), f"one station that does {one.does}", "another one",
                            "count its machines by the key machines")
        named.add(one.does)
        for name in one.s_per_pair_by_style:
            if name not in styles:
                findings.refuse_name(where("station", i, "s_per_pair_by_style"), "a style of the plan", name, styles)
        by_style = tuple(one.s_per_pair_by_style.items())
        stations.append(Station(one.does, one.machines, one.s_per_pair, by_style, one.s_per_hide, one.set_up_min))
    return tuple(stations)


def _stretches(section, where: Callable[..., str], findings: Findings) -> tuple[tuple[datetime, datetime], ...]:
    """Work of all days, from the first time on; shifts of one time are refused."""
    first = date.fromisoformat(section.first_day)
    begin = datetime.combine(first, time()) + timedelta(minutes=section.first_time)
    found: list[tuple[datetime, datetime]] = []
    for at in range(-1, section.days):  # a shift of the night before may reach into the first day
        day = first + timedelta(days=at)
        if day.isoformat() in section.free:
            continue
        midnight = datetime.combine(day, time())
        for shift in section.shift:
            if WEEKDAYS[day.weekday()] in shift.days:
                found += [(midnight + timedelta(minutes=a), midnight + timedelta(minutes=b)) for a, b in shift.parts]
    found.sort()
    for (_, one), (other, _) in pairwise(found):
        if other < one:
            findings.refuse(where("shift"), "shifts that do not overlap", f"two at work at {other:%a %d %b %H:%M}",
                            "correct begin, end or days of one; people side by side are counted by machines")
            break
    found = [(max(a, begin), b) for a, b in found if b > begin]
    if not found and not findings.problems:
        found_days = f"none within {section.days} days, for shifts are on " + listed(
            dict.fromkeys(day for one in section.shift for day in one.days), "and"
        )
        findings.refuse(where("days"), "a day with a shift", found_days, "correct first_day, days or free")
    joined: list[tuple[datetime, datetime]] = []
    for a, b in found:  # where one shift follows another at once, there is no break
        if joined and joined[-1][1] == a:
            joined[-1] = joined[-1][0], b
        else:
            joined.append((a, b))
    return tuple(joined)

