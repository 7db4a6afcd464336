"""A ledger in hard times: many at once, killed, a full disk, other versions of it, and full of rows. Invented."""

import os
import random
import resource
import signal
import time
import tracemalloc
from contextlib import nullcontext
from functools import partial

import pytest
from bookers import adds_up, book_on_and_on, ended_well, in_a_process, killed_after, plan_and_release, processor_time
from box_jobs import hide
from day_jobs import HOUSE, list_file, plan_named, planned, stocked, wanted
from full_ledger import filled
from sqlalchemy import func, select, text

from nest.errors import LedgerProblem
from nest.ledger import migrate, tables
from nest.ledger.backing import lacking
from nest.ledger.closing import close_day
from nest.ledger.exchange import export, import_all
from nest.ledger.plans import plan_rows
from nest.ledger.rows import held_by_plan, hide_rows, line_rows
from nest.ledger.stock import receive_hides
from nest.ledger.store import _engine, open_ledger
from nest.ledger.summary import orders_summed, stock_by_class
from nest.ledger.used import lots, used_by


def changes(ledger):
    """How many changes there are."""
    with ledger.reading() as connection:
        return connection.scalar(select(func.count()).select_from(tables.change))


def many_at_once(ledger, address, people, seconds):
    """This many processes plan and release for a while."""
    stocked(ledger, 12)
    wanted(ledger, *((f"O{n}", "38", 4, "2026-12-01") for n in range(people)))
    assert ended_well([in_a_process(plan_and_release, address, f"O{n}", seconds) for n in range(people)])
    adds_up(ledger)
    with ledger.reading() as connection:
        assert len(plan_rows(connection, state="open")) == people
        print(f"{people} people, {seconds:g} s: {len(plan_rows(connection))} plans")


def test_eight_who_plan_at_once_get_hides_of_their_own(ledger, address):
    """Eight processes reserve and release over and over: no hide is promised twice, and each has a plan in the end."""
    many_at_once(ledger, address, 8, 0.2)


@pytest.mark.slow
def test_eight_who_plan_for_a_minute(ledger, address):
    """The same for a minute."""
    many_at_once(ledger, address, 8, 60.0)


def reached(ledger, number):
    """Whether there are this many changes."""
    return changes(ledger) >= number


def killed(ledger, address, times, seed=1):
    """A process that books is killed again and again, at any moment; what it has booked adds up.

    Nothing is overwritten, so half a booking is seen later too: of many times each tenth is looked at.
    """
    stocked(ledger, 1)
    moments = random.Random(seed)
    for number in range(times):
        before, more = changes(ledger), number % 2  # one dies at any moment, the next when it has booked something
        begun = partial(reached, ledger, before + more)
        killed_after(moments.uniform(0.02, 0.25), begun, book_on_and_on, address, number)
        if times < 10 or number % 10 == 9:
            adds_up(ledger)
        assert reached(ledger, before + more)
    print(f"killed {times} times, {changes(ledger)} changes")
    assert changes(ledger) > 1 + times // 2


def test_a_killed_booking_leaves_nothing_half(ledger, address):
    """Killed at four moments."""
    killed(ledger, address, 4)


@pytest.mark.slow
def test_killed_at_two_hundred_moments(ledger, address):
    """Killed at two hundred moments."""
    killed(ledger, address, 200)


def test_a_full_disk_is_said_and_nothing_booked(ledger, address, request):
    """A booking that finds no room on the disk ends in a sentence and keeps nothing; afterwards booking goes on."""
    stocked(ledger, 2)
    before = changes(ledger)
    limited = nullcontext()
    if not address.startswith("/"):
        limited = request.getfixturevalue("postgresql").no_file_beyond(18_000_000)
    with limited:
        assert ended_well([in_a_process(_book_too_much, address)])
    assert changes(ledger) == before
    stocked(ledger, 1, first=9)
    adds_up(ledger)


def _book_too_much(address):
    """Book twenty megabytes where there is room for less."""
    if address.startswith("/"):
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, resource.RLIM_INFINITY))
    ledger = open_ledger(address)
    try:
        with ledger.booking("Ann", "too much") as booking:
            for _ in range(22):
                booking.connection.execute(tables.body.insert().values(kind="Hide", packed=os.urandom(1_000_000)))
    except LedgerProblem as error:
        assert "room" in str(error) or "full" in str(error), error
        assert "nothing was booked" in str(error)
        return
    raise AssertionError("there was room")


@pytest.mark.parametrize("version", range(1, migrate.VERSION))
def test_an_older_ledger_is_brought_up_to_date(address, version):
    """A ledger of any earlier version keeps what it has and gets the tables of today."""
    engine, where, _ = _engine(address)
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        for number, step in enumerate(migrate.STEPS[:version], start=1):
            step(connection)
            connection.execute(tables.version.insert().values(version=number, at="2026-01-01"))
        connection.execute(tables.change.insert().values(at="2026-01-01T00:00:00Z", said_by="Ann", what="begun"))
    ledger = stocked(open_ledger(address))
    with ledger.reading() as connection:
        assert migrate.version_of(connection) == migrate.VERSION
        assert connection.scalar(select(tables.change.c.what).where(tables.change.c.id == 1)) == "begun"
    wanted(ledger, ("A", "38", 2, "2026-12-01"))
    assert planned(ledger) == "P0001" and where == ledger.where


def test_a_newer_ledger_is_refused(ledger, address):
    """One that a later program wrote is left alone, in one sentence."""
    with ledger.engine.connect().execution_options(writes=True) as connection, connection.begin():
        connection.execute(tables.version.insert().values(version=99, at="2030-01-01"))
    with pytest.raises(LedgerProblem, match=f"schema version 99, this program knows up to {migrate.VERSION}"):
        open_ledger(address)
    with pytest.raises(LedgerProblem, match="99"):
        open_ledger(address, make=True)


@pytest.mark.parametrize("text", ["no ledger at all", "SQLite format 3\0" + 90 * "x"])
def test_a_file_that_is_no_ledger_is_refused(text, tmp_path):
    """Any other file is refused in a sentence and stays as it is."""
    path = tmp_path / "ledger.db"
    path.write_text(text)
    with pytest.raises(LedgerProblem, match=r"not a ledger|damaged"):
        open_ledger(path, make=True)
    assert path.read_text() == text


def test_a_database_of_another_program_is_refused(tmp_path):
    """An SQLite file with other tables is left alone."""
    import sqlite3

    with sqlite3.connect(tmp_path / "other.db") as connection:
        connection.execute("CREATE TABLE wages (id)")
    with pytest.raises(LedgerProblem, match="holds no ledger but other tables"):
        open_ledger(tmp_path / "other.db", make=True)


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("mysql://here/ledger", "a file, or a database at postgresql://"), ("post gres://x", "no address"),
        ("postgresql://x@127.0.0.1:1/l", "no database answers there"), ("/nowhere/at/all.db", "does not exist"),
        ("postgresql:///l?host=/nowhere", "no database answers there"),
    ],
)
def test_a_wrong_address_is_said(address, words):
    """What is no ledger's address, or leads nowhere, gets one sentence."""
    with pytest.raises(LedgerProblem, match=words):
        open_ledger(address, make=True)


def test_everything_of_a_closed_day_goes_out_and_comes_back(ledger, tmp_path):
    """Plans, what was cut and remnants are in the copy too; the ledger made of it adds up and closes the next day."""
    stocked(ledger)
    wanted(ledger, ("A", "38", 9, "2026-12-01"))
    plan = plan_named(ledger, planned(ledger))
    first, second, *_ = (one.hide_id for one in plan.layouts)
    close_day(ledger, HOUSE, cut=list_file(tmp_path, "cut.csv", "material,state", f"{first},cut"), by="Cy")
    export(ledger, tmp_path / "copy")
    other = open_ledger(tmp_path / "other.db", make=True)
    import_all(other, tmp_path / "copy")
    adds_up(other)
    rows = f"{first},cut", f"{second},cut"
    done = close_day(other, HOUSE, cut=list_file(tmp_path, "cut.csv", "material,state", *rows), by="Cy")
    assert done.cut == (second,)
    adds_up(other)


def lists_are_fast(ledger, hides, orders, folder):
    """Every list of a full ledger takes half a second of a processor at most, the database's part of it included, and
    memory that does not matter."""
    filled(ledger, hides, orders)
    asked = {
        "hides": lambda c: len(hide_rows(c)), "free": lambda c: len(hide_rows(c, states=("received", "remnant"))),
        "count": lambda c: len(stock_by_class(hide_rows(c))), "lines": lambda c: len(line_rows(c)),
        "orders": lambda c: len(orders_summed(line_rows(c, until="2027-12-31"))), "plans": lambda c: len(plan_rows(c)),
        "used by order": lambda c: len(used_by(c, "order")), "lots": lambda c: len(lots(c)),
        "still to cut": lambda c: len(held_by_plan(c)), "lacking": lambda c: len(lacking(c)),
    }
    with ledger.reading() as connection:
        served = connection.scalar(text("SELECT pg_backend_pid()")) if connection.dialect.name == "postgresql" else None

        def spent():
            return time.process_time() + (processor_time(served) if served else 0.0)

        for name, ask in asked.items():
            took = []
            for _ in range(3):
                begin = spent()
                assert ask(connection) > 0, name
                took.append(spent() - begin)
            print(f"{name}: {min(took):.2f} s", end="; ")
            assert min(took) <= 0.5, (name, took)
        tracemalloc.start()
        assert all(ask(connection) for ask in asked.values())
    if hides < 1_000:  # memory is traced at the cost of much time
        export(ledger, folder / "copy")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"memory {peak / 1e6:.0f} MB")
    assert peak <= 100e6


def test_lists_of_some_hundred_hides_and_orders(tmp_path):
    """Some of the stock, quickly; the whole of it takes longer to make."""
    lists_are_fast(open_ledger(tmp_path / "ledger.db", make=True), 400, 200, tmp_path)


@pytest.mark.slow
def test_lists_of_ten_thousand_hides_and_five_thousand_orders(ledger, tmp_path):
    """10,000 hides and 5,000 orders of seven lines: every list takes half a second at most."""
    lists_are_fast(ledger, 10_000, 5_000, tmp_path)


def test_two_who_receive_the_same_hide_at_once(ledger):
    """The second of two deliveries under one name is refused, whoever was first."""
    receive_hides(ledger, [hide("H1")], HOUSE.leathers, by="Ann", since="2026-11-03")
    with pytest.raises(Exception, match="H1"):
        receive_hides(ledger, [hide("H1")], HOUSE.leathers, by="Bo", since="2026-11-03")
