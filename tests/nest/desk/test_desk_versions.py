"""Versions at the desk: two side by side, any gone back to; and what a search finds, shown as it comes."""

import threading

import pytest
from desk_threads import InThreads
from edited_plans import rules_broken, two_hides

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from nest.desk import searching
from nest.desk.session import Desk
from nest.desk.versions import MOST_LISTED, beside, listed, standing
from nest.edits import EditProblem, History, State, changed, placed_anew
from nest.edits.commands import GoTo, Hold, NameVersion, PlaceAgain, TakeOut
from nest.edits.history import played


def test_a_plan_in_five_figures():
    """Eight vamps of 224 × 124 mm on two hides of a metre by a half at 30 a m²: yield, pairs and cost by hand."""
    found = standing(two_hides())
    assert found["hides"] == 2 and found["pairs"] == 4 == found["to_cut"]
    assert found["yield"] == pytest.approx(100.0 * 8 * 224 * 124 / 1e6, abs=0.005)
    assert found["cost"] == "30.00"


def test_two_plans_side_by_side():
    """Which hides lie otherwise is named; an emptied hide costs nothing."""
    one = State(two_hides())
    other = one
    for _ in range(4):
        number = other.layout("H2").number(0)
        other = changed(other, TakeOut("H2", number))
    found = beside(one.plan, other.plan)
    assert found["changed"] == ["H2"] and [each["cost"] for each in found["standings"]] == ["30.00", "15.00"]
    assert beside(one.plan, one.plan)["changed"] == []


def test_every_state_has_a_number_and_is_gone_back_to():
    """In words; the named ones stay listed however many come after."""
    history = History.of(State(two_hides()))
    for step in (TakeOut("H1", 1), NameVersion("noon"), Hold("H2", (1,))):
        history, _ = played(history, step, None)
    found = listed(history)
    assert found["at"] == 2
    assert [(one["number"], one["name"], one["did"]) for one in found["states"]] == [
        (0, "", "as it was opened"), (1, "noon", "take out H1"), (2, "", "hold H2")]
    back, _ = played(history, GoTo(number=0), None)
    assert back.state.plan is history.versions[0].state.plan and back.can_redo
    for number in (-1, 3):
        with pytest.raises(EditProblem, match="no version"):
            played(history, GoTo(number=number), None)
    for _ in range(MOST_LISTED + 5):
        history, _ = played(history, Hold("H2", (1,)), None)
    assert [one["number"] for one in listed(history)["states"]][:3] == [0, 1, 8]


def test_better_layouts_are_told_as_they_come(monkeypatch):
    """Each is more than the one before, right by the judge, and no better than what it comes to."""
    state = changed(changed(State(two_hides()), TakeOut("H1", 1)), TakeOut("H1", 2))
    told = []
    monkeypatch.setattr("nest.edits.anew.FIRST_ROUND_S", 0.1)
    found = placed_anew(state, PlaceAgain(("H1",), seconds=0.9), better=told.append)
    areas = [sum(len(layout.placed) for layout in one.layouts) for one in (*told, found)]
    assert told and areas == sorted(areas)
    for one in told:
        assert not rules_broken(changed(state, one).plan)


def test_what_a_search_has_found_can_be_looked_at(page, monkeypatch):
    """Before and after stand side by side when it has ended; under Versions too, and back it goes."""
    monkeypatch.setattr(searching, "_SPAWN", InThreads)
    page.locator(".piece").first.focus()
    page.keyboard.press("Delete")
    page.wait_for_selector("#undo:not([disabled])")
    page.locator("#short li", has_text="short").wait_for()
    page.fill("#seconds", "0.6")
    page.click("#again")
    page.locator("#found td", has_text="4 of 4").wait_for()
    page.locator("#beside figcaption", has_text="before").wait_for()
    assert page.locator("#beside svg .piece").count() == 3
    page.click("#tab-versions")
    page.locator("#compared tr").nth(3).wait_for()
    page.locator("#beside figure").nth(1).wait_for()
    page.fill("#version", "noon")
    page.click("#name_it")
    page.locator("#one option", has_text="2: noon (now)").wait_for(state="attached")
    page.select_option("#one", "0")
    page.locator("#beside figcaption", has_text="version 0").wait_for()
    page.click("#go")
    page.locator("#one option", has_text="0: as it was opened (now)").wait_for(state="attached")
    assert page.locator("#picture .piece").count() == 4


def test_the_best_so_far_is_kept_while_a_search_runs(tmp_path, monkeypatch):
    """The page lists it with its figures and shows it as a version; when the search has ended it is gone."""
    desk, told, ended = Desk(two_hides(), tmp_path), [], threading.Event()
    seen = []

    def hear(one):
        if one.kind == "better":
            told.append(one.data)
            seen.append(desk.candidate)
        if one.data.get("ended"):
            ended.set()

    def search(state, command, **how):
        found = placed_anew(state, PlaceAgain(("H1",), passes=2))
        how["better"](found)
        return found

    monkeypatch.setattr(searching, "searched", search)
    monkeypatch.setattr(searching, "_SPAWN", InThreads)
    desk.listeners.append(hear)
    desk.do(TakeOut("H1", 1), 0)
    desk.search(PlaceAgain(("H1",), seconds=5.0), 1)
    assert ended.wait(60)
    assert told[0]["standings"][0]["pairs"] < told[0]["standings"][1]["pairs"] == 4
    assert seen[0].plan.layouts and desk.candidate is None
    desk.close()
