"""A timetable as files: tables, a chart a day, and lists for the wall."""

from pathlib import Path

from nest.cutplan.stamp import Stamp
from nest.plan import Plan
from nest.report.tables import Table, write_csv
from nest.sheets import MoreSheet
from nest.sheets.lists import Line, list_pages
from nest.text import count_words
from nest.timetable.chart import days_of, slots_of_day, write_day
from nest.timetable.make import HideDue, Timetable, said

_HIDE_COLUMNS, _SLOT_COLUMNS = (22.0, 150.0, 270.0, 400.0), (0.0, 80.0, 300.0, 420.0)
_SIGNED = "Timed by, date: ______________"


def proof_words(timetable: Timetable) -> str:
    """When the last batch is through, and whether that could be earlier."""
    end = f"The last batch is through {said(timetable.end)}"
    if timetable.proved:
        return f"{end}; proved: no timetable of these batches and shifts ends earlier."
    return f"{end}; not proved: at most {timetable.gap_min} working minutes could be saved."


def write_timetable(plan: Plan, timetable: Timetable, folder: Path, stamp: Stamp) -> tuple[MoreSheet, ...]:
    """Write `timetable.csv`, `hides.csv` and a chart a day into `folder`; returns the lists as sheets to print.

    The lists: hides by when they must be cut, and of each day what every station does.
    """
    write_csv(slot_table(timetable), folder / "timetable.csv")
    write_csv(hide_table(timetable), folder / "hides.csv")
    title = "Hides by need"
    sheets = [_sheet("hides-to-cut.pdf", title, _hide_lines(timetable), _HIDE_COLUMNS, plan, stamp)]
    for day in days_of(timetable):
        write_day(timetable, day, folder)
        lines = [Line(("station", "batch", "from", "to"), bold=True)]
        lines += [
            Line((_station(slot.does, slot.machine, timetable),
                  f"{slot.batch.name}: {count_words(slot.batch.pairs, 'pair')}", said(slot.begin), said(slot.end)))
            for slot in slots_of_day(timetable, day)
        ]
        title = f"{day:%A} {day.day} {day:%B %Y}"
        sheets.append(_sheet(f"list-{day.isoformat()}.pdf", title, lines, _SLOT_COLUMNS, plan, stamp))
    return tuple(sheets)


def _sheet(file: str, title: str, lines, columns, plan: Plan, stamp: Stamp) -> MoreSheet:
    pages = tuple(list_pages(title, lines, columns, plan, stamp, _SIGNED))
    return MoreSheet(file, title, pages, (title, "", "", "", ""))


def _station(does: str, machine: int, timetable: Timetable) -> str:
    machines = next(one.machines for one in timetable.shifts.stations if one.does == does)
    return does if machines == 1 else f"{does} {machine}"


def _hide_lines(timetable: Timetable) -> list[Line]:
    head = "on the table from" if any(hide.cut for hide in timetable.hides) else ""
    lines = [Line(("hide", "cut by", "for batch", head), bold=True)]
    for hide in by_need(timetable):
        on_table = said(hide.cut[0]) if hide.cut else ""
        lines.append(Line((hide.hide_id, said(hide.by), hide.batch.name, on_table), tick=True))
    return lines


def by_need(timetable: Timetable) -> list[HideDue]:
    """Hides, those that are needed first before others."""
    return sorted(timetable.hides, key=lambda hide: hide.by)


def slot_table(timetable: Timetable) -> Table:
    """Every batch at every station; times are local, as ISO 8601 writes them."""
    rows = [
        (slot.batch.name, slot.does, slot.machine, slot.begin.isoformat(timespec="minutes"),
         slot.end.isoformat(timespec="minutes"), slot.batch.pairs)
        for slot in timetable.slots
    ]
    return Table("timetable", ("batch", "step", "machine", "begin", "end", "pairs"), tuple(rows))


def hide_table(timetable: Timetable) -> Table:
    """Every hide, by when it must be cut, and for which batch first."""
    rows = [
        (hide.hide_id, hide.by.isoformat(timespec="minutes"), hide.batch.name,
         hide.cut[0].isoformat(timespec="minutes") if hide.cut else None) for hide in by_need(timetable)
    ]
    return Table("hides", ("hide", "cut_by", "batch", "cut_from"), tuple(rows))
