"""Used against planned, and what lots have really been: added up from what was booked as cut."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from math import fsum

from sqlalchemy import Connection, func, select

from nest.ledger import tables
from nest.ledger.rows import HideRow, hide_rows

BY = ("order", "lot", "style", "size", "cutter", "plan", "supplier")
"""What used against planned may be added up by."""


@dataclass(slots=True)
class Used:
    """Leather planned and used, mm²; roll planned and used, mm; what both cost; vamps, and their rough area.

    Of leather that came back as remnants neither area nor cost counts as used. hides : whole hides, shared by area.
    """

    hides: float = 0.0
    planned_mm2: float = 0.0
    used_mm2: float = 0.0
    planned_mm: float = 0.0
    used_mm: float = 0.0
    planned_cost: Decimal = Decimal(0)
    used_cost: Decimal = Decimal(0)
    vamps: float = 0.0
    rough_mm2: float = 0.0

    def add(self, other: "Used", share: float = 1.0) -> None:
        """Add a share of another sum."""
        factor = Decimal(repr(share))
        for one in fields(self):
            mine, more = getattr(self, one.name), getattr(other, one.name)
            setattr(self, one.name, mine + more * (factor if isinstance(more, Decimal) else share))


def _of_row(row, share_of_hide: float) -> Used:
    """One row of work as a sum."""
    cost = Decimal(row.planned_cost), Decimal(row.used_cost)
    if row.kind == "hide":
        return Used(share_of_hide, row.planned, row.used, 0.0, 0.0, *cost, row.pieces, row.rough_mm2)
    return Used(0.0, 0.0, 0.0, row.planned, row.used, *cost)


def used_by(connection: Connection, by: str, *, plan: str = "", since: str = "", until: str = "") -> dict[str, Used]:
    """Used against planned of all that was booked as cut, by one of BY; of one plan, or booked between two days.

    What a size of a plan used is shared among orders as its pairs were.
    """
    work, codes, change = tables.work, tables.plan, tables.change
    query = select(work, codes.c.code.label("plan"), change.c.at).join(codes, codes.c.id == work.c.plan_id).join(
        change, change.c.id == work.c.change_id
    ).order_by(work.c.id)
    if plan:
        query = query.where(codes.c.code == plan)
    if since:
        query = query.where(change.c.at >= since)
    if until:
        query = query.where(change.c.at < f"{until}T99")
    rows = list(connection.execute(query))
    whole: dict[tuple, float] = defaultdict(float)
    for row in rows:
        whole[row.change_id, row.material] += row.planned
    sums: dict[tuple, Used] = defaultdict(Used)
    for row in rows:
        name = f"{row.style} {row.size}" if by == "size" else "" if by == "order" else getattr(row, by)
        key = (row.plan_id, row.style, row.size) if by == "order" else (name or "not stated",)
        sums[key].add(_of_row(row, row.planned / (whole[row.change_id, row.material] or 1.0)))
    if by != "order":
        return {key[0]: sums[key] for key in sorted(sums)}
    shares = _orders_of(connection)
    found: dict[str, Used] = defaultdict(Used)
    for key, one in sums.items():
        for order_no, share in shares.get(key, {"": 1.0}).items():
            found[order_no].add(one, share)
    return dict(sorted(found.items()))


def _orders_of(connection: Connection) -> dict[tuple, dict[str, float]]:
    """By plan, style and size: the share of each order in the pairs that the plan cut."""
    line, move = tables.line, tables.line_move
    before = move.alias()
    pairs = func.sum(move.c.cut - func.coalesce(before.c.cut, 0))
    query = select(move.c.plan_id, line.c.style, line.c.size, line.c.order_no, pairs).join(
        line, line.c.id == move.c.line_id
    ).join(
        before, (before.c.line_id == move.c.line_id) & (before.c.seq == move.c.seq - 1), isouter=True
    ).where(move.c.plan_id.is_not(None)).group_by(move.c.plan_id, line.c.style, line.c.size, line.c.order_no)
    found: dict[tuple, dict[str, float]] = defaultdict(dict)
    for plan_id, style, size, order_no, number in connection.execute(query):
        if number > 0:
            found[plan_id, style, size][order_no] = float(number)
    return {key: {name: number / fsum(mine.values()) for name, number in mine.items()} for key, mine in found.items()}


@dataclass(slots=True)
class Lot:
    """What the hides of one lot have been.

    hides : received, remnants not counted; cut, lowered (given a lower class) and withdrawn or sent back of these.
    cut_mm2 : paid area of the hides that were cut, less what came back as remnants; rough and net area cut from them.
    vamps, spoiled : vamps cut, and pairs spoiled of them; where a size came from several lots, by vamps.
    """

    leather: str
    lot: str
    supplier: str
    hides: int = 0
    cut: int = 0
    lowered: int = 0
    withdrawn: int = 0
    area_mm2: float = 0.0
    cut_mm2: float = 0.0
    rough_mm2: float = 0.0
    net_mm2: float = 0.0
    vamps: int = 0
    spoiled: float = 0.0
    cost: Decimal = Decimal(0)

    @property
    def cutting_yield(self) -> float | None:
        """Rough area cut ÷ area used; None before anything is cut."""
        return self.rough_mm2 / self.cut_mm2 if self.cut_mm2 else None


def lots(connection: Connection, *, leather: str = "", lot: str = "") -> list[Lot]:
    """Every lot of the stock by leather, lot and supplier: yield, classes lowered, hides withdrawn, pairs spoiled."""
    rows = hide_rows(connection, leather=leather, lot=lot)
    found: dict[tuple[str, str, str], Lot] = {}
    of_hide: dict[int, Lot] = {}
    for row in rows:
        one = found.setdefault((row.leather, row.lot, row.supplier), Lot(row.leather, row.lot, row.supplier))
        of_hide[row.hide_id] = one
        if not row.parent:
            one.hides += 1
            one.area_mm2 += row.area_mm2
            one.cut += row.state == "cut"
            one.withdrawn += row.state in ("withdrawn", "gone")
            one.lowered += row.quality > row.received_quality
    for spent in connection.execute(select(tables.spent)):
        if spent.hide_id in of_hide:
            one = of_hide[spent.hide_id]
            one.cut_mm2 += spent.paid_mm2 - spent.returned_mm2
            one.rough_mm2 += spent.net_mm2 + spent.trim_mm2
            one.net_mm2 += spent.net_mm2
            one.cost += Decimal(spent.cost)
    _add_spoiled(connection, rows, of_hide)
    return [found[key] for key in sorted(found)]


def _add_spoiled(connection: Connection, rows: Sequence[HideRow], of_hide: dict[int, Lot]) -> None:
    """Add vamps, and pairs spoiled: those of a plan's size by the vamps that each lot gave to it."""
    lot_of = {row.code: of_hide[row.hide_id] for row in rows}
    work, line, move = tables.work, tables.line, tables.line_move
    given: dict[tuple, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    query = select(work.c.plan_id, work.c.style, work.c.size, work.c.material, work.c.pieces)
    for plan_id, style, size, material, pieces in connection.execute(query.where(work.c.kind == "hide")):
        given[plan_id, style, size][material] += pieces
    before = move.alias()
    number = func.sum(move.c.spoiled - func.coalesce(before.c.spoiled, 0))
    spoiled = connection.execute(
        select(move.c.plan_id, line.c.style, line.c.size, number).join(line, line.c.id == move.c.line_id).join(
            before, (before.c.line_id == move.c.line_id) & (before.c.seq == move.c.seq - 1), isouter=True
        ).where(move.c.plan_id.is_not(None)).group_by(move.c.plan_id, line.c.style, line.c.size)
    )
    pairs = {(plan_id, style, size): count for plan_id, style, size, count in spoiled}
    for key, materials in given.items():
        whole = sum(materials.values())
        for material, pieces in materials.items():
            if material in lot_of:
                lot_of[material].vamps += pieces
                lot_of[material].spoiled += max(0, pairs.get(key, 0)) * pieces / whole
