"""Batches through their stations: the question to `nest.selection.flow`, and its answer in hours of the day."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from nest.errors import PlanProblem
from nest.job.shifts import CUT, Shifts, Station
from nest.pieces.crimping import Crimping
from nest.plan import Plan, PlannedStyle
from nest.selection.flow import EFFORT, Timing, timed
from nest.selection.passages import Passage, Task, WorkingTime
from nest.text import count_words
from nest.tickets import Batch, Planned

MOST_BATCHES = 300
"""More than this many are too many to be put in order, or to be kept apart on a rack."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A batch at a station, on one of its machines from 1; breaks and nights may lie within."""

    batch: Batch
    does: str
    machine: int
    begin: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class HideDue:
    """By when a hide must be cut, and for which batch; when it is cut, where a station for that is stated."""

    hide_id: str
    by: datetime
    batch: Batch
    cut: tuple[datetime, datetime] | None = None


@dataclass(frozen=True, slots=True)
class Timetable:
    """Every batch at every station, and when its hides are due; `proved` if nothing can end earlier.

    gap_min : working minutes by which the end lies above the proved bound at most.
    """

    slots: tuple[Slot, ...]
    hides: tuple[HideDue, ...]
    end: datetime
    gap_min: int
    shifts: Shifts

    @property
    def proved(self) -> bool:
        """Whether it is proved that the last batch cannot be through earlier."""
        return self.gap_min == 0

    def of(self, batch: Batch) -> dict[str, Slot]:
        """When a batch is where, by step."""
        return {slot.does: slot for slot in self.slots if slot.batch is batch}


def timetable_of(plan: Plan, batches: Sequence[Batch], shifts: Shifts, *, effort: float = EFFORT) -> Timetable:
    """The timetable of these batches of a plan: the last one is through as early as can be.

    Hides are cut in the order of the plan from the first working minute on; without a station that cuts they are taken
    to be cut in time, and the timetable says by when. Minutes at a station are rounded up.

    Raises
    ------
    PlanProblem
        If a value is not stated that it needs, or no timetable was found within the shifts.
    """
    if not batches:
        raise PlanProblem("the plan has nothing left to cut, so there is no batch to time")
    if len(batches) > MOST_BATCHES:
        raise PlanProblem(f"there are {len(batches)} batches, at most {MOST_BATCHES} are timed: raise batch_pairs in "
                          "[crimping]")
    cut = {layout.hide_id: at for at, layout in enumerate(plan.layouts_to_cut)}
    batches = sorted(batches, key=lambda batch: max(cut[hide] for hide in batch.hides))  # the solver favours the first
    styles = {style.name: style for style in plan.styles}
    stations = {station.does: station for station in shifts.stations}
    first = shifts.stretches[0][0]
    working = WorkingTime(tuple((_minutes(a - first), _minutes(b - first)) for a, b in shifts.stretches))
    ready = _ready(plan, stations.get(CUT))
    used = [station for station in shifts.stations if station.does != CUT]
    passages, steps = [], []
    for batch in batches:
        tasks = list(_tasks(plan, styles[batch.style], batch, stations, used))
        steps.append([used[task.station].does for task in tasks])
        passages.append(Passage(tuple(tasks), max((ready[hide][1] for hide in batch.hides), default=0)))
    machines = [station.machines for station in used]
    found = timed(passages, machines, working, one_order=shifts.one_order, effort=effort)
    if found is None:
        raise PlanProblem(_no_room(passages, used, working, styles.values()))
    return _told(batches, steps, passages, found, working, shifts, ready if CUT in stations else {})


def _minutes(time: timedelta) -> int:
    return round(time.total_seconds() / 60.0)


def _ready(plan: Plan, station: Station | None) -> dict[str, tuple[int, int]]:
    """Working minutes between which each hide is cut, in the order of the plan; (0, 0) without a station for it."""
    hides = [layout.hide_id for layout in plan.layouts_to_cut]
    if station is None or station.s_per_hide is None:
        return dict.fromkeys(hides, (0, 0))
    minutes = max(1, ceil(station.s_per_hide / 60.0 + station.set_up_min))
    return {hide: (i // station.machines * minutes, (i // station.machines + 1) * minutes)
            for i, hide in enumerate(hides)}


def _tasks(
    plan: Plan, style: PlannedStyle, batch: Batch, stations: dict[str, Station], used: Sequence[Station]
) -> Iterator[Task]:
    """The tasks of one batch, each with its lag; refused where a value is missing."""
    stated = style.crimping
    least = _needed(stated.bag_least_h, f"style {style.name}: the job does not say how long vamps rest in the bag",
                    "state bag_least_h in [crimping]")
    lags = {"soften": stated.bond_set_h if style.roll else 0.0, "crimp": least, "check": stated.wait_h}
    steps = [*(["bond"] if style.roll else []), "soften", "crimp",
             *(["check"] if stated.wait_h is not None else []), "trim"]
    minutes = {}
    for does in steps:
        station = stations.get(does)
        if station is None:
            raise PlanProblem(f"style {style.name}: no station does {does}; add [[station]] with does = \"{does}\"")
        seconds = station.seconds_a_pair(style.name)
        if does == "crimp" and seconds is None and plan.settings.costing.press_s_per_pair is not None:
            seconds = float(plan.settings.costing.press_s_per_pair)
        seconds = _needed(seconds, f"style {style.name}: the station that does {does} states no time for it",
                          "give s_per_pair, or the style in s_per_pair_by_style")
        minutes[does] = max(1, ceil(batch.pairs * seconds / 60.0 + station.set_up_min - 1e-9))
    span = _span(stated, batch, minutes, least)
    for does in steps:
        lag = ceil(60.0 * (lags.get(does) or 0.0) - 1e-9)
        yield Task(used.index(stations[does]), minutes[does], lag, span if does == "crimp" else None)


def _needed(value: float | None, missing: str, remedy: str) -> float:
    if value is None:
        raise PlanProblem(f"{missing}; {remedy}")
    return value


def _span(stated: Crimping, batch: Batch, minutes: dict[str, int], least_h: float) -> int | None:
    """Most minutes from spraying to the end of crimping; refused where work and rest alone take longer."""
    if stated.bag_most_h is None:
        return None
    span = int(60.0 * stated.bag_most_h + 1e-9)
    taken = minutes["soften"] + ceil(60.0 * least_h) + minutes["crimp"]
    if taken > span:
        raise PlanProblem(
            f"batch {batch.name}: spraying, {least_h:g} h in the bag and crimping take {taken / 60.0:.1f} h, but "
            f"bag_most_h allows {stated.bag_most_h:g} h; make batch_pairs smaller, or correct the hours"
        )
    return span


def _no_room(passages: Sequence[Passage], used: Sequence[Station], working: WorkingTime, styles) -> str:
    """Why there is no timetable: too little time at a station, or hours in the bag that no shift allows."""
    for at, station in enumerate(used):
        busy = sum(task.minutes for one in passages for task in one.tasks if task.station == at)
        if busy > working.minutes * station.machines:
            return (f"the station that does {station.does} has {busy / 60.0:.1f} h of work, the shifts have "
                    f"{working.minutes * station.machines / 60.0:.1f} h for it: give more days, shifts or machines")
    most = [style.crimping.bag_most_h for style in styles if style.crimping.bag_most_h is not None]
    more = f", or a bag_most_h above {max(most):g} h where no shift is at work when vamps are due" if most else ""
    return (f"no timetable was found for {count_words(len(passages), 'batch', 'batches')} within "
            f"{working.minutes / 60.0:.1f} h of shifts: give more days, shifts or machines{more}")


def _told(
    batches: Sequence[Batch], steps: Sequence[Sequence[str]], passages: Sequence[Passage], found: Timing,
    working: WorkingTime, shifts: Shifts, ready: dict[str, tuple[int, int]],
) -> Timetable:
    """The answer in hours of the day; like machines take the batches in the order of their beginning."""
    first = shifts.stretches[0][0]

    def at(minute: int, ending: bool = False) -> datetime:
        return first + timedelta(minutes=working.end(minute) if ending else working.start(minute))

    rows = sorted(
        (start, start + task.minutes, does, i)
        for i, (one, starts) in enumerate(zip(passages, found.starts, strict=True))
        for task, start, does in zip(one.tasks, starts, steps[i], strict=True)
    )
    free = {station.does: [0] * station.machines for station in shifts.stations}
    slots: list[Slot] = []
    due: dict[str, tuple[datetime, Batch]] = {}
    for start, end, does, i in rows:
        machine = next(m for m, until in enumerate(free[does]) if until <= start)
        free[does][machine] = end
        slots.append(Slot(batches[i], does, machine + 1, at(start), at(end, ending=True)))
        if does == steps[i][0]:
            for hide in batches[i].hides:
                due.setdefault(hide, (at(start), batches[i]))
    cut = {hide: (at(a), at(b, ending=True)) for hide, (a, b) in ready.items() if hide in due}
    hides = tuple(HideDue(hide, by, batch, cut.get(hide)) for hide, (by, batch) in due.items())
    return Timetable(tuple(slots), hides, at(found.end, ending=True), max(0, found.end - found.least_end), shifts)


def planned_of(plan: Plan, timetable: Timetable) -> dict[str, Planned]:
    """What the ticket of each batch says of the timetable, by the name of the batch.

    The hours to crimp between are those in which shifts are at work: from `bag_least_h` after the end of spraying, to
    `bag_most_h` after its beginning, by when the last vamp must be crimped.
    """
    stated = {style.name: style.crimping for style in plan.styles}
    found: dict[str, Planned] = {}
    for batch in dict.fromkeys(slot.batch for slot in timetable.slots):
        own = timetable.of(batch)
        crimping, soften = stated[batch.style], own["soften"]
        earliest = soften.end + timedelta(hours=crimping.bag_least_h or 0.0)
        begin = next((max(earliest, a) for a, b in timetable.shifts.stretches if b > earliest), earliest)
        latest = ""
        if crimping.bag_most_h is not None:
            limit = soften.begin + timedelta(hours=crimping.bag_most_h)
            latest = said(max((min(limit, b) for a, b in timetable.shifts.stretches if a < limit), default=limit))
        times = {does: f"{said(slot.begin)} to {_end_said(slot)}{_on(slot, timetable)}" for does, slot in own.items()}
        found[batch.name] = Planned(times, said(begin), latest)
    return found


def said(time: datetime) -> str:
    """A time as people in the shop say it: "Mon 2 Mar 06:40"."""
    return f"{time:%a} {time.day} {time:%b %H:%M}"


def _end_said(slot: Slot) -> str:
    return f"{slot.end:%H:%M}" if slot.end.date() == slot.begin.date() else said(slot.end)


def _on(slot: Slot, timetable: Timetable) -> str:
    machines = next(one.machines for one in timetable.shifts.stations if one.does == slot.does)
    return f", machine {slot.machine}" if machines > 1 else ""
