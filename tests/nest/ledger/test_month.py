"""A small month in the ledger, planned in rows; `tests/bench/month.py` has the large one, planned by the planner."""

import pytest
from box_jobs import hide
from day_jobs import HOUSE, rows_plan
from shop_month import Month, Shop, check_month

from nest.ledger.stock import RollReceived
from nest.ledger.store import open_ledger


def a_month(ledger, folder):
    """Six days, nine orders, twenty hides: everything adds up, and all kinds of things have happened."""
    month = Month(
        HOUSE, tuple(hide(f"K{n:02d}") for n in range(20)),
        tuple(RollReceived(f"R{n}", "knit", 90_000.0) for n in range(2)), rows_plan, ("38", "39", "40"),
        days=6, orders=9, pairs=(1, 3), given_up=0.5, withdrawn=0.15, spoiled=0.1, deliveries=2, seed=2,
    )
    told = Shop(ledger, month, folder).run()
    found = check_month(ledger, month)
    assert told.remnants_used and told.withdrawn and told.spoiled and told.given_up
    assert 0.0 < found["rough"] < found["used"] < found["whole"]


def test_a_month_adds_up(tmp_path):
    """Nothing is used twice; areas, pairs, metres and money add up; remnants are used."""
    a_month(open_ledger(tmp_path / "ledger.db", make=True), tmp_path)


@pytest.mark.slow
def test_a_month_adds_up_in_either_database(ledger, tmp_path):
    """The same in PostgreSQL too."""
    a_month(ledger, tmp_path)
