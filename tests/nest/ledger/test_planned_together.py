"""Orders planned together and one by one, and plans made again from the whole stock. Invented."""

from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest
from day_jobs import HOUSE, LINE
from tiny_plans import box_plan, hide, in_pairs, spots

from nest.ledger import joint
from nest.ledger.joint import Saved, beside_one_by_one, plan_due, short_of_leather
from nest.ledger.offer import order_lines
from nest.plan import CutLine, HideLayout

SHORT = box_plan(order=(CutLine("box", "38", 3, 3),))


def test_leather_is_short_where_a_vamp_found_no_place():
    """Two pairs are placed: two wanted are met; a third, or a pair of another size, is short."""
    assert not short_of_leather(box_plan()) and short_of_leather(SHORT)
    assert short_of_leather(box_plan(order=(CutLine("box", "38", 2, 2), CutLine("box", "39", 1, 1))))


@pytest.mark.parametrize(("left_out", "first", "again"), [
    (3, SHORT, True), (0, SHORT, False), (3, box_plan(), False), (0, box_plan(), False),
])
def test_all_of_the_stock_is_tried_where_the_oldest_hides_do_not_do(monkeypatch, left_out, first, again):
    """The whole stock is tried only if hides were left out and leather is short; a sentence gives both numbers."""
    def offered(ledger, job, *, until, orders, whole_stock):
        assert (ledger, job, until, orders) == ("ledger", "job", "2026-12-01", ("A",))
        return SimpleNamespace(job="all" if whole_stock else "oldest", hides=(1, 2), said=("a roll is missing.",),
                               left_out=0 if whole_stock else left_out)

    monkeypatch.setattr(joint, "offer", offered)
    said: list[str] = []
    plans = {"oldest": first, "all": box_plan(name="again")}
    found, plan = plan_due("ledger", "job", plans.get, until="2026-12-01", orders=("A",), say=said.append)
    assert (found.job, plan) == (("all", plans["all"]) if again else ("oldest", first))
    words = "The 2 oldest hides do not do: planning again with all 5 that are free."
    assert said == ["a roll is missing.", *[words] * again]


def laid(job):
    """A plan that lays all pairs of a job on its first hide, if there is one."""
    pairs = sum(line.pairs for line in job.order)
    plan = box_plan(order=(CutLine("box", "38", pairs, pairs),), hides=job.hides)
    if not job.hides:
        return replace(plan, layouts=(), lays=())
    placed = in_pairs(["V38"] * 2 * pairs, spots(2 * pairs))
    return replace(plan, layouts=(HideLayout(job.hides[0].hide_id, placed),),
                   lays=(replace(plan.lays[0], plies=pairs),))


def test_what_planning_together_saves(monkeypatch):
    """Orders of 3 and 2 pairs share one hide of 15.00 together, and need a hide each one by one."""
    lines = tuple(replace(LINE, order_no=name, wanted=pairs, planned=0, cut=0, spoiled=0)
                  for name, pairs in (("A", 3), ("B", 1), ("B", 1)))
    monkeypatch.setattr(joint, "Engine", SimpleNamespace(fresh=lambda: "a fresh engine"))
    asked = []

    def make(job, *, engine, seconds):
        assert engine == "a fresh engine"
        asked.append((sum(line.pairs for line in job.order), [one.hide_id for one in job.hides], seconds))
        return laid(job)

    def saved(hides, seconds, lines=lines):
        job = replace(HOUSE, hides=tuple(map(hide, hides)), order=order_lines(lines))
        return beside_one_by_one(SimpleNamespace(lines=lines, job=job), laid(job), make, seconds)

    assert saved(["H1", "H2", "H3"], 60.0) == Saved(2, 1, Decimal(15), 2, Decimal(30), 0)
    assert asked == [(3, ["H1", "H2", "H3"], 36.0), (2, ["H2", "H3"], 24.0)]
    assert saved(["H1"], None) == Saved(2, 1, Decimal(15), 1, Decimal(15), 2) and asked[-1] == (2, [], None)
    assert saved(["H1"], 60.0, lines[:1]) is None and len(asked) == 4


def test_only_hides_that_are_used_are_counted():
    """One hide of two is used; two plans add up."""
    plan = box_plan(hides=(hide("H1"), hide("H2")))
    assert joint._opened([plan]) == (1, Decimal(15)) and joint._opened([plan, plan]) == (2, Decimal(30))
    assert joint._opened([]) == (0, Decimal(0))
