"""What a plan is to be made of: order lines that are due, and the stock that is free for them.

Of remnants the oldest are offered, then of whole hides (first in, first out: common practice, no source): of either as
many as have OFFERED_TIMES the area that the estimate asks for, and all of them where that does not do. A style's
reinforcement comes from one roll: the shortest that the estimate says is long enough, so that long ones stay long, else
the longest.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import Connection

from nest.errors import LedgerProblem
from nest.estimate.make import QuickEstimate, quick_estimate
from nest.job.findings import listed, meant
from nest.job.job import Job
from nest.ledger.orders import check_orders
from nest.ledger.rows import FREE, HideRow, LineRow, RollRow, hide_rows, line_rows, roll_rows
from nest.ledger.stock import hide_of
from nest.ledger.store import Ledger
from nest.pieces.style import OrderLine, Style
from nest.stock.material import Hide, Roll
from nest.text import count_words

OFFERED_TIMES = 2.5
"""A third of the area offered is used, so that there is a choice; more hides take more time to look at."""

LEAST_OFFERED = 12
"""Hides offered at least, where there are as many."""

ROLL_DOUBT = 1.1
"""The estimate of a lay's length may be as far off (trial 135: 0.95 to 1.15, the root mean square 3.4 %)."""

NOTHING_MM = 1.0
"""Length of a roll that is missing: no reinforcement is as short."""


@dataclass(frozen=True, slots=True)
class StockOffer:
    """A job drawn from the ledger, and the rows it was drawn from.

    left_out : how many free hides it leaves out.
    said : which order lines wait, and which rolls are missing.
    """

    job: Job
    lines: tuple[LineRow, ...]
    hides: tuple[HideRow, ...]
    rolls: tuple[RollRow, ...]
    left_out: int = 0
    said: tuple[str, ...] = ()


def offer(
    ledger: Ledger, job: Job, *, until: str = "", orders: Sequence[str] = (), whole_stock: bool = False,
    name: str = "",
) -> StockOffer:
    """What is short of all orders due `until` a day, or of some orders, and free stock for it.

    Lines of which no hide is free wait, and are listed. Where no roll is free the vamps are planned, and their
    reinforcements are short.

    Raises
    ------
    LedgerProblem
        If nothing is short, a line names a style that the job has not, or no hide is free for any of it.
    """
    with ledger.reading() as connection:
        lines = [row for row in line_rows(connection, until=until) if row.short]
        if orders:
            check_orders(connection, orders)
            lines = [row for row in lines if row.order_no in orders]
        if not lines:
            which = f"order {', '.join(orders)}" if orders else "the orders"
            raise LedgerProblem(
                f"nothing to plan: of {which}{f' due by {until}' * bool(until)} all pairs are planned or finished."
            )
        styles = _styles(job, lines)
        leathers = {style.leather for style in styles}
        free = {one: hide_rows(connection, leather=one, states=FREE) for one in sorted(leathers)}
        none = [leather for leather, rows in free.items() if not rows]
        said = [_waits(leather, styles, lines) for leather in none]
        if len(none) == len(free):
            raise LedgerProblem(" ".join(said))
        styles = tuple(style for style in styles if style.leather not in none)
        lines = [row for row in lines if row.style in {style.name for style in styles}]
        free = {leather: rows for leather, rows in free.items() if rows}
        asked = replace(job, name=name or job.name, styles=styles, order=order_lines(lines), hides=())
        found = _of_stock(ledger, connection, asked, lines, free, roll_rows(connection), whole_stock)
        return replace(found, said=(*said, *found.said))


def _waits(leather: str, styles: Sequence[Style], lines: Sequence[LineRow]) -> str:
    """That what is cut from a leather waits."""
    mine = {style.name for style in styles if style.leather == leather}
    pairs = sum(row.short for row in lines if row.style in mine)
    orders = listed(dict.fromkeys(row.order_no for row in lines if row.style in mine), "and")
    return (
        f"no hide of {leather} is free: {listed(sorted(mine), 'and')} must wait ({count_words(pairs, 'pair')}, order "
        f"{orders}); receive some, or give up a plan that holds them."
    )


def order_lines(lines: Sequence[LineRow]) -> tuple[OrderLine, ...]:
    """What is short, as an order: orders alike in style, size, due date and priority together."""
    wanted: dict[tuple, int] = {}
    for row in lines:
        key = row.style, row.size, row.due, row.priority
        wanted[key] = wanted.get(key, 0) + row.short
    return tuple(OrderLine(style, size, pairs, due, priority) for (style, size, due, priority), pairs in wanted.items())


def _styles(job: Job, lines: Sequence[LineRow]):
    known = {style.name: style for style in job.styles}
    for row in lines:
        if row.style not in known:
            raise LedgerProblem(
                f"order {row.order_no} wants the style {row.style!r}, which the job file does not have; "
                f"{meant(row.style, known)}."
            )
    wanted = {row.style for row in lines}
    return tuple(style for style in job.styles if style.name in wanted)


def _of_stock(
    ledger: Ledger, connection: Connection, asked: Job, lines: Sequence[LineRow], free: dict[str, list[HideRow]],
    rolls: Sequence[RollRow], whole_stock: bool,
) -> StockOffer:
    prices = {leather.name: leather for leather in asked.leathers}

    def drawn(rows: Sequence[HideRow]) -> tuple[Hide, ...]:
        return tuple(
            hide_of(ledger, connection, row, prices[row.leather], measured_margins=asked.measured_margins)
            for row in rows
        )

    mine = {article: [row for row in rolls if row.article == article and row.free_mm > 0.0]
            for article in articles_of(asked.styles)}
    longest = with_rolls(asked, {
        article: max(rows, key=lambda row: row.free_mm, default=None) for article, rows in mine.items()
    })
    few = whole_stock or all(len(rows) <= LEAST_OFFERED for rows in free.values())
    first = {leather: sorted(rows, key=lambda row: bool(row.parent))[:LEAST_OFFERED] for leather, rows in free.items()}
    have = {hide.hide_id: hide for hide in drawn([row for rows in first.values() for row in rows])}
    found = None
    if not few or any(len(rows) > 1 for rows in mine.values()):
        found = quick_estimate(replace(longest, hides=tuple(have.values())))
    chosen = [row for leather, rows in free.items() for row in (rows if few else _enough(rows, found, leather))]
    have |= {hide.hide_id: hide for hide in drawn([row for row in chosen if row.code not in have])}
    picked = {article: _roll_for(rows, found) for article, rows in mine.items()}
    job = replace(with_rolls(asked, picked), hides=tuple(have[row.code] for row in chosen))
    left_out = sum(map(len, free.values())) - len(chosen)
    said = tuple(
        f"no roll of {article} is free: the reinforcements of "
        f"{', '.join(style.name for style in asked.styles if style.roll == article)} are short, and booked as such."
        for article, row in picked.items() if row is None
    )
    return StockOffer(job, tuple(lines), tuple(chosen), tuple(row for row in picked.values() if row), left_out, said)


def _enough(rows: Sequence[HideRow], found: QuickEstimate | None, leather: str) -> list[HideRow]:
    """The oldest remnants and the oldest whole hides, of either as many as there should be a choice of; all where
    nothing is known of the need."""
    leathers = () if found is None else found.leathers
    needed = next((one.material_mm2 for one in leathers if one.leather == leather), None)
    if needed is None:
        return list(rows)
    chosen = []
    for remnants in (True, False):
        area, number = 0.0, 0
        for row in (one for one in rows if bool(one.parent) is remnants):
            if area >= OFFERED_TIMES * needed and number >= LEAST_OFFERED:
                break
            chosen.append(row)
            area, number = area + row.area_mm2, number + 1
    return chosen


def articles_of(styles: Sequence[Style]) -> list[str]:
    """Rolls that styles are backed from, by their names in the job file."""
    return list(dict.fromkeys(style.roll for style in styles if style.roll))


def _roll_for(rows: Sequence[RollRow], found: QuickEstimate | None) -> RollRow | None:
    """The roll to take: the shortest that is long enough, else the longest; None if there is none."""
    mine = sorted(rows, key=lambda row: (row.free_mm, row.since))
    if found is not None:
        codes = {row.code for row in mine}
        needed = next((one.length_mm for one in found.rolls if one.roll_id in codes), None)
        mine = [row for row in mine if needed is not None and row.free_mm >= ROLL_DOUBT * needed][:1] or mine
    return mine[-1] if mine else None


def with_rolls(job: Job, picked: Mapping[str, RollRow | None]) -> Job:
    """The job with a roll of the stock in place of each article, by its own name; nothing of one that is missing."""
    articles = {roll.roll_id: roll for roll in job.rolls}
    rolls: list[Roll] = [
        replace(articles[article], length_mm=NOTHING_MM, splices_mm=()) if row is None else replace(
            articles[article], roll_id=row.code, length_mm=row.free_mm,
            splices_mm=tuple(one - row.held_mm for one in row.splices_mm if one > row.held_mm),
        ) for article, row in picked.items()
    ]
    codes = {article: row.code for article, row in picked.items() if row is not None}
    styles = tuple(replace(style, roll=codes.get(style.roll, style.roll)) for style in job.styles)
    return replace(job, rolls=tuple(rolls), styles=styles)
