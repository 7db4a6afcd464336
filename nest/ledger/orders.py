"""Orders: lines taken and changed, and the pairs of a plan handed to them, the most urgent first."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import Connection, func, select

from nest.errors import LedgerProblem
from nest.job.findings import meant
from nest.ledger import tables
from nest.ledger.lists import OrderedLine
from nest.ledger.rows import LineRow, line_rows
from nest.ledger.store import Booking, Ledger
from nest.text import count_words
from nest.urgency import urgency

Group = tuple[str, str]
"""A style and a size."""


@dataclass(frozen=True, slots=True)
class OrdersTaken:
    """What a list of orders changed: orders that are new, lines that are, and lines whose pairs differ now."""

    orders: int
    lines: int
    changed: int


def take_orders(ledger: Ledger, lines: Sequence[OrderedLine], *, by: str) -> OrdersTaken:
    """Book a list of orders. It states each of its orders whole: what the list leaves out is wanted no more.

    What is planned and cut of a style and size of an order is shared out among its lines again, the most urgent first.
    The same list once more changes nothing.
    """
    by_order: dict[str, list[OrderedLine]] = defaultdict(list)
    for line in lines:
        by_order[line.order_no].append(line)
    new_orders = new_lines = changed = 0
    said = f"{count_words(len(lines), 'line')} of {count_words(len(by_order), 'order')}"
    with ledger.booking(by, "orders", said) as booking:
        known: dict[str, list[LineRow]] = defaultdict(list)
        for row in line_rows(booking.connection) if len(by_order) > 50 else (
            row for order_no in by_order for row in line_rows(booking.connection, order=order_no)
        ):
            known[row.order_no].append(row)
        for order_no, wanted in by_order.items():
            before = known[order_no]
            new_orders += not before
            made, moved = _take_order(booking, order_no, wanted, before)
            new_lines, changed = new_lines + made, changed + moved
        if not new_lines and not changed:
            booking.connection.rollback()
    return OrdersTaken(new_orders, new_lines, changed)


def _take_order(
    booking: Booking, order_no: str, wanted: Sequence[OrderedLine], before: Sequence[LineRow]
) -> tuple[int, int]:
    """Lines added to one order, and lines changed."""
    asked = {(one.style, one.size, one.due, one.priority): one.pairs for one in wanted}
    was = {(row.style, row.size, row.due, row.priority): row for row in before}
    now: dict[Group, list[LineRow]] = defaultdict(list)
    touched = set()
    for key, row in was.items():
        if asked.get(key, 0) != row.wanted:
            touched.add(key[:2])
        now[key[:2]].append(replace(row, wanted=asked.get(key, 0)))
    added = 0
    for key, pairs in asked.items():
        if key not in was and pairs:
            line_id = booking.add(
                tables.line, order_no=order_no, style=key[0], size=key[1], due=key[2], priority=key[3]
            )
            now[key[:2]].append(LineRow(line_id, order_no, *key, pairs, 0, 0, 0, 0))
            touched.add(key[:2])
            added += 1
    old = {row.line_id: row for row in before}
    changed = 0
    for group in touched:
        for row in shared_out(now[group]):
            if row != old.get(row.line_id):
                changed += row.line_id in old
                move_line(booking, row)
    return added, changed


def shared_out(rows: Sequence[LineRow]) -> list[LineRow]:
    """Lines of one order, style and size with what is cut and planned of all of them shared out anew by urgency.

    Sums stay; what goes beyond the pairs wanted stays with the last line, what was spoiled with the first.
    """
    rows = sorted(rows, key=urgency)
    spoiled = sum(row.spoiled for row in rows)
    good, planned = sum(row.cut for row in rows) - spoiled, sum(row.planned for row in rows)
    found = []
    for at, row in enumerate(rows):
        last = at == len(rows) - 1
        mine = good if last else min(row.wanted, good)
        still = planned if last else min(max(0, row.wanted - mine), planned)
        good, planned = good - mine, planned - still
        lost = spoiled if at == 0 else 0
        found.append(replace(row, cut=mine + lost, spoiled=lost, planned=still))
    return found


def check_orders(connection: Connection, orders: Sequence[str]) -> None:
    """LedgerProblem if one of these orders is not in the ledger."""
    known = set(connection.scalars(select(tables.line.c.order_no).distinct()))
    if wrong := next((one for one in orders if one not in known), None):
        hint = meant(wrong, sorted(known)) if known else "the ledger has no orders yet"
        raise LedgerProblem(f"order {wrong!r} is not in the ledger; {hint}.")


def move_line(booking: Booking, row: LineRow, plan_id: int | None = None) -> None:
    """Add the next move of a line, as `row` now stands."""
    booking.add(
        tables.line_move, line_id=row.line_id, seq=row.seq + 1, plan_id=plan_id, wanted=row.wanted,
        planned=row.planned, cut=row.cut, spoiled=row.spoiled,
    )


def lines_of_plan(booking: Booking, plan_id: int) -> list[LineRow]:
    """Lines of the styles and sizes that a plan was made for, of the orders it was made for; most urgent first."""
    line, move = tables.line, tables.line_move
    of_plan = set(map(tuple, booking.connection.execute(
        select(line.c.order_no, line.c.style, line.c.size).join(move, move.c.line_id == line.c.id)
        .where(move.c.plan_id == plan_id).distinct()
    )))
    ids = [
        row.id for row in booking.connection.execute(select(line.c.id, line.c.order_no, line.c.style, line.c.size))
        if (row.order_no, row.style, row.size) in of_plan
    ]
    return line_rows(booking.connection, ids=ids)


@dataclass(slots=True)
class Booked:
    """Pairs that a plan has booked on lines of one order, style and size: still to cut, cut, and spoiled of these."""

    planned: int = 0
    cut: int = 0
    spoiled: int = 0


def shares_of_plan(connection: Connection, plan_id: int) -> dict[tuple[str, str, str], Booked]:
    """What a plan has booked, by order, style and size: of lines that several plans are for each plan moves its own."""
    line, move = tables.line, tables.line_move
    before = move.alias()
    sums = (func.sum(move.c[name] - func.coalesce(before.c[name], 0)) for name in ("planned", "cut", "spoiled"))
    query = select(line.c.order_no, line.c.style, line.c.size, *sums).join(move, move.c.line_id == line.c.id).join(
        before, (before.c.line_id == move.c.line_id) & (before.c.seq == move.c.seq - 1), isouter=True
    ).where(move.c.plan_id == plan_id).group_by(line.c.order_no, line.c.style, line.c.size)
    return {(row[0], row[1], row[2]): Booked(*map(int, row[3:])) for row in connection.execute(query)}


def hand_out(
    rows: Iterable[LineRow], pairs: Mapping[Group, int], room: Callable[[LineRow], int],
    change: Callable[[LineRow, int], LineRow], what: str,
) -> list[LineRow]:
    """Lines changed by `pairs` of each style and size, in the sequence of `rows`, each by what it has room for.

    Raises
    ------
    LedgerProblem
        If there is room for fewer.
    """
    left = dict(pairs)
    found = []
    for row in rows:
        number = min(left.get((row.style, row.size), 0), room(row))
        if number > 0:
            left[row.style, row.size] -= number
            found.append(change(row, number))
    if over := next((group for group, number in left.items() if number), None):
        pairs_over = count_words(left[over], "pair")
        raise LedgerProblem(f"{pairs_over} of {' '.join(over)} cannot be booked as {what}: no order line has room.")
    return found
