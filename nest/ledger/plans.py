"""Plans in the ledger: what one uses is reserved in one transaction, and freed when it is given up."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from sys import maxsize
from typing import Any

from sqlalchemy import Connection, func, select

from nest.asjson import record_from_text, record_text
from nest.begun.part import LENGTH_SLACK_MM
from nest.errors import LedgerProblem, Taken
from nest.job.findings import meant
from nest.ledger import tables
from nest.ledger.backing import book_lacking
from nest.ledger.offer import StockOffer
from nest.ledger.orders import Booked, Group, hand_out, lines_of_plan, move_line, shares_of_plan
from nest.ledger.rows import FREE, HideRow, LineRow, RollRow, hide_rows, line_rows, roll_rows
from nest.ledger.standing import Standing, standing
from nest.ledger.stock import move_hides, move_roll
from nest.ledger.store import Booking, Ledger
from nest.pieces.quantities import cut_quantities
from nest.plan import Begun, Plan
from nest.text import count_words
from nest.urgency import urgency

OPEN, DONE, GIVEN_UP = "open", "done", "given up"


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One plan as it stands."""

    plan_id: int
    code: str
    name: str
    until: str
    at: str
    by: str
    state: str
    begun: str
    seq: int
    body_id: int


def plan_rows(connection: Connection, *, state: str = "") -> list[PlanRow]:
    """Plans as they stand, the oldest first."""
    plan, move, change = tables.plan, tables.plan_move, tables.change
    last = select(move.c.plan_id, func.max(move.c.seq).label("last")).group_by(move.c.plan_id).subquery()
    query = select(
        plan.c.id, plan.c.code, plan.c.name, plan.c.until, change.c.at, change.c.said_by, move.c.state,
        func.coalesce(move.c.begun, ""), move.c.seq, plan.c.body_id,
    ).join(move, move.c.plan_id == plan.c.id).join(
        last, (last.c.plan_id == plan.c.id) & (last.c.last == move.c.seq)
    ).join(change, change.c.id == plan.c.change_id).order_by(plan.c.id)
    rows: Iterable[Any] = connection.execute(query.where(move.c.state == state) if state else query)
    return [PlanRow(*row) for row in rows]


def plan_row(connection: Connection, code: str = "") -> PlanRow:
    """The plan of this code; without one the only plan that is open.

    Raises
    ------
    LedgerProblem
        If there is none, or without a code more than one is open.
    """
    rows = plan_rows(connection)
    if code:
        found = [row for row in rows if row.code.casefold() == code.casefold()]
        if not found:
            raise LedgerProblem(f"the ledger has no plan {code!r}; {meant(code, [row.code for row in rows])}.")
        return found[0]
    still = [row for row in rows if row.state == OPEN]
    if len(still) != 1:
        which = f"name one of {', '.join(row.code for row in still)}" if still else "make one with `orders plan`"
        raise LedgerProblem(f"{len(still) or 'no'} plans are open; {which}.")
    return still[0]


def plan_of(ledger: Ledger, connection: Connection, row: PlanRow) -> tuple[Plan, Begun]:
    """A plan, and how far its cutting has come."""
    plan = ledger.body(connection, row.body_id, Plan)
    begun = record_from_text(Begun, row.begun, f"{row.code}, begun") if row.begun else Begun()
    return plan, begun


def reserve(ledger: Ledger, offered: StockOffer, plan: Plan, *, by: str, until: str = "") -> tuple[str, Plan]:
    """Book a plan and reserve all it uses, in one transaction; returns its code, and the plan named by it.

    Raises
    ------
    Taken
        If somebody else has since booked a hide, roll or order line of it; nothing is reserved then. Says which.
    """
    placed = {layout.hide_id for layout in plan.layouts if layout.placed}
    hides = [row for row in offered.hides if row.code in placed]
    stand = standing(plan, Begun())
    lines = planned_lines(offered, stand.to_cut)
    for last in (False,) * 20 + (True,):
        try:
            return _reserve(ledger, offered, plan, hides, lines, stand, by=by, until=until)
        except Taken:
            taken = what_was_taken(ledger, hides, lines, [row for row in offered.rolls if stand.held_mm.get(row.code)])
            if taken or last:  # else it was only the plan's number
                raise Taken(f"somebody else has just booked {taken or 'a plan'}; nothing was reserved.") from None
    raise AssertionError


def _reserve(
    ledger: Ledger, offered: StockOffer, plan: Plan, hides: Sequence[HideRow], lines: Sequence[LineRow],
    stand: Standing, *, by: str, until: str,
) -> tuple[str, Plan]:
    said = f"{count_words(len(hides), 'hide')}, {count_words(sum(stand.to_cut.values()), 'pair')}"
    with ledger.booking(by, "plan", said) as booking:
        number = (booking.connection.scalar(select(func.max(tables.plan.c.id))) or 0) + 1
        code = f"P{number:04d}"
        plan = replace(plan, name=f"{code} until {until}" if until else code)
        plan_id = booking.add(tables.plan, code=code, name=plan.name, until=until, body_id=booking.keep(Plan, plan))
        booking.add(tables.plan_move, plan_id=plan_id, seq=1, state=OPEN)
        move_hides(booking, hides, "reserved", plan_id=plan_id)
        for row in sorted(offered.rolls, key=lambda one: one.roll_id):
            if length := stand.held_mm.get(row.code):
                if length > row.free_mm + LENGTH_SLACK_MM:
                    needs = f"the plan needs {length / 1e3:.2f} m of it and {row.free_mm / 1e3:.2f} m are free"
                    raise LedgerProblem(f"roll {row.code}: {needs}; plan again.")
                move_roll(booking, row, held_mm=row.held_mm + length, plan_id=plan_id)
        for line in sorted(lines, key=lambda one: one.line_id):
            move_line(booking, line, plan_id)
        book_lacking(booking, plan_id, stand.lacking)
    return code, plan


def planned_lines(offered: StockOffer, placed: Counter[Group]) -> list[LineRow]:
    """Lines with the pairs to cut that a plan places for them: each has the least that its pairs and rejects need."""
    job, found = offered.job, []
    to_cut = {(one.style, one.size): one.pairs_to_cut for one in cut_quantities(
        job.order, job.styles, job.settings.reject_pairs
    )}
    for group, pairs in to_cut.items():
        rows = sorted((row for row in offered.lines if (row.style, row.size) == group), key=urgency)
        wanted, before, given = sum(row.short for row in rows), 0, 0
        for row in rows:
            before += row.short
            upto = min(-(-before * pairs // wanted), placed[group])
            if upto > given:
                found.append(replace(row, planned=row.planned + upto - given))
                given = upto
    return found


def what_was_taken(ledger: Ledger, hides: Sequence[HideRow], lines: Sequence[LineRow], rolls: Sequence[RollRow]) -> str:
    """Which of these rows somebody has moved since they were read, in words; "" if none."""
    with ledger.reading() as connection:
        now = {row.code: row.seq for row in hide_rows(connection, codes=[row.code for row in hides])}
        reels = {row.code: row.seq for row in roll_rows(connection, codes=[row.code for row in rolls])}
        asked = {row.line_id: row.seq for row in line_rows(connection, ids=[row.line_id for row in lines])}
    said = [
        *(f"hide {row.code}" for row in hides if now[row.code] != row.seq),
        *(f"roll {row.code}" for row in rolls if reels[row.code] != row.seq),
        *(f"order {row.order_no}, {row.style} {row.size}" for row in lines if asked[row.line_id] != row.seq),
    ]
    more = f" and {len(said) - 5} more" if len(said) > 5 else ""
    return ", ".join(said[:5]) + more


def release(ledger: Ledger, code: str, *, by: str, why: str = "") -> PlanRow:
    """Give a plan up: what is not cut of it is free again, and its pairs are short again.

    Raises
    ------
    LedgerProblem
        If there is no such plan, or it is not open.
    """
    with ledger.booking(by, "given up", f"{code}{': ' * bool(why)}{why}") as booking:
        row = plan_row(booking.connection, code)
        if row.state != OPEN:
            raise LedgerProblem(f"plan {row.code} is {row.state}; only an open plan can be given up.")
        plan, begun = plan_of(ledger, booking.connection, row)
        book_difference(booking, row, standing(plan, begun), standing(plan, begun, given_up=True), begun, GIVEN_UP)
        free_hides(booking, row, set())
    return row


def free_hides(booking: Booking, row: PlanRow, but: set[str]) -> None:
    """Free what a plan still has reserved, but for some hides."""
    held = [one for one in hide_rows(booking.connection, states=("reserved",)) if one.plan == row.code]
    for parent in (False, True):
        move_hides(booking, [one for one in held if bool(one.parent) is parent and one.code not in but], FREE[parent])


def book_difference(
    booking: Booking, row: PlanRow, before: Standing, after: Standing, begun: Begun, state: str
) -> None:
    """Book what came of a plan on its order lines and its rolls, and how far it has come; hides are booked apart.

    Of a line that other plans are for too only what this plan has booked on it is moved.
    """
    lines = {one.line_id: one for one in lines_of_plan(booking, row.plan_id)}
    mine = defaultdict(Booked, shares_of_plan(booking.connection, row.plan_id))

    def share(one: LineRow) -> Booked:
        return mine[one.order_no, one.style, one.size]

    def book(pairs: Counter[Group], room, what: str, latest: bool = False, **signs: int) -> None:
        def changed(one: LineRow, number: int) -> LineRow:
            for name, sign in signs.items():
                setattr(share(one), name, getattr(share(one), name) + sign * number)
            return replace(one, **{name: getattr(one, name) + sign * number for name, sign in signs.items()})

        for one in hand_out(sorted(lines.values(), key=urgency, reverse=latest), pairs, room, changed, what):
            lines[one.line_id] = one

    def planned(one: LineRow) -> int:
        return min(one.planned, share(one).planned)

    def good(one: LineRow) -> int:
        return min(one.cut - one.spoiled, share(one).cut - share(one).spoiled)

    moved = dict(lines)
    fewer = before.to_cut - after.to_cut
    more_cut = after.cut - before.cut
    book(more_cut & fewer, planned, "cut", planned=-1, cut=1)
    book(more_cut - fewer, lambda one: maxsize, "cut", cut=1)
    book(fewer - more_cut, planned, "no longer planned", latest=True, planned=-1)
    book(after.to_cut - before.to_cut, lambda one: maxsize, "planned", planned=1)
    book(after.spoiled - before.spoiled, good, "spoiled", latest=True, spoiled=1)
    book(before.spoiled - after.spoiled, lambda one: min(one.spoiled, share(one).spoiled), "good again", spoiled=-1)
    for line_id, one in sorted(lines.items()):
        if one != moved[line_id]:
            move_line(booking, one, row.plan_id)
    _book_rolls(booking, row, before, after)
    book_lacking(booking, row.plan_id, after.lacking)
    booking.add(tables.plan_move, plan_id=row.plan_id, seq=row.seq + 1, state=state, begun=record_text(Begun, begun))


def _book_rolls(booking: Booking, row: PlanRow, before: Standing, after: Standing) -> None:
    codes = after.held_mm.keys()
    gone = {one.roll_id for one in after.part.begun.rolls if one.withdrawn}
    for roll in roll_rows(booking.connection, codes=sorted(codes)):
        used = after.used_mm.get(roll.code, 0.0) - before.used_mm.get(roll.code, 0.0)
        held = after.held_mm[roll.code] - before.held_mm[roll.code]
        state = "withdrawn" if roll.code in gone else roll.state
        if not used and not held and state == roll.state:
            continue
        left = max(0.0, roll.left_mm - used)
        splices = " ".join(f"{one - used:.1f}" for one in roll.splices_mm if one > used)
        move_roll(
            booking, roll, left_mm=left, held_mm=min(left, max(0.0, roll.held_mm + held)), splices=splices,
            state=state, plan_id=row.plan_id,
        )
