"""What stands in the ledger, as rows to list: hides, rolls and order lines with their last move."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, Connection, Select, Table, func, select

from nest.ledger import tables

FREE = ("received", "remnant")
"""States of a hide that may be planned; the others are reserved, cut, withdrawn and gone."""

LEAST_HELD_MM = 0.5
"""Less of a roll than this is rounding."""

STATES = (*FREE, "reserved", "cut", "withdrawn", "gone")


@dataclass(frozen=True, slots=True)
class HideRow:
    """One hide as it stands; areas in mm². `plan` is that which has reserved or cut it, `seq` its last move."""

    hide_id: int
    code: str
    leather: str
    lot: str
    supplier: str
    quality: int
    received_quality: int
    thickness_mm: float
    area_mm2: float
    drawn_mm2: float
    cost: str
    parent: str
    since: str
    state: str
    place: str
    plan: str
    seq: int
    body_id: int

    @property
    def free(self) -> bool:
        """Whether it may be planned."""
        return self.state in FREE


@dataclass(frozen=True, slots=True)
class RollRow:
    """One roll as it stands; lengths in mm. What is held is promised to open plans, and part of what is left."""

    roll_id: int
    code: str
    article: str
    lot: str
    supplier: str
    length_mm: float
    since: str
    state: str
    left_mm: float
    held_mm: float
    splices: str
    seq: int

    @property
    def free_mm(self) -> float:
        """Length that may still be planned."""
        return self.left_mm - self.held_mm if self.state == "received" else 0.0

    @property
    def splices_mm(self) -> tuple[float, ...]:
        """Distances of its splices from where it begins now."""
        return tuple(float(one) for one in self.splices.split())


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line of an order: pairs wanted, still to be cut by open plans, cut, and spoiled of those cut."""

    line_id: int
    order_no: str
    style: str
    size: str
    due: str
    priority: int
    wanted: int
    planned: int
    cut: int
    spoiled: int
    seq: int

    @property
    def pairs(self) -> int:
        """Pairs wanted, by the name that `nest.urgency` has for them."""
        return self.wanted

    @property
    def finished(self) -> int:
        """Good pairs, of those wanted."""
        return min(self.wanted, self.cut - self.spoiled)

    @property
    def short(self) -> int:
        """Pairs that are neither finished nor planned."""
        return max(0, self.wanted - self.planned - (self.cut - self.spoiled))


def hide_rows(
    connection: Connection, *, leather: str = "", lot: str = "", quality: int | None = None,
    states: Sequence[str] = (), codes: Iterable[str] | None = None,
) -> list[HideRow]:
    """Hides as they stand that fit everything asked: the oldest first, of one day the remnants first."""
    hide, move = tables.hide, tables.hide_move
    query = _last(hide, move).join(tables.plan, tables.plan.c.id == move.c.plan_id, isouter=True).with_only_columns(
        hide.c.id, hide.c.code, hide.c.leather, hide.c.lot, hide.c.supplier, move.c.quality, hide.c.quality,
        hide.c.thickness_mm, hide.c.area_mm2, hide.c.drawn_mm2, hide.c.cost, hide.c.parent, hide.c.since, move.c.state,
        move.c.place, func.coalesce(tables.plan.c.code, ""), move.c.seq, hide.c.body_id,
    )
    for column, value in ((hide.c.leather, leather), (hide.c.lot, lot), (move.c.quality, quality)):
        if value not in ("", None):
            query = query.where(column == value)
    if states:
        query = query.where(move.c.state.in_(states))
    query = query.order_by(hide.c.since, hide.c.parent == "", hide.c.id)
    return [HideRow(*row) for row in _found(connection, query, hide.c.code, codes)]


def roll_rows(connection: Connection, *, codes: Iterable[str] | None = None, article: str = "") -> list[RollRow]:
    """Rolls as they stand, the oldest first."""
    roll, move = tables.roll, tables.roll_move
    query = _last(roll, move).with_only_columns(
        roll.c.id, roll.c.code, roll.c.article, roll.c.lot, roll.c.supplier, roll.c.length_mm, roll.c.since,
        move.c.state, move.c.left_mm, move.c.held_mm, move.c.splices, move.c.seq,
    ).order_by(roll.c.since, roll.c.id)
    if article:
        query = query.where(roll.c.article == article)
    return [RollRow(*row) for row in _found(connection, query, roll.c.code, codes)]


def held_by_plan(connection: Connection) -> dict[str, dict[str, float]]:
    """Length of each roll that each plan still holds, mm, by the plan's code."""
    roll, move, plan = tables.roll, tables.roll_move, tables.plan
    before = move.alias()
    held = func.sum(move.c.held_mm - func.coalesce(before.c.held_mm, 0.0))
    query = select(plan.c.code, roll.c.code, held).join(plan, plan.c.id == move.c.plan_id).join(
        roll, roll.c.id == move.c.roll_id
    ).join(
        before, (before.c.roll_id == move.c.roll_id) & (before.c.seq == move.c.seq - 1), isouter=True
    ).group_by(plan.c.id, plan.c.code, roll.c.id, roll.c.code).order_by(plan.c.id, roll.c.id)
    found: dict[str, dict[str, float]] = {}
    for code, name, length in connection.execute(query):
        if length > LEAST_HELD_MM:
            found.setdefault(code, {})[name] = length
    return found


def line_rows(
    connection: Connection, *, order: str = "", until: str = "", ids: Iterable[int] | None = None
) -> list[LineRow]:
    """Order lines as they stand, the most urgent first; those due by the day `until` alone, if it is given."""
    line, move = tables.line, tables.line_move
    query = _last(line, move).with_only_columns(
        line.c.id, line.c.order_no, line.c.style, line.c.size, line.c.due, line.c.priority, move.c.wanted,
        move.c.planned, move.c.cut, move.c.spoiled, move.c.seq,
    )
    if order:
        query = query.where(line.c.order_no == order)
    if until:
        query = query.where(line.c.due <= until, line.c.due != "")
    found = [LineRow(*row) for row in _found(connection, query, line.c.id, ids)]
    return sorted(found, key=lambda one: (not one.priority, one.priority, one.due or "9999-99-99", one.line_id))


def _last(thing: Table, move: Table) -> Select:
    """Each thing with its last move."""
    of = move.c[f"{thing.name}_id"]
    last = select(of, func.max(move.c.seq).label("last")).group_by(of).subquery()
    return select(thing.c.id).join(move, of == thing.c.id).join(
        last, (last.c[of.name] == of) & (last.c.last == move.c.seq)
    )


def _found(
    connection: Connection, query: Select, column: Column, keys: Iterable | None, most: int = 500
) -> Iterator[Sequence[Any]]:
    """The rows of a query, of these keys alone if any are given, in portions that a query can hold."""
    if keys is None:
        yield from connection.execute(query).all()  # at once: row by row the driver looks at each answer again
        return
    each = list(dict.fromkeys(keys))
    for i in range(0, len(each), most):
        yield from connection.execute(query.where(column.in_(each[i : i + most])))
