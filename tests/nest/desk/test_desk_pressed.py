"""Outcomes at the desk: the list that comes of them is read like one filled in by hand, and the page ticks them."""

from dataclasses import replace

import pytest
from edited_plans import after, two_hides
from tiny_plans import hide, slant_plan

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from nest.desk.pressed import outcomes_csv, pressed_told
from nest.edits.commands import CutOff, Pressed
from nest.outcomes import Reason, read_outcomes
from nest.pieces.piece import Part


def test_the_list_reads_back(tmp_path):
    """Reason, trim, day and whether the reinforcement was kept are those that were ticked."""
    state = after(two_hides(), CutOff("H1"), Pressed("H1", (1,), "pleats", day="2026-03-02", backed=False),
                  Pressed("H1", (2, 3), "good", day="2026-03-02"), Pressed("H1", (4,), toe_mm=9.5, back_mm=-1.0))
    (tmp_path / "list.csv").write_text(outcomes_csv(state), encoding="utf-8", newline="")
    first, good, _, measured = read_outcomes(state.plan, tmp_path / "list.csv")
    assert (first.reason, first.day, first.backed) == (Reason.PLEATS, "2026-03-02", False)
    assert good.reason is Reason.GOOD and good.backed
    assert measured.reason is None and measured.trim_mm == ((Part.TOE, 9.5), (Part.BACK, -1.0))
    assert pressed_told(state, "H1")[4]["toe_mm"] == 9.5 and pressed_told(state, "H2") == {}


def test_the_list_row_by_row():
    """A row has hide, number, style, size and side; a piece for either foot has no side; unknowns stay empty."""
    first = slant_plan().layouts[0]
    plan = replace(slant_plan(), hides=(*slant_plan().hides, hide("H2")), layouts=(first, replace(first, hide_id="H2")))
    state = after(plan, CutOff("H2"), CutOff("H1"), Pressed("H2", (1,), side_mm=2.5),
                  Pressed("H1", (2,), "pleats", day="2026-03-02", backed=False), Pressed("H1", (1,), "good"))
    assert outcomes_csv(state).splitlines()[1:] == [
        "H1,1,slant,38,left,good,,,,,", "H1,2,slant,38,right,pleats,,,,2026-03-02,kept", "H2,1,slant,38,left,,,2.5,,,"]
    either = after(two_hides(), CutOff("H1"), Pressed("H1", (3,), "good"))
    assert outcomes_csv(either).splitlines()[1] == "H1,3,box,38,,good,,,,,"


def test_outcomes_are_ticked_on_the_page(page):
    """A reason, trim typed in, the others good at once, and the list as a file."""
    page.click("#tab-day")
    page.click("#hide-cut")
    page.select_option("#outcome-1", "pleats")
    page.locator("#day-words li", has_text="To cut again: 1 × box 38").wait_for()
    page.fill("#trim-toe-2", "9,5")
    page.press("#trim-toe-2", "Tab")
    page.locator("#trim-side-2:focus").wait_for()
    page.click("#others-good")
    page.locator("#others-good[disabled]").wait_for()
    with page.expect_download() as file:
        page.click("#outcomes-file")
    rows = file.value.path().read_text(encoding="utf-8").splitlines()
    assert len(rows) == 5 and ",pleats," in rows[1] and ",good,9.5," in rows[2]
