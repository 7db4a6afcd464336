"""Orders in the ledger: taken, changed, shared out by urgency. Invented."""

from dataclasses import replace

from day_jobs import stocked, wanted
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nest.ledger.lists import OrderedLine
from nest.ledger.orders import move_line, shared_out, take_orders
from nest.ledger.plans import what_was_taken
from nest.ledger.rows import LineRow, hide_rows, line_rows, roll_rows
from nest.ledger.summary import orders_summed


def ordered(order_no, size, pairs, due="", priority=0):
    """A line of the only style."""
    return OrderedLine(order_no, "box", size, pairs, due, priority)


def rows_of(ledger, **asked):
    """Lines as they stand."""
    with ledger.reading() as connection:
        return line_rows(connection, **asked)


def test_the_same_list_again_changes_nothing(ledger):
    """Taking a list twice books it once."""
    lines = [ordered("A", "38", 5, "2026-12-01"), ordered("B", "39", 7)]
    assert take_orders(ledger, lines, by="Ann").lines == 2
    before = rows_of(ledger)
    assert take_orders(ledger, lines, by="Ann") == type(take_orders(ledger, lines, by="Ann"))(0, 0, 0)
    assert rows_of(ledger) == before


def test_a_list_states_its_orders_whole(ledger):
    """Pairs that changed are changed, a line left out is wanted no more, other orders stay."""
    take_orders(ledger, [ordered("A", "38", 5), ordered("A", "39", 6), ordered("A", "40", 1), ordered("B", "39", 7)],
                by="Ann")
    taken = take_orders(ledger, [ordered("A", "38", 9)], by="Bo")
    assert (taken.orders, taken.lines, taken.changed) == (0, 0, 3)
    assert {(row.order_no, row.size): row.wanted for row in rows_of(ledger)} == {
        ("A", "38"): 9, ("A", "39"): 0, ("A", "40"): 0, ("B", "39"): 7,
    }


def test_what_a_list_changes_is_counted_over_its_orders(ledger):
    """Two of three orders with a line that changes, one of them with a new line too, and an order that is new."""
    take_orders(ledger, [ordered(name, "38", 5) for name in "ABC"], by="Ann")
    taken = take_orders(ledger, [ordered("A", "38", 6), ordered("A", "39", 1), ordered("B", "38", 4),
                                 ordered("C", "38", 5), ordered("D", "38", 2), ordered("D", "40", 2)], by="Bo")
    assert (taken.orders, taken.lines, taken.changed) == (1, 3, 2)


def test_lines_due_by_a_day_come_first(ledger):
    """The most urgent line is first; later ones and those without a date are left out, and these are last in all."""
    take_orders(ledger, [
        ordered("A", "38", 5), ordered("A", "38", 6, "2026-12-09"), ordered("B", "38", 7, "2026-12-01"),
        ordered("C", "38", 1, "2026-12-24"),
    ], by="Ann")
    assert [(row.order_no, row.due) for row in rows_of(ledger, until="2026-12-10")] == [
        ("B", "2026-12-01"), ("A", "2026-12-09"),
    ]
    assert rows_of(ledger)[-1].due == ""


def test_a_date_that_moves_keeps_what_is_cut(ledger):
    """What was cut and planned for a line goes to the line that takes its place."""
    take_orders(ledger, [ordered("A", "38", 9, "2026-12-01")], by="Ann")
    with ledger.booking("Bo", "cut") as booking:
        move_line(booking, replace(rows_of(ledger)[0], cut=5, spoiled=1, planned=3))
    take_orders(ledger, [ordered("A", "38", 9, "2026-12-08")], by="Ann")
    (summed,) = orders_summed(rows_of(ledger)).values()
    assert (summed.wanted, summed.planned, summed.cut, summed.spoiled, summed.finished) == (9, 3, 5, 1, 4)
    assert summed.short == 2


def test_an_order_that_is_not_finished_is_added_up_whole(ledger):
    """What of it is finished counts among what is wanted; an order finished line by line is left out, if asked."""
    take_orders(ledger, [ordered("A", "38", 4), ordered("A", "39", 6), ordered("B", "38", 1)], by="Ann")
    with ledger.booking("Bo", "cut") as booking:
        for row in rows_of(ledger):
            if row.size == "38":
                move_line(booking, replace(row, cut=row.wanted))
    found = orders_summed(rows_of(ledger), unfinished=True)
    assert {name: (one.wanted, one.finished, one.short) for name, one in found.items()} == {"A": (10, 4, 6)}
    assert orders_summed(rows_of(ledger)).keys() == {"A", "B"}


def test_five_things_that_were_taken_are_named_and_how_many_more(ledger):
    """Hides come first, then rolls, then orders; what nobody has moved is not named."""
    stocked(ledger, 6)
    wanted(ledger, ("A", "38", 5, "2026-12-01"))
    with ledger.reading() as connection:
        hides, rolls = hide_rows(connection), roll_rows(connection)
    lines = rows_of(ledger)
    assert what_was_taken(ledger, hides, lines, rolls) == ""
    for count, more in ((0, ""), (3, ""), (4, " and 1 more"), (6, " and 3 more")):
        moved = [[replace(row, seq=row.seq - 1) for row in rows] for rows in (hides[:count], lines, rolls)]
        named = [*(f"hide H{n}" for n in range(1, count + 1)), "roll R1", "order A, box 38"][:5]
        assert what_was_taken(ledger, *moved) == ", ".join(named) + more


_COUNTS = st.integers(0, 30)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(_COUNTS, _COUNTS, _COUNTS, st.integers(0, 9)), min_size=1, max_size=5))
def test_sharing_out_keeps_sums_and_serves_the_most_urgent(lines):
    """Sums of pairs planned, cut and spoiled stay; a line is met before the next one has any."""
    rows = [
        LineRow(i, "A", "box", "38", f"2026-12-{i + 1:02d}", 0, wanted, planned, good + spoiled, spoiled, 1)
        for i, (wanted, planned, good, spoiled) in enumerate(lines)
    ]
    found = shared_out(rows)
    for name in ("wanted", "planned", "cut", "spoiled"):
        assert sum(getattr(row, name) for row in found) == sum(getattr(row, name) for row in rows)
    good = [row.cut - row.spoiled for row in found]
    assert all(good[i] == row.wanted or not any(good[i + 1:]) for i, row in enumerate(found[:-1]))
