"""People who book at the same time, killed ones among them; and whether a ledger still adds up."""

import os
import signal
import time
import traceback
from collections import Counter, defaultdict
from itertools import pairwise

from box_jobs import hide
from day_jobs import HOUSE, planned, wanted
from killed_runs import processor_time
from sqlalchemy import select

from nest.errors import Taken
from nest.ledger import tables
from nest.ledger.orders import shares_of_plan
from nest.ledger.plans import OPEN, plan_of, plan_rows, release
from nest.ledger.rows import FREE, hide_rows, line_rows, roll_rows
from nest.ledger.standing import standing
from nest.ledger.stock import receive_hides, set_aside
from nest.ledger.store import Ledger, open_ledger


def in_a_process(work, *asked) -> int:
    """Start `work(*asked)` in a process of its own, which ends with 0 if it ends well; returns its number."""
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        work(*asked)
        code = 0
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(code)


def ended_well(children) -> bool:
    """Wait for processes; whether all ended well."""
    return all([os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0 for child in children])


def plan_and_release(address: str, name: str, seconds: float) -> None:
    """Plan an order of one's own again and again, and give all plans up but the last."""
    ledger, until, lost = open_ledger(address), time.monotonic() + seconds, 0
    while True:
        try:
            code = planned(ledger, orders=(name,), by=name)
        except Taken:
            lost += 1
            if lost > 2000:
                raise
            continue
        if time.monotonic() >= until:
            return
        release(ledger, code, by=name)


def book_on_and_on(address: str, number: int) -> None:
    """All kinds of bookings, one after the other, until somebody ends this."""
    ledger, count = open_ledger(address), 0
    while True:
        count += 1
        name = f"N{number}-{count}"
        receive_hides(ledger, [hide(f"{name}-{i}") for i in range(3)], HOUSE.leathers, by="Ann", since="2026-11-03")
        wanted(ledger, (f"O{name}", "38", 2, "2026-12-01"))
        code = planned(ledger, orders=(f"O{name}",))
        set_aside(ledger, [f"{name}-2"], "withdrawn", by="Bo") if _is_free(ledger, f"{name}-2") else None
        if count % 2:
            release(ledger, code, by="Bo")


def _is_free(ledger: Ledger, code: str) -> bool:
    with ledger.reading() as connection:
        return hide_rows(connection, codes=[code])[0].free


def killed_after(seconds: float, begun, work, *asked) -> None:
    """Start a process and end it hard when it has `begun` and then used this much processor time."""
    child = in_a_process(work, *asked)
    until = None
    while until is None or processor_time(child) < until:
        assert os.waitpid(child, os.WNOHANG) == (0, 0), "it ended by itself"
        if until is None and begun():
            until = processor_time(child) + seconds
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def adds_up(ledger: Ledger) -> None:
    """Hides, rolls and lines stand as the open plans have them; none was ever promised twice; no change is empty."""
    with ledger.reading() as connection:
        hides = {row.code: row for row in hide_rows(connection)}
        held: Counter[str] = Counter()
        to_cut: Counter[tuple[str, str]] = Counter()
        booked: Counter[tuple[str, str, str]] = Counter()
        for row in plan_rows(connection):
            plan, begun = plan_of(ledger, connection, row)
            stand = standing(plan, begun)
            mine = {name for name, one in hides.items() if one.state == "reserved" and one.plan == row.code}
            if row.state != OPEN:
                assert not mine, row
                continue
            done = {*begun.cut_hides, *begun.withdrawn}
            assert mine == {one.hide_id for one in plan.layouts if one.placed and one.hide_id not in done}, row
            mine = shares_of_plan(connection, row.plan_id)
            assert all(min(one.planned, one.spoiled, one.cut - one.spoiled) >= 0 for one in mine.values()), row
            of_plan: Counter[tuple[str, str]] = Counter()
            for (_, *group), one in mine.items():
                of_plan[tuple(group)] += one.planned
            assert +of_plan == +stand.to_cut, row
            booked.update({key: one.planned for key, one in mine.items()})
            held.update({name: round(length, 3) for name, length in stand.held_mm.items()})
            to_cut.update(stand.to_cut)
        reserved = [one for one in hides.values() if one.state == "reserved"]
        assert all(one.plan for one in reserved)
        for roll in roll_rows(connection):
            assert abs(roll.held_mm - held[roll.code]) < 0.01, roll
            assert 0.0 <= roll.held_mm <= roll.left_mm <= roll.length_mm
        planned_now: Counter[tuple[str, str, str]] = Counter()
        for line in line_rows(connection):
            planned_now[line.order_no, line.style, line.size] += line.planned
        assert +planned_now == +booked
        assert sum(planned_now.values()) == sum(to_cut.values())
        _never_twice(connection)
        _no_empty_change(connection)


def _never_twice(connection) -> None:
    states = defaultdict(list)
    move = tables.hide_move
    for hide_id, seq, state in connection.execute(
        select(move.c.hide_id, move.c.seq, move.c.state).order_by(move.c.hide_id, move.c.seq)
    ):
        states[hide_id].append((seq, state))
    for told in states.values():
        assert [seq for seq, _ in told] == list(range(1, len(told) + 1))
        for (_, before), (_, after) in pairwise(told):
            assert after != "reserved" or before in FREE, told
            assert after != "cut" or before == "reserved", told


def _no_empty_change(connection) -> None:
    named = set()
    for table in tables.metadata.sorted_tables:
        if "change_id" in table.c:
            named |= set(connection.scalars(select(table.c.change_id).distinct()))
    assert named == set(connection.scalars(select(tables.change.c.id)))
