"""The desk in Chromium, as the planner uses it: a scar marked, pieces held, dragged and placed again, all of it undone.

Needs Chromium and the package playwright; without them these tests are skipped.
"""

import pytest
from desk_hands import at, settled, until
from desk_threads import InThreads
from edited_plans import two_hides

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from nest.desk import searching
from nest.edits.journal import Journal
from nest.verify import verify


def drag(page, start, end):
    """Take what lies at one point and let it go at another, mm."""
    page.mouse.move(*at(page, *start))
    page.mouse.down()
    page.mouse.move(*at(page, *[0.5 * (a + b) for a, b in zip(start, end, strict=True)]), steps=3)
    page.mouse.move(*at(page, *end), steps=3)
    page.mouse.up()


def test_the_scar_of_the_morning(page, tmp_path, monkeypatch):
    """Drawn in two clicks, red at once; a piece is held, the hide placed again, the judge content; all undone."""
    monkeypatch.setattr(searching, "_SPAWN", InThreads)
    assert page.locator("#hides button").count() == 3
    settled(page, "Verified, the order is met")
    page.click("[data-draw=stroke]")
    page.mouse.click(*at(page, 100.0, 60.0))
    page.mouse.click(*at(page, 150.0, 80.0))
    page.keyboard.press("Enter")
    page.wait_for_selector(".piece.wrong")
    settled(page, "Not verified")
    assert page.locator(".piece.wrong").count() == 1
    assert "scar F01" in page.inner_text("#findings")
    page.locator(".piece").nth(2).click()
    page.click("#hold")
    page.wait_for_selector(".piece.held")
    page.fill("#seconds", "0,6")
    page.click("#again")
    settled(page, "Verified, the order is met")
    page.wait_for_selector(".piece.wrong", state="detached")
    page.click("#undo")
    settled(page, "Not verified")
    for _ in range(2):
        page.click("#undo")
    settled(page, "Verified, the order is met")
    page.wait_for_selector("#undo[disabled]")
    with pytest.raises(Exception, match="another desk"):
        Journal(tmp_path / "edits.log", two_hides())


def test_a_piece_is_dragged_and_slides_along_its_neighbour(page, tmp_path):
    """Let go over its neighbour it lies beside it, as near as the rules let it; the judge finds nothing."""
    drag(page, (120.0, 70.0), (160.0, 78.0))
    page.wait_for_selector("#undo:not([disabled])")
    settled(page, "Verified, the order is met")
    x = page.evaluate("fetch('/hide/H1').then(a => a.json()).then(d => d.pieces[0].x)")
    assert 120.0 <= x <= 126.5  # its neighbour, 224 mm long, lies at 350: no nearer than 126
    drag(page, (x, 72.0), (x, 300.0))
    # the verdict reads the same before and after: it is the place that says the step has come in
    page.wait_for_function("fetch('/hide/H1').then(a => a.json()).then(d => d.pieces[0].y > 250)")
    settled(page, "Verified, the order is met")


SLOW_ANSWERS = """
const fetched = window.fetch;
window.fetch = async (path, options) => {
  const answer = await fetched(path, options);
  const late = path === "/plan" ? !(await answer.clone().json()).judged : path.startsWith("/places");
  if (late) await new Promise((go) => setTimeout(go, 700));
  return answer;
};
null;
"""
"""The network is slow in the worst order: what is old arrives after what is new, places after the hand let go."""


def test_a_slow_network_changes_nothing(page):
    """An old answer never overtakes a new one, hasty presses are all done, a quick drag still lies where it may."""
    settled(page, "Verified, the order is met")
    page.evaluate(SLOW_ANSWERS)
    page.locator(".piece").first.focus()
    page.keyboard.press("Shift+ArrowUp")
    page.wait_for_selector("#undo:not([disabled])")
    settled(page, "Verified, the order is met")
    page.mouse.move(*at(page, 120.0, 70.0))
    page.mouse.down()
    page.mouse.move(*at(page, 140.0, 74.0), steps=2)
    page.mouse.move(*at(page, 160.0, 78.0), steps=2)
    page.mouse.up()
    until(page, "fetch('/hide/H1').then(a => a.json()).then(d => d.pieces[0].x > 121 && d.pieces[0].x <= 126.5)")
    page.evaluate("for (const _ of [1, 2]) document.querySelector('#undo').click()")
    settled(page, "Verified, the order is met")
    page.wait_for_selector("#undo[disabled]")


def test_by_keyboard_alone(page):
    """A piece is chosen, moved, held, taken out and brought back without a mouse."""
    page.locator(".piece").first.focus()
    assert "No. 1" in page.inner_text("#piece")
    page.keyboard.press("Shift+ArrowUp")
    page.wait_for_selector("#undo:not([disabled])")
    assert page.evaluate("fetch('/hide/H1').then(a => a.json()).then(d => d.pieces[0].y)") == 80.0
    page.locator(".piece").first.focus()
    page.keyboard.press("Delete")
    settled(page, "Verified, the order is short")
    page.keyboard.press("Control+z")
    settled(page, "Verified, the order is met")


def test_two_windows_see_each_other(page, browser, address):
    """What is done at one is shown at the other without a click."""
    other = browser.new_context().new_page()
    other.goto(address)
    other.wait_for_selector("body[data-ready]")
    other.locator(".piece").first.focus()
    other.keyboard.press("Delete")
    settled(other, "Verified, the order is short")
    settled(page, "Verified, the order is short")
    page.locator(".piece").nth(3).wait_for(state="detached")
    assert page.locator(".piece").count() == 3
    other.close()


def broken(page, tab, width, height):
    """Rules of axe-core that a tab breaks at a width; the page is no wider than the window there."""
    page.set_viewport_size({"width": width, "height": height})
    page.click(f"#tab-{tab}")
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = axe.run(page).response["violations"]
    return [(one["id"], [node["html"][:120] for node in one["nodes"]]) for one in found]


WIDTHS = [(1440, 900), (1024, 768), (390, 844)]


def test_no_rule_of_accessibility_is_broken(page):
    """Every tab at one width, every width with one tab; a search's find and the drawing's buttons are shown."""
    for tab, size in (("place", WIDTHS[0]), ("price", WIDTHS[2]), ("day", WIDTHS[1]), ("versions", WIDTHS[2])):
        assert broken(page, tab, *size) == []


@pytest.mark.slow
@pytest.mark.parametrize(("width", "height"), WIDTHS)
@pytest.mark.parametrize("tab", ["place", "price", "day", "versions"])
def test_no_rule_of_accessibility_is_broken_on_any_tab(page, tab, width, height):
    """All twelve, while a point is drawn and after the way of the tool is shown."""
    if tab == "place":
        page.click("[data-draw=stroke]")
    if tab == "day":
        page.click("#tab-day")
        page.click("#show-way")
        page.wait_for_selector("#picture .way .cut")
    if tab == "price":
        page.click("#tab-price")
        until(page, "document.querySelector('#price-said').textContent.includes('no estimate')"
                    " || !document.querySelector('#price-found').hidden")
    assert broken(page, tab, width, height) == []


def test_the_plan_at_the_end_is_the_judges(page, tmp_path, address):
    """What the page says of the plan is what the judge says of what is kept."""
    page.locator(".piece").first.focus()
    page.keyboard.press("Shift+ArrowRight")
    page.wait_for_selector("#undo:not([disabled])")
    lines = (tmp_path / "edits.log").read_bytes().splitlines()
    assert len(lines) == 2 and b'"do":"move"' in lines[1]
    assert verify(two_hides()).ok


def test_geometry_of_a_hand(page):
    """Inside stays, near comes to the edge, far does not fit; a hole is outside; corners count once."""
    found = page.evaluate("""async () => { const g = await import("/static/geometry.js");
      const box = [[0, 0], [10, 0], [10, 10], [0, 10]], hole = [[4, 4], [6, 4], [6, 6], [4, 6]];
      return [g.within([box, hole], [2, 2]), g.within([box, hole], [5, 5]), g.nearest([box], [13, 5]),
              g.felt([box], [13, 5], 5), g.felt([box], [30, 5], 5), g.felt([box, hole], [5, 4.5], 5),
              g.felt([], [1, 1], 5), g.felt(null, [1, 1], 5)]; }""")
    assert found == [
        True, False, {"at": [10, 5], "away": 3}, {"at": [10, 5], "fits": True}, {"at": [30, 5], "fits": False},
        {"at": [5, 4], "fits": True}, {"at": [1, 1], "fits": False}, {"at": [1, 1], "fits": False},
    ]
