"""A chart of one day: each machine a row, each batch a bar, hours from left to right, breaks shaded."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from pathlib import Path

from nest.job.shifts import STEPS
from nest.report import palette
from nest.report.figures import new_axes, save_figure
from nest.timetable.make import Slot, Timetable

_COLOURS = (palette.NET, palette.INTERLOCK, palette.FAULT, palette.TRIM_OFF)
_INKS = ("white", palette.INK, palette.INK, "white")
_WIDE_IN, _ROW_IN = 11.0, 0.42
_LETTER_IN = 0.068
"""Width of a letter of 7 pt, inches, on the wide side."""


def days_of(timetable: Timetable) -> list[date]:
    """The days with something to do."""
    return sorted({day for slot in timetable.slots for day in (slot.begin.date(), slot.end.date())})


def write_day(timetable: Timetable, day: date, folder: Path) -> tuple[str, str]:
    """Draw one day in dots and in lines; returns the names of both files."""
    rows = _rows(timetable)
    ax = draw_day(new_axes(_WIDE_IN, _ROW_IN * (len(rows) + 0.2)), timetable, day)
    names = f"day-{day.isoformat()}.png", f"day-{day.isoformat()}.pdf"
    for name in names:
        save_figure(ax.figure, folder / name)
    return names


def draw_day(ax, timetable: Timetable, day: date):
    """Draw a day on `ax`; what goes on over a break is drawn without it, and labelled where there is room."""
    rows = _rows(timetable)
    parts = [(a, b) for a, b in timetable.shifts.stretches if a.date() <= day <= b.date()]
    begin, end = _frame(parts, day)
    letters = letters_of(timetable)
    for a, b in _between(parts, begin, end):
        ax.axvspan(_hours(a, day), _hours(b, day), facecolor="#e4e4e4", edgecolor="none", zorder=0)
    inches = _WIDE_IN / max(_hours(end, day) - _hours(begin, day), 1e-9)
    drawn = {}
    for slot in timetable.slots:
        within = [(max(slot.begin, a, begin), min(slot.end, b, end)) for a, b in parts]
        drawn[slot] = [(_hours(a, day), _hours(b, day)) for a, b in within if a < b]
    for slot, shown in drawn.items():
        row = rows.index((slot.does, slot.machine))
        at = list(letters).index(slot.batch.style) % len(_COLOURS)
        for a, b in shown:
            ax.barh(row, b - a, left=a, height=0.74, color=_COLOURS[at], edgecolor="white", linewidth=0.8, zorder=2)
        begins = [other[0][0] for one, other in drawn.items()
                  if other and (one.does, one.machine) == rows[row] and one.begin > slot.begin]
        free = min([*begins, _hours(end, day)]) - shown[-1][1] if shown else 0.0
        _label(ax, row, f"{letters[slot.batch.style]}{slot.batch.number}", shown, inches, _INKS[at], free)
    return _dressed(ax, rows, letters, timetable, day, begin, end)


def letters_of(timetable: Timetable) -> dict[str, str]:
    """A letter for each style: bars are short."""
    styles = sorted({slot.batch.style for slot in timetable.slots})
    return {style: chr(ord("A") + i % 26) + (str(i // 26) + "." if i >= 26 else "") for i, style in enumerate(styles)}


def _label(
    ax, row: int, words: str, shown: Sequence[tuple[float, float]], inches: float, ink: str, free: float
) -> None:
    """The name of a batch in the longest part of its bar, or behind the bar if `free` hours there are enough."""
    if not shown:
        return
    a, b = max(shown, key=lambda part: part[1] - part[0])
    needed = _LETTER_IN * len(words) / inches
    look = {"va": "center", "fontsize": 7, "zorder": 3}
    if b - a >= needed:
        ax.text(0.5 * (a + b), row, words, ha="center", color=ink, **look)
    elif free >= 1.3 * needed:
        ax.text(shown[-1][1] + 0.15 * needed, row, words, ha="left", color=palette.INK, **look)


def _rows(timetable: Timetable) -> list[tuple[str, int]]:
    machines = {station.does: station.machines for station in timetable.shifts.stations}
    used = {slot.does for slot in timetable.slots}
    return [(does, machine) for does in STEPS if does in used for machine in range(1, machines[does] + 1)]


def _frame(parts: Sequence[tuple[datetime, datetime]], day: date) -> tuple[datetime, datetime]:
    """From the first to the last hour of work on this day, whole hours."""
    midnight = datetime(day.year, day.month, day.day)
    begin = max(midnight, min((a for a, _ in parts), default=midnight))
    end = min(midnight + timedelta(days=1), max((b for _, b in parts), default=midnight))
    return begin.replace(minute=0), end if not end.minute else end.replace(minute=0) + timedelta(hours=1)


def _between(parts: Sequence[tuple[datetime, datetime]], begin: datetime, end: datetime):
    """What lies between stretches of work, within the frame."""
    at = begin
    for a, b in [*parts, (end, end)]:
        if at < a:
            yield at, min(a, end)
        at = max(at, b)


def _hours(time: datetime, day: date) -> float:
    return (time - datetime(day.year, day.month, day.day)).total_seconds() / 3600.0


def _dressed(ax, rows, letters, timetable: Timetable, day: date, begin: datetime, end: datetime):
    machines = {station.does: station.machines for station in timetable.shifts.stations}
    ax.set_yticks(range(len(rows)), [does if machines[does] == 1 else f"{does} {m}" for does, m in rows], fontsize=8)
    ax.set_ylim(len(rows) - 0.5, -0.5)
    first, last = _hours(begin, day), _hours(end, day)
    ax.set_xlim(first, last)
    hours = range(round(first), round(last) + 1)
    ax.set_xticks(hours, [f"{hour % 24:02d}:00" for hour in hours], fontsize=7)
    ax.grid(axis="x", color="#cccccc", linewidth=0.5, zorder=0)
    ax.set_axisbelow(True)
    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.tick_params(axis="y", length=0)
    key = ", ".join(f"{letter} = {style}" for style, letter in letters.items()).replace("$", r"\$")
    ax.set_title(f"{day:%A} {day.day} {day:%B %Y}. {key}; numbers are batches, shaded: no work", fontsize=9, loc="left")
    return ax


def slots_of_day(timetable: Timetable, day: date) -> list[Slot]:
    """What is done on a day, station by station, in its order."""
    mine = [slot for slot in timetable.slots if slot.begin.date() <= day <= slot.end.date()]
    return sorted(mine, key=lambda slot: (STEPS.index(slot.does), slot.machine, slot.begin))
