"""Three days at the desk in Chromium, first click to last file, at the widths of desk, tablet and telephone.

The planner finds a scar and ticks off what is cut; the clerk moves the allowance and has the order placed so; the
operator takes one hide to a table of his own. Slow: the searches and the files are real.
"""

import csv
import sys
import zipfile
from pathlib import Path

import pytest

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

sys.path.append(str(Path(__file__).parents[1] / "planning"))
from box_jobs import ROWS, hide, job, style
from desk_hands import at, settled

from nest.cli import steps
from nest.desk.app import Writers
from nest.planfile import read_plan
from nest.planning.make import make_plan
from nest.verify import verify

pytestmark = pytest.mark.slow

WIDTHS = [(1440, 900), (1024, 768), (390, 844)]


@pytest.fixture(scope="module")
def boxes():
    """Nine pairs of a box on three hides and one more."""
    plain = job(styles=[style(reject_percent=3.0)], hides=[hide(f"H{n}") for n in range(1, 5)],
                order=(("box", "38", 9),))
    return make_plan(plain, passes=1, engine=ROWS)


@pytest.fixture
def desk_plan(boxes):
    """What is at the desk."""
    return boxes


@pytest.fixture
def desk_writers(tmp_path):
    """The real ones."""
    return Writers(steps.writer_beside(tmp_path / "out"), steps.packed_hide)


def no_rule_broken(page, width):
    """By axe-core, and nothing wider than the window."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    assert [one["id"] for one in axe.run(page).response["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(("width", "height"), WIDTHS)
def test_the_planner(page, tmp_path, width, height):
    """A scar at six, pieces held, the hide placed again; at ten a hide is cut, a vamp lost; at night the lists."""
    page.set_viewport_size({"width": width, "height": height})
    settled(page, "Verified")
    page.locator("#hides button[data-hide=H1]").click()
    page.locator(".piece").first.focus()
    for _ in range(2):
        page.click("#hold")
        page.locator(".piece.held").first.wait_for()
        page.locator(".piece:not(.held)").first.focus()
    page.locator("[data-draw=stroke]").click()
    spot = page.evaluate("fetch('/hide/H1').then(a => a.json()).then(d => [d.pieces.at(-1).x, d.pieces.at(-1).y])")
    page.locator("#picture").scroll_into_view_if_needed()
    page.mouse.click(*at(page, spot[0] - 20.0, spot[1]))
    page.mouse.click(*at(page, spot[0] + 20.0, spot[1]))
    page.keyboard.press("Enter")
    page.locator(".piece.wrong").first.wait_for()
    settled(page, "Not verified")
    no_rule_broken(page, width)
    page.fill("#seconds", "3")
    page.click("#again")
    page.locator("#said", has_text="Placed again").wait_for(timeout=60_000)
    settled(page, "Verified")
    page.click("#tab-day")
    page.click("#hide-cut")
    page.locator("#hide-cut", has_text="not cut").wait_for()
    page.locator("#ticks button", has_text="spoiled").first.click()
    page.locator("#day-words li", has_text="To cut again").wait_for()
    no_rule_broken(page, width)
    page.click("#tab-place")
    page.click("#again-all")
    page.locator("#said", has_text="Placed again").wait_for(timeout=60_000)
    settled(page, "Verified")
    page.click("#files")
    page.locator("#said", has_text="Written to").wait_for(timeout=120_000)
    out = tmp_path / "out-desk-1"
    assert verify(read_plan(out / "plan.json")).ok
    rows = list(csv.reader((out / "cut.csv").open(encoding="utf-8-sig")))
    assert rows[1][:2] == ["H1", "cut"]
    assert len(list(csv.reader((out / "spoiled.csv").open(encoding="utf-8-sig")))) == 2
    assert (out / "print.pdf").is_file()


@pytest.mark.parametrize(("width", "height"), WIDTHS)
def test_the_clerk(page, width, height):
    """Two millimetres more at the toe: dearer at once; placed so it is a plan, beside the one before; undone."""
    page.set_viewport_size({"width": width, "height": height})
    settled(page, "Verified")
    page.click("#tab-price")
    page.wait_for_selector("#price-found:not([hidden])", timeout=120_000)
    page.get_by_role("slider", name="toe allowance").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.locator("#price-rows tr:first-child td:nth-child(3)", has_text="−").wait_for()
    page.locator("#price-curve polyline").wait_for()
    no_rule_broken(page, width)
    page.fill("#with-seconds", "4")
    page.click("#place-with")
    page.locator("#said", has_text="placed anew").wait_for(timeout=120_000)
    settled(page, "Verified")
    page.click("#tab-versions")
    page.locator("#compared tr").nth(3).wait_for()
    page.locator("#beside figure").nth(1).wait_for()
    no_rule_broken(page, width)
    page.click("#undo")
    page.wait_for_selector("#undo[disabled]")


@pytest.mark.parametrize(("width", "height"), WIDTHS)
def test_the_operator(page, tmp_path, width, height):
    """The way of the tool is shown and played; the files of one hide come for a table of his own."""
    page.set_viewport_size({"width": width, "height": height})
    settled(page, "Verified")
    page.locator("#hides button[data-hide=H2]").click()
    page.click("#tab-day")
    table = tmp_path / "old.toml"
    table.write_text('grain_down = true\norigin = "lower right"\n', encoding="utf-8")
    page.set_input_files("#table-file", str(table))
    page.click("#show-way")
    page.locator("#picture .way .cut").first.wait_for(state="attached")
    page.click("#play-way")
    page.locator("#way-words", has_text="cut of no.").wait_for()
    no_rule_broken(page, width)
    with page.expect_download(timeout=120_000) as file:
        page.click("#hide-files")
    packed = tmp_path / "hide.zip"
    file.value.save_as(packed)
    with zipfile.ZipFile(packed) as found:
        assert {"drawings/hide-H2.dxf", "sheets/hide-H2.pdf"} <= set(found.namelist())
        found.extract("plan.json", tmp_path / "hide")
    assert read_plan(tmp_path / "hide" / "plan.json").settings.table.grain_down
