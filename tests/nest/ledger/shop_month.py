"""A month in a shop, booked day by day: deliveries, orders, plans, cutting, spoilage, hides withdrawn and returned.

Everything is drawn from a seed, and planned by whatever function is given. `check_month` then holds the whole ledger
against what must be so, whatever happened. All data are invented.
"""

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import numpy as np
import shapely
from bookers import adds_up
from sqlalchemy import select

from geometry.polygon import polygon
from nest.begun.spoiled import cut_vamps
from nest.job.job import Job
from nest.ledger import stocktake, tables
from nest.ledger.closing import close_day
from nest.ledger.lists import Counted, OrderedLine
from nest.ledger.offer import offer
from nest.ledger.orders import take_orders
from nest.ledger.plans import OPEN, plan_of, plan_rows, release, reserve
from nest.ledger.rows import hide_rows, line_rows, roll_rows
from nest.ledger.standing import pairs_of, standing
from nest.ledger.stock import RollReceived, give_class, receive_hides, receive_rolls, set_aside
from nest.ledger.store import Ledger
from nest.plan import Plan
from nest.stock.material import Hide

FIRST = date(2026, 11, 2)


@dataclass(frozen=True)
class Month:
    """What happens: chances are shares of hides, pairs or days."""

    job: Job
    hides: tuple[Hide, ...]
    rolls: tuple[RollReceived, ...]
    plan: Callable[[Job], Plan]
    sizes: tuple[str, ...]
    days: int = 20
    orders: int = 60
    pairs: tuple[int, int] = (4, 12)
    seed: int = 1
    deliveries: int = 4
    withdrawn: float = 0.04
    spoiled: float = 0.04
    cut_a_day: float = 0.8
    given_up: float = 0.1
    say: Callable[[str], None] = lambda line: None


@dataclass
class Told:
    """What was counted on the way: plans made, given up; hides withdrawn, returned; remnants."""

    plans: int = 0
    given_up: int = 0
    withdrawn: int = 0
    returned: int = 0
    remnants: int = 0
    remnants_used: int = 0
    spoiled: int = 0
    asked: list[list[OrderedLine]] = field(default_factory=list)


class Shop:
    """One month as it goes on."""

    def __init__(self, ledger: Ledger, month: Month, folder: Path):
        self.ledger, self.month, self.folder = ledger, month, folder
        self.rng = np.random.default_rng(month.seed)
        self.told = Told()
        self.cut: dict[str, list[str]] = defaultdict(list)
        self.lost: dict[str, list[tuple[str, str, str, int]]] = defaultdict(list)
        self.rolls_cut: set[str] = set()
        self.loose: list[str] = []

    def run(self) -> Told:
        """All days, and some more until everything that was planned is cut."""
        receive_rolls(self.ledger, self.month.rolls, by="store", since=FIRST.isoformat())
        for number in range(self.month.days):
            day = FIRST + timedelta(days=number)
            self._deliver(number, day)
            self._take_orders(number, day)
            self._plan(day)
            self._cut(1.0 if number == self.month.days - 1 else self.month.cut_a_day)
            self._bring_back(number)
            self.month.say(f"day {number + 1}: {self.told.plans} plans, {sum(map(len, self.cut.values()))} hides cut, "
                           f"{self.told.remnants} remnants")
        return self.told

    def _deliver(self, number: int, day: date) -> None:
        every = -(-self.month.days // self.month.deliveries)
        if number % every == 0:
            share = -(-len(self.month.hides) // self.month.deliveries)
            start = number // every * share
            mine = self.month.hides[start : start + share]
            receive_hides(self.ledger, mine, self.month.job.leathers, by="store", since=day.isoformat(),
                          supplier=f"Tannery {number // every % 2 + 1}")

    def _take_orders(self, number: int, day: date) -> None:
        until = [round(self.month.orders * n / self.month.days) for n in (number, number + 1)]
        lines = []
        for at in range(*until):
            style = self.month.job.styles[int(self.rng.integers(len(self.month.job.styles)))].name
            due = (day + timedelta(days=int(self.rng.integers(1, 6)))).isoformat()
            for size in self.rng.choice(self.month.sizes, size=min(3, len(self.month.sizes)), replace=False):
                pairs = int(self.rng.integers(*self.month.pairs))
                lines.append(OrderedLine(f"A{at + 1:03d}", style, str(size), pairs, due))
        if lines:
            take_orders(self.ledger, lines, by="office")
            by_order: dict[str, list[OrderedLine]] = defaultdict(list)
            for line in lines:
                by_order[line.order_no].append(line)
            self.told.asked += by_order.values()

    def _plan(self, day: date) -> None:
        until = (day + timedelta(days=3)).isoformat()
        with self.ledger.reading() as connection:
            short = any(row.short for row in line_rows(connection, until=until))
        if not short:
            return
        offered = offer(self.ledger, self.month.job, until=until)
        code, plan = reserve(self.ledger, offered, self.month.plan(offered.job), by="planner", until=until)
        self.told.plans += 1
        remnants = {row.code for row in offered.hides if row.parent}
        self.told.remnants_used += sum(one.hide_id in remnants for one in plan.layouts)
        if self.rng.random() < self.month.given_up:
            release(self.ledger, code, by="planner", why="the order waits")
            self.told.given_up += 1
            offered = offer(self.ledger, self.month.job, until=until)
            reserve(self.ledger, offered, self.month.plan(offered.job), by="planner", until=until)

    def _cut(self, share: float) -> None:
        """Cut some hides of every open plan, the roll once all are cut; some are loose, some pairs are spoiled."""
        with self.ledger.reading() as connection:
            plans = {row.code: plan_of(self.ledger, connection, row)[0] for row in plan_rows(connection, state=OPEN)}
            held = defaultdict(list)
            for row in hide_rows(connection, states=("reserved",)):
                held[row.plan].append(row.code)
        for code, plan in plans.items():
            loose = [one for one in held[code] if self.rng.random() < self.month.withdrawn]
            for one in held[code]:
                if one not in loose and self.rng.random() < share:
                    area = next(hide.measured_area_mm2 for hide in plan.hides if hide.hide_id == one)
                    used = f"{area * self.rng.uniform(0.99, 1.01) / 1e4:.2f}" if self.rng.random() < 0.3 else ""
                    self.cut[code].append(f"{one},cut,{used},{'dm2' * bool(used)},{['Cem', 'Dee'][len(one) % 2]}")
            done = {row.split(",")[0] for row in self.cut[code]}
            if set(held[code]) <= {*done, *loose}:
                self.rolls_cut.add(code)
            self._close(code, plan, loose)

    def _close(self, code: str, plan: Plan, loose: list[str]) -> None:
        rows = list(self.cut[code])
        if code in self.rolls_cut:
            rows += [f"{lay.roll_id},cut,{1e-3 * (lay.length_mm + 41.0):.2f},m," for lay in plan.lays]
        self._spoil(code, plan)
        spoiled = [f"{style},{size},{side},{pieces}" for style, size, side, pieces in self.lost[code]]
        done = close_day(
            self.ledger, self.month.job, code, cut=self._list("cut.csv", "material,state,used,unit,cutter", rows),
            spoiled=self._list("spoiled.csv", "style,size,side,pieces", spoiled), withdrawn=tuple(loose), by="foreman",
        )
        self.loose += done.withdrawn
        self.told.withdrawn += len(done.withdrawn)
        self.told.remnants += len(done.remnants)
        self.told.spoiled += done.pairs_spoiled

    def _spoil(self, code: str, plan: Plan) -> None:
        done = {row.split(",")[0] for row in self.cut[code]}
        part = [one for one in plan.layouts if one.hide_id in done]
        pieces = {piece.piece_id: piece for piece in plan.pieces}
        cut: Counter[tuple[str, str]] = Counter(
            (pieces[one.piece_id].style, pieces[one.piece_id].size) for layout in part for one in layout.placed
        )
        lost = Counter()
        for style, size, _, number in self.lost[code]:
            lost[style, size] += number
        for (style, size), vamps in sorted(cut.items()):
            if self.rng.random() < self.month.spoiled * 4 and 2 * (lost[style, size] + 1) <= vamps:
                self.lost[code].append((style, size, "pair", 1))

    def _list(self, name: str, head: str, rows: list[str]) -> Path | None:
        if not rows:
            return None
        path = self.folder / name
        path.write_text("\n".join((head, *rows, "")), encoding="utf-8")
        return path

    def _bring_back(self, number: int) -> None:
        """Some hides withdrawn come back, with a lower class or without, some are gone; halfway all is counted."""
        for one in list(self.loose):
            chance = self.rng.random()
            if chance < 0.4:
                set_aside(self.ledger, [one], "received", by="foreman", why="stretched flat")
                if chance < 0.2:
                    give_class(self.ledger, [one], 2, by="foreman")
                self.told.returned += 1
            elif chance < 0.6:
                set_aside(self.ledger, [one], "gone", by="office", why="sent back")
            if chance < 0.6:
                self.loose.remove(one)
        if number == self.month.days // 2:
            with self.ledger.reading() as connection:
                there = [row.code for row in hide_rows(connection) if row.state in stocktake.ON_THE_RACK]
                rolls = [row.code for row in roll_rows(connection)]
            found = stocktake.compare(self.ledger, [Counted(code) for code in (*there[1:], *rolls)])
            stocktake.book(self.ledger, found, by="office")


def check_month(ledger: Ledger, month: Month) -> dict[str, float]:
    """Everything that must be so at the end; returns area received, used, on the rack, and rough area cut, mm²."""
    adds_up(ledger)
    with ledger.reading() as connection:
        rows = hide_rows(connection)
        spent = {row.hide_id: row for row in connection.execute(select(tables.spent))}
        plans = [plan_of(ledger, connection, row) for row in plan_rows(connection)]
        lines = line_rows(connection)
        rolls = roll_rows(connection)
        work = list(connection.execute(select(tables.work)))
    hides = {row.hide_id: row for row in rows}
    assert {row.code for row in rows if row.state == "cut"} == {hides[one].code for one in spent}
    kept = [row for row in rows if row.state != "cut"]
    children = defaultdict(list)
    for row in rows:
        children[row.parent].append(row)
    for hide_id, one in spent.items():
        row = hides[hide_id]
        assert min(one.net_mm2, one.trim_mm2, one.waste_mm2 + 1e-3, one.remnant_mm2 + 1e-9) > 0.0
        parts = one.net_mm2 + one.trim_mm2 + one.waste_mm2 + one.remnant_mm2
        assert abs(parts - row.drawn_mm2) < 10.0, row  # the drawing on its grid
        assert abs(sum(child.drawn_mm2 for child in children[row.code]) - one.remnant_mm2) < 1.0
    roots = children[""]
    received = sum(Decimal(row.cost) for row in roots)
    assert received == sum(Decimal(one.cost) for one in spent.values()) + sum(Decimal(row.cost) for row in kept)
    assert abs(sum(Decimal(one.used_cost) for one in work if one.kind == "hide")
               - sum(Decimal(one.cost) for one in spent.values())) < Decimal("0.01")
    _pairs_add_up(plans, lines)
    for row in rolls:
        used = sum(standing(plan, begun).used_mm.get(row.code, 0.0) for plan, begun in plans)
        assert abs(row.length_mm - used - row.left_mm) < 0.01
    _nothing_cut_twice(plans, rows, month)
    parts = [one for hide_id, one in spent.items() if hides[hide_id].parent]
    return {
        "parts_used": sum(one.paid_mm2 - one.returned_mm2 for one in parts),
        "parts_rough": sum(one.net_mm2 + one.trim_mm2 for one in parts),
        "returned": sum(one.returned_mm2 for one in spent.values()),
        "received": sum(row.area_mm2 for row in roots),
        "used": sum(one.paid_mm2 - one.returned_mm2 for one in spent.values()),
        "whole": sum(row.area_mm2 for row in roots if row.state == "cut"),
        "cut": sum(row.state == "cut" for row in roots),
        "remnants": sum(row.area_mm2 for row in kept if row.parent),
        "rough": sum(one.net_mm2 + one.trim_mm2 for one in spent.values()),
        "cost": float(sum(Decimal(one.cost) for one in spent.values())),
    }


def _pairs_add_up(plans, lines) -> None:
    cut, spoiled = Counter(), Counter()
    for plan, begun in plans:
        stand = standing(plan, begun)
        cut.update(stand.cut)
        spoiled.update(stand.spoiled)
        assert {key: pairs_of(feet) for key, feet in cut_vamps(stand.part).items() if pairs_of(feet)} == stand.cut
    booked, lost = Counter(), Counter()
    for row in lines:
        booked[row.style, row.size] += row.cut
        lost[row.style, row.size] += row.spoiled
    assert +booked == +cut and +lost == +spoiled


def _nothing_cut_twice(plans, rows, month: Month) -> None:
    """Pieces cut from a hide and from its remnants lie in one drawing: none is nearer to another than the gap."""
    parents = {row.code: row.parent for row in rows}

    def root(code: str) -> str:
        while parents[code]:
            code = parents[code]
        return code

    shapes = defaultdict(list)
    for plan, begun in plans:
        rings = {piece.piece_id: piece.cut_outline for piece in plan.pieces}
        done = set(begun.cut_hides)
        for layout in plan.layouts:
            if layout.hide_id in done:
                shapes[root(layout.hide_id)] += [polygon(one.pose.apply(rings[one.piece_id])) for one in layout.placed]
    whole = {hide.hide_id: hide.outline for hide in month.hides}
    for code, mine in shapes.items():
        tree = shapely.STRtree(mine)
        near = tree.query(mine, predicate="dwithin", distance=month.job.settings.hide_apart_mm - 0.011)
        assert all(a == b for a, b in zip(*near, strict=True)), code
        assert whole[code].buffer(0.01).covers(shapely.union_all(mine)), code
