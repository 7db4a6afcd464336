"""The whole order placed with other allowances, prices and rules: a plan like any other, and a step like any other."""

import sys
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from edited_plans import rules_broken, two_hides

sys.path.append(str(Path(__file__).parents[1] / "planning"))
from box_jobs import ROWS, hide, job, style

from geometry.polygon import area
from nest.edits import EditProblem, History, Journal, State, changed, played, searched
from nest.edits.commands import BanHide, Hold, PlaceWith, SetPlan, Undo
from nest.pieces.piece import Part
from nest.pieces.style import OrderLine
from nest.plan import Begun, CutHide
from nest.planfile import plan_text
from nest.planning.make import make_plan
from nest.scenarios import Moved

LESS = PlaceWith(Moved(more_mm=(("box", Part.TOE, -2.0),), prices=(("calf", 10.0),), tolerance_deg=5.0), passes=1)


@pytest.fixture(scope="module")
def plan():
    """Four pairs on two hides, due on a day, with a note."""
    day = date(2030, 5, 2).isoformat()
    plain = job(styles=[style(notes=("skive the throat",))], hides=[hide("H1"), hide("H2")],
                order=())
    return make_plan(replace(plain, order=(OrderLine("box", "38", 4, day, 1),)), passes=1, engine=ROWS)


def test_the_order_is_placed_with_what_was_moved(plan, tmp_path):
    """Pieces are smaller, leather dearer, the rule stricter, notes and dates kept; the judge is content; undone
    and opened again it is the very plan."""
    found = searched(State(plan), LESS, engine=ROWS)
    new = found.plan
    assert not rules_broken(new)
    assert new.styles[0].allowances.toe_mm == 10.0 and new.styles[0].rules.tolerance_deg == 5.0
    assert new.styles[0].notes == ("skive the throat",) and new.order == plan.order
    assert new.leathers[0].price == plan.leathers[0].price * Decimal("1.1")
    before, after = (area(one.pieces[0].cut_outline) for one in (plan, new))
    assert 50.0 < before - after < 400.0
    path = tmp_path / "edits.log"
    with Journal(path, plan) as journal:
        history, done = played(journal.history, LESS, lambda state, command: found)
        journal.add(history, done)
        assert isinstance(done, SetPlan)
    with Journal(path, plan) as journal:
        assert plan_text(journal.history.state.plan) == plan_text(new)
        assert played(journal.history, Undo(), None)[0].state.plan is plan


def test_a_banned_hide_stays_banned(plan):
    """It is in the plan, and nothing lies on it."""
    state = changed(State(plan), BanHide("H1"))
    new = searched(state, LESS, engine=ROWS).plan
    assert [one.hide_id for one in new.hides] == ["H1", "H2"] and new.begun.withdrawn == ("H1",)
    assert {one.hide_id for one in new.layouts if one.placed} == {"H2"}


def test_what_cannot_be_placed_so_is_said(plan):
    """Cut or held hides, leather that is not there, limits that are none: one sentence, no search."""
    for state, command, words in (
        (State(replace(plan, begun=Begun(hides=(CutHide("H1"),)))), LESS, "cut in part"),
        (changed(State(plan), Hold("H1")), LESS, "free it first"),
        (State(plan), replace(LESS, passes=None), "seconds or passes"),
        (State(plan), replace(LESS, moved=Moved(instead=(("calf", "silk"),))), "cannot take the place"),
        (State(plan), replace(LESS, moved=Moved(more_mm=(("box", Part.TOE, -20.0),))), "0 or more"),
    ):
        with pytest.raises(EditProblem, match=words):
            searched(state, command, engine=ROWS)
    with pytest.raises(EditProblem, match="free it first"):
        changed(changed(State(plan), Hold("H1")), SetPlan(plan))
    broken = replace(two_hides(), pieces=())
    with pytest.raises(EditProblem, match="cannot be used"):
        changed(State(plan), SetPlan(broken))


def test_a_full_journal_takes_no_more(plan, tmp_path, monkeypatch):
    """Beyond what can be read again a step is refused, and what was done before is still there."""
    monkeypatch.setattr("nest.edits.journal.LARGEST_PLAN_BYTES", 300)
    with Journal(tmp_path / "edits.log", plan) as journal:
        history = changed(journal.history.state, BanHide("H1"))
        journal.add(journal.history.then(BanHide("H1"), history), BanHide("H1"))
        with pytest.raises(EditProblem, match="is full"):
            journal.add(History.of(State(plan)), SetPlan(plan))
    with Journal(tmp_path / "edits.log", plan) as journal:
        assert journal.history.state.plan.begun.withdrawn == ("H1",)
