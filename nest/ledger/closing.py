"""Close of day: what was cut, spoiled and withdrawn of a plan is booked, and what is left of its hides comes back.

Every mm² of a hide that is cut is net area, trim-off, remnant or waste, and every cent it cost lies with the plan that
cut it or with a remnant, by area.
"""

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import fsum
from pathlib import Path

from sqlalchemy import select

from nest.accounts.areas import lay_use, measure
from nest.begun.lists import read_begun
from nest.begun.part import off_roll_mm
from nest.errors import LedgerProblem
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.job import Job
from nest.job.table import read_table
from nest.ledger import tables
from nest.ledger.plans import DONE, OPEN, PlanRow, book_difference, plan_of, plan_row
from nest.ledger.remnant import Needs, left_over
from nest.ledger.rows import HideRow, hide_rows, roll_rows
from nest.ledger.standing import Standing, standing
from nest.ledger.stock import COST_DIGITS, move_hides, not_free, put_in
from nest.ledger.store import Booking, Ledger
from nest.pieces.make import make_pieces
from nest.pieces.piece import Role
from nest.pieces.sizing import SizeError, position, size_system
from nest.plan import Begun, Plan
from nest.stock.material import Hide


@dataclass(frozen=True, slots=True)
class Closed:
    """What a close of day booked: hides cut and withdrawn, remnants that came back, pairs cut and spoiled, mm of rolls.

    said : what the lists gave rise to say.
    """

    plan: PlanRow
    state: str
    cut: tuple[str, ...]
    withdrawn: tuple[str, ...]
    remnants: tuple[str, ...]
    pairs_cut: int
    pairs_spoiled: int
    rolls_mm: Mapping[str, float]
    said: tuple[str, ...] = ()


def close_day(
    ledger: Ledger, job: Job, code: str = "", *, cut: Path | None = None, spoiled: Path | None = None,
    withdrawn: tuple[str, ...] = (), cutter: str = "", by: str, tell: Callable[[str, int, int], None] = lambda *_: None,
) -> Closed:
    """Book the lists of a plan; they count from its beginning, and a list booked again changes nothing.

    job : holds the current styles, for which remnants are kept.
    tell : called with the hide that is looked at, how many are done, and how many there are.

    Raises
    ------
    InputProblems, PlanProblem
        As `nest.begun.lists.read_begun`.
    LedgerProblem
        If there is no such plan, or it was given up.
    Taken
        If somebody else has booked the same meanwhile.
    """
    with ledger.reading() as connection:
        row = plan_row(connection, code)
        if row.state not in (OPEN, DONE):
            raise LedgerProblem(f"plan {row.code} was given up; nothing of it can be booked.")
        plan, before = plan_of(ledger, connection, row)
        sizes = _sizes_ordered(connection)
    # Without the lays, which follow from the lengths: one that is cut in part may have been cut further.
    known = replace(before, lays=())
    begun, said = read_begun(replace(plan, begun=known), cut, spoiled, withdrawn=withdrawn, rejects_cover=True)
    begun = replace(begun, lays=())
    was, now = standing(plan, known), standing(plan, begun)
    new_cut = [one for one in begun.cut_hides if one not in set(before.cut_hides)]
    new_withdrawn = [one for one in begun.withdrawn if one not in set(before.withdrawn)]
    cutters = _cutters(cut)
    if begun == known:  # nothing new: the list was booked before
        return Closed(row, row.state, (), (), (), 0, 0, {}, said)
    left = {}
    hides = {hide.hide_id: hide for hide in plan.hides}
    needs = {leather: _needs(job, plan, leather, sizes) for leather in {hides[one].leather for one in new_cut}}
    for done, hide_id in enumerate(new_cut):
        tell(hide_id, done, len(new_cut))
        left[hide_id] = left_over(hides[hide_id], _rings(plan, hide_id), needs[hides[hide_id].leather])
    state = OPEN if now.open else DONE
    words = f"{row.code}: {', '.join(new_cut) or 'no hide'} cut" + f"; withdrawn {', '.join(new_withdrawn)}" * bool(
        new_withdrawn)
    with ledger.booking(by, "close", words) as booking:
        rows = {one.code: one for one in hide_rows(booking.connection, codes=[*new_cut, *new_withdrawn])}
        mine = {name: one for name, one in rows.items() if one.state == "reserved" and one.plan == row.code}
        mine |= {name: rows[name] for name in new_withdrawn if name in rows and rows[name].free}
        for name in new_withdrawn:  # one that was on offer and left whole may be free, or another plan's by now
            if name in rows and name not in mine and rows[name].state != "withdrawn":
                raise LedgerProblem(not_free(rows[name]))
        if lacking := [name for name in new_cut if name not in mine]:
            raise LedgerProblem(f"hide {lacking[0]} is not reserved by plan {row.code}; see `stock find {lacking[0]}`.")
        move_hides(booking, [mine[name] for name in new_cut], "cut", plan_id=row.plan_id)
        move_hides(booking, [mine[name] for name in new_withdrawn if name in mine], "withdrawn")
        remnants = []
        for name in new_cut:
            names = _book_cut(booking, row, plan, begun, rows[name], left[name], cutters.get(name, cutter))
            remnants += names
        _book_measured(booking, row, before, begun)
        _book_roll_work(booking, row, plan, was, now, cutters, cutter)
        book_difference(booking, row, was, now, begun, state)
    used = {name: now.used_mm[name] - was.used_mm.get(name, 0.0) for name in now.used_mm}
    return Closed(
        row, state, tuple(new_cut), tuple(new_withdrawn), tuple(remnants),
        sum((now.cut - was.cut).values()), sum((now.spoiled - was.spoiled).values()),
        {name: length for name, length in used.items() if length}, said,
    )


def _book_cut(
    booking: Booking, row: PlanRow, plan: Plan, begun: Begun, hide: HideRow, left: Sequence[Hide], cutter: str
) -> list[str]:
    """Book one hide that was cut: its remnants, where its area and its cost went, what each size had of it."""
    whole = next(one for one in plan.hides if one.hide_id == hide.code)
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    layout = next(one for one in plan.layouts if one.hide_id == hide.code)
    measures = [measure(pieces[one.piece_id], 1.0) for one in layout.placed]
    net, rough = fsum(one.net_mm2 for one in measures), fsum(one.rough_mm2 for one in measures)
    root = re.sub(r"-r\d+$", "", hide.code)
    number = _remnants_of(booking, root)
    names, returned, cost_returned, kept = [], 0.0, Decimal(0), 0.0
    cost = Decimal(hide.cost)
    for at, one in enumerate(left, start=number + 1):
        share = one.outline.area / whole.outline.area
        mine = (cost * Decimal(repr(share))).quantize(COST_DIGITS)
        names.append(f"{root}-r{at}")
        put_in(
            booking, replace(one, hide_id=names[-1], measured_area_mm2=hide.area_mm2 * share), mine,
            since=hide.since, supplier=hide.supplier, parent=hide.code, place=hide.place,
        )
        returned, cost_returned, kept = returned + hide.area_mm2 * share, cost_returned + mine, kept + one.outline.area
    booking.add(
        tables.spent, plan_id=row.plan_id, hide_id=hide.hide_id, net_mm2=net, trim_mm2=rough - net, remnant_mm2=kept,
        waste_mm2=whole.outline.area - rough - kept, paid_mm2=hide.area_mm2, returned_mm2=returned,
        cost=str(cost - cost_returned),
    )
    found = next((one.measured_mm2 for one in begun.hides if one.hide_id == hide.code), None) or hide.area_mm2
    used = found * (1.0 - returned / hide.area_mm2)
    shares: dict[tuple[str, str], list] = defaultdict(list)
    for piece in measures:
        shares[piece.piece.style, piece.piece.size].append(piece.rough_mm2)
    booking.add_all(tables.work, [
        {
            "plan_id": row.plan_id, "material": hide.code, "kind": "hide", "lot": hide.lot, "supplier": hide.supplier,
            "style": style, "size": size, "cutter": cutter, "pieces": len(areas), "rough_mm2": fsum(areas),
            "planned": hide.area_mm2 * fsum(areas) / rough, "used": used * fsum(areas) / rough,
            "planned_cost": _share(cost, fsum(areas) / rough),
            "used_cost": _share(cost - cost_returned, fsum(areas) / rough),
        } for (style, size), areas in shares.items()
    ])
    return names


def _book_measured(booking: Booking, row: PlanRow, before: Begun, begun: Begun) -> None:
    """Book what hides that were cut earlier turned out to measure, where the list says it now: used, by rough area."""
    was = {one.hide_id: one.measured_mm2 for one in before.hides}
    now = {one.hide_id: one.measured_mm2 for one in begun.hides
           if one.hide_id in was and one.measured_mm2 != was[one.hide_id]}
    spent, work = tables.spent.c, tables.work.c
    for hide in hide_rows(booking.connection, codes=now):
        returned = booking.connection.scalar(select(spent.returned_mm2).where(spent.hide_id == hide.hide_id)) or 0.0
        more = (now[hide.code] or hide.area_mm2) - (was[hide.code] or hide.area_mm2)
        parts = booking.connection.execute(select(
            work.lot, work.supplier, work.style, work.size, work.cutter, work.rough_mm2,
        ).where(work.plan_id == row.plan_id, work.material == hide.code, work.pieces > 0)).mappings().all()
        each = more * (1.0 - returned / hide.area_mm2) / fsum(one["rough_mm2"] for one in parts)
        booking.add_all(tables.work, [
            {**one, "plan_id": row.plan_id, "material": hide.code, "kind": "hide", "pieces": 0, "rough_mm2": 0.0,
             "planned": 0.0, "used": each * one["rough_mm2"], "planned_cost": "0", "used_cost": "0"} for one in parts
        ])


def _share(cost: Decimal, share: float) -> str:
    return str(cost * Decimal(repr(share)))


def _book_roll_work(booking: Booking, row: PlanRow, plan: Plan, was: Standing, now: Standing, cutters, cutter) -> None:
    """Book what each size had of the rolls: what was cut since, by rough area."""
    measures = {piece.piece_id: measure(piece, 1.0) for piece in plan.pieces if piece.role is Role.REINFORCEMENT}
    for roll in plan.rolls:
        used = now.used_mm.get(roll.roll_id, 0.0) - was.used_mm.get(roll.roll_id, 0.0)
        if used <= 0.0:
            continue
        areas: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0, 0.0])
        planned = 0.0
        for sign, stand in ((1, now), (-1, was)):
            planned += sign * off_roll_mm(roll, stand.part.lays)
            for lay in (one for one in stand.part.lays if one.roll_id == roll.roll_id):
                for size in lay_use(roll, lay, measures).sizes:
                    areas[size.style, size.size][0] += sign * size.pieces
                    areas[size.style, size.size][1] += sign * size.rough_mm2
        if not any(pieces for pieces, _ in areas.values()):  # more length off it, and no more pieces
            cut = [size for lay in now.part.lays if lay.roll_id == roll.roll_id
                   for size in lay_use(roll, lay, measures).sizes]
            areas = {(size.style, size.size): [size.pieces, size.rough_mm2] for size in cut}
        whole = fsum(mm2 for _, mm2 in areas.values())
        price = roll.price_per_m
        (stock,) = roll_rows(booking.connection, codes=[roll.roll_id])
        booking.add_all(tables.work, [
            {
                "plan_id": row.plan_id, "material": roll.roll_id, "kind": "roll", "lot": stock.lot,
                "supplier": stock.supplier, "style": style, "size": size,
                "cutter": cutters.get(roll.roll_id, cutter), "pieces": pieces, "rough_mm2": mm2,
                "planned": planned * mm2 / whole, "used": used * mm2 / whole,
                "planned_cost": str(price * Decimal(repr(planned * mm2 / whole / 1e3))),
                "used_cost": str(price * Decimal(repr(used * mm2 / whole / 1e3))),
            } for (style, size), (pieces, mm2) in areas.items() if pieces and whole
        ])


def _remnants_of(booking: Booking, root: str) -> int:
    """How many remnants of a hide there have been."""
    code = tables.hide.c.code
    found = booking.connection.scalars(select(code).where(code.like(f"{root}-r%")))
    matches = (re.fullmatch(re.escape(root) + r"-r(\d+)", one) for one in found)
    return max((int(match[1]) for match in matches if match), default=0)


def _rings(plan: Plan, hide_id: str):
    rings = {piece.piece_id: piece.cut_outline for piece in plan.pieces}
    return [one.pose.apply(rings[one.piece_id]) for layout in plan.layouts if layout.hide_id == hide_id
            for one in layout.placed]


def _needs(job: Job, plan: Plan, leather: str, sizes: Mapping[str, set[str]]) -> Needs:
    """The smallest vamp of each current style that a leather is for: sizes of a style fit within each other."""
    found = []
    for style in job.styles:
        if style.leather != leather:
            continue
        for size in _smallest_first(style, sizes.get(style.name, set()) | {style.grading.base_size}):
            made = [piece for piece in make_pieces(style, [size])[0] if piece.role is Role.VAMP]
            found += [(piece, style.rules) for piece in made]
            break
    one_way = any(one.one_way for one in plan.leathers if one.name == leather)
    return Needs(tuple(found), one_way, plan.settings.edge_room_mm, plan.settings.hide_apart_mm)


def _smallest_first(style, sizes: set[str]) -> list[str]:
    system = size_system(style.grading.system)

    def at(size: str) -> float:
        try:
            return float(position(system, size))
        except SizeError:
            return float("inf")

    return sorted(sizes, key=at)


def _sizes_ordered(connection) -> dict[str, set[str]]:
    line, found = tables.line, defaultdict(set)
    for style, size in connection.execute(select(line.c.style, line.c.size).distinct()):
        found[style].add(size)
    return found


def _cutters(cut: Path | None) -> dict[str, str]:
    """Who cut what, where the list of what was cut has a column for it."""
    if cut is None:
        return {}
    rows = read_table(Source(Path(cut), Path(cut).name), ("material",), ("state", "used", "unit", "cutter"), Findings())
    return {row["material"]: row["cutter"] for row in rows or () if row["cutter"]}
