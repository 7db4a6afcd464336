"""The day at the desk: ticks, used against planned, files of one hide for any table, the way of the tool."""

import io
import zipfile
from dataclasses import replace

import pytest
import shapely
from edited_plans import after, lying, two_hides
from tiny_plans import box_plan, moved

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from nest.cli.steps import packed_hide, writer_beside
from nest.cutplan.readback import read_cut_dxf
from nest.desk.day import cut_in_part, day_told, way_told
from nest.edits import EditProblem, State
from nest.edits.commands import CutLay, CutOff, Spoil
from nest.errors import InputProblems, PlanProblem
from nest.job.cutting_table import Corner, CuttingTable
from nest.planfile import read_plan
from nest.report.checks import verdict_words

TABLE = """
grain_down = true
origin = "upper right"
turn_deg = 90.0
"""


def test_used_against_planned_counts_what_is_ticked():
    """One of two hides cut, one vamp of four lost: four vamps make one pair and one more, half the leather is used."""
    plan = two_hides()
    state = after(plan, CutOff("H1"), Spoil("H1", (1,)), CutOff("H2", (1,)))
    told = day_told(state, plan)
    (total,) = (row for row in told["used"] if row[:2] == ["all", "all"])
    assert total[2:] == [2.0, 1.0, 100.0, 50.0, 0.0, 0.0, 3, 1, 4.0, 1, total[-1]]
    assert told["again"] == ["1 × box 38, either"] and told["part"] == ["H2: 1 of 4 pieces"]
    assert cut_in_part(state) == {"H2": (1, 4)}
    assert day_told(State(plan), plan)["part"] == []


@pytest.mark.parametrize("table", [
    CuttingTable(), CuttingTable(grain_down=True, origin=Corner.UPPER_RIGHT, turn_deg=90.0, origin_x_mm=50.04,
                  origin_y_mm=30.06),
])
def test_the_way_of_the_tool_lies_on_the_outlines(table):
    """In the hide's own coordinates whatever the table: each piece is cut once, along its outline as it lies."""
    plan = two_hides()
    plan = moved(replace(plan, settings=replace(plan.settings, table=table)), 0, 0.123, 0.456, 1.0)
    told = way_told(State(plan), "H1")
    assert all(x == round(x, 1) for step in told["steps"] for point in step["points"] for x in point)
    assert told["home"] == ([30.1, 50.0] if table.grain_down else [0.0, 0.0])
    cuts = [step for step in told["steps"] if step["kind"] == "cut"]
    assert sorted(step["number"] for step in cuts) == [1, 2, 3, 4] and told["seconds"] > 0
    for step in told["steps"]:
        piece_id, pose = lying(State(plan), "H1")[step["number"]]
        outline = shapely.LinearRing(pose.apply(plan.piece(piece_id).cut_outline))
        way = shapely.LineString(step["points"])
        if step["kind"] == "cut":
            assert shapely.covers(way.buffer(0.2), outline)
        else:
            assert shapely.covers(shapely.Polygon(outline).buffer(0.2), way)
    with pytest.raises(EditProblem, match="nothing lies"):
        way_told(State(plan), "H3")


def test_files_of_one_hide_for_any_table(tmp_path):
    """Drawing and sheet alone, for the table that is described; the drawing is the hide's, mirrored for grain down."""
    with zipfile.ZipFile(io.BytesIO(packed_hide(two_hides(), "H2", TABLE))) as packed:
        names = set(packed.namelist())
        packed.extractall(tmp_path)
    assert {"drawings/hide-H2.dxf", "sheets/hide-H2.pdf", "plan.json"} <= names
    assert not any("H1" in name for name in names)
    read = read_cut_dxf(tmp_path / "drawings" / "hide-H2.dxf")
    assert [layout.hide_id for layout in read.layouts] == ["H2"] and len(read.layouts[0].placed) == 4
    assert read_plan(tmp_path / "plan.json").settings.table.grain_down


@pytest.mark.parametrize(("table", "words"), [
    ("[table", "table.toml"), ("colour = 3", "colour"), ("turn_deg = 'x'", "turn_deg"),
])
def test_a_table_that_cannot_be_read_is_said(table, words):
    """By the name of its key, as everywhere."""
    with pytest.raises(InputProblems, match=words):
        packed_hide(two_hides(), "H1", table)
    with pytest.raises(PlanProblem, match="nothing lies"):
        packed_hide(two_hides(), "H3", "")


def test_write_files_writes_the_lists_too(tmp_path, monkeypatch):
    """Beside the folder, under a new name each time: the plan as it is, the lists of the day, and the verdict."""
    written = []

    def wrote(*what, **how):
        what[1]({})  # as the writer asks for the accounts once it knows the seconds
        written.append((what, how))

    monkeypatch.setattr("nest.cli.steps.write_outputs", wrote)
    state = after(two_hides(), CutOff("H1"), Spoil("H1", (1,)))
    (tmp_path / "out-desk-1").mkdir()
    told = writer_beside(tmp_path / "out")(state.plan, state.plan.begun)
    ((plan, _, verdict, folder), how), = written
    assert told == {"folder": str(tmp_path / "out-desk-2"), "words": verdict_words(verdict), "ok": True}
    assert plan is state.plan and str(folder) == told["folder"]
    cut, spoiled = how["tables"]
    assert (cut.name, cut.rows) == ("cut", (("H1", "cut", "", ""),))
    assert (spoiled.name, spoiled.rows) == ("spoiled", (("box", "38", "", 1, "lost"),))


@pytest.fixture
def desk_plan():
    """At the desk: four pairs on two hides, their reinforcements on one lay of four plies."""
    (lay,) = box_plan().lays
    return replace(two_hides(), styles=box_plan().styles, rolls=box_plan().rolls, lays=(replace(lay, plies=4),))


def test_lays_are_told_with_what_is_cut_of_them(desk_plan):
    """Plies ticked off here, lays cut before; what is off the roll counts to the ply."""
    told = day_told(after(desk_plan, CutLay("L1", 3)), desk_plan)
    assert told["lays"] == [{"id": "L1", "roll": "knit", "plies": 4, "pieces": 2, "cut": 3, "before": False}]
    (total,) = (row for row in told["used"] if row[:2] == ["all", "all"])
    assert total[6:8] == [4 * 0.449, 3 * 0.449]
    whole = {"id": "L1", "roll": "knit", "plies": 4, "pieces": 2, "cut": 0, "before": False}
    assert day_told(State(desk_plan), desk_plan)["lays"] == [whole]
    earlier = replace(desk_plan, begun=after(desk_plan, CutLay("L1")).plan.begun)
    assert day_told(State(earlier), desk_plan)["lays"][0] | {"cut": 4, "before": True} == day_told(
        State(earlier), desk_plan)["lays"][0]


def test_lays_are_ticked_off_ply_by_ply(page):
    """One ply, all of them, one less; the button that was pressed keeps the focus, so that it is pressed again."""
    page.click("#tab-day")
    lay = page.locator("#lays li")
    more = page.get_by_role("button", name="one ply more: lay L1")
    more.press("Enter")
    lay.get_by_text("1 of 4 plies cut").wait_for()
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("one ply more")
    page.keyboard.press("Enter")
    lay.get_by_text("2 of 4 plies cut").wait_for()
    page.get_by_role("button", name="cut: lay L1").press("Enter")
    lay.get_by_text("4 of 4 plies cut").wait_for()
    page.locator("#used tr", has_text="reinforcement m").get_by_text("1.8").nth(1).wait_for()
    page.get_by_role("button", name="one ply less").press("Enter")
    lay.get_by_text("3 of 4 plies cut").wait_for()


def test_a_day_on_a_tablet(page):
    """Pieces and the hide are ticked off, one is spoiled, the way is played, files come; every target is large."""
    page.set_viewport_size({"width": 1024, "height": 768})
    page.click("#tab-day")
    page.locator("#ticks li").first.get_by_role("button", name="cut:").click()
    page.locator(".piece.done").wait_for()
    page.locator("#day-words li", has_text="Cut in part: H1: 1 of 4").wait_for()
    page.click("#show-way")
    page.wait_for_selector("#picture .way .cut")
    small = page.evaluate("""[...document.querySelectorAll("button, [type=range]")].filter(b => b.offsetParent).map(
        b => b.getBoundingClientRect()).filter(r => r.height < 43.5 || r.width < 43.5).length""")
    assert small == 0
    page.click("#play-way")
    below = page.locator("#play-way").bounding_box()["y"]
    page.locator("#way-words", has_text="cut of no.").wait_for()
    assert page.locator("#play-way").bounding_box()["y"] == below
    with page.expect_download() as file:
        page.click("#hide-files")
    assert file.value.suggested_filename == "hide-H1.zip"
    page.click("#hide-cut")
    page.get_by_text("The hide is not cut").wait_for()
    page.locator("#ticks li").nth(2).get_by_role("button", name="spoiled:").click()
    page.locator("#day-words li", has_text="To cut again: 1 × box 38").wait_for()
    page.locator("#short li", has_text="vamp box 38 is 1 piece short").wait_for()
    assert page.locator("#hides .quiet, #hides .bad").first.inner_text() == "cut"


def test_a_press_is_not_lost_while_another_is_answered(page):
    """A piece's button is held down while the answer to another's comes and the list is renewed: both are cut."""
    page.click("#tab-day")
    third = page.locator("#ticks li").nth(2).get_by_role("button", name="cut:")
    third.hover()
    page.mouse.down()
    page.evaluate("document.querySelector('#ticks button').click()")
    page.locator("#day-words li", has_text="Cut in part: H1: 1 of 4").wait_for()
    page.mouse.up()
    page.locator("#day-words li", has_text="Cut in part: H1: 2 of 4").wait_for()


def test_a_hide_stands_as_it_was_answered_where_events_come_late(page):
    """Without a single event heard the buttons of a hide still say what a press does now."""
    page.add_init_script("window.EventSource = class { addEventListener() {} }")
    page.reload()
    page.wait_for_selector("body[data-ready]")
    page.click("#hold-hide")
    page.get_by_role("button", name="Free the hide").click()
    page.get_by_role("button", name="Hold the hide").wait_for()
    page.click("#tab-day")
    page.click("#hide-cut")
    page.get_by_role("button", name="The hide is not cut").click()
    page.get_by_role("button", name="The hide is cut").wait_for()
    page.click("#tab-place")
    page.click("#ban")
    page.get_by_role("button", name="Allow the hide").click()
    page.get_by_role("button", name="Ban the hide").wait_for()
