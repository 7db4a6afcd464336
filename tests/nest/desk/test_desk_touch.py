"""The desk under a finger: real touch events, on a tablet of 1024 px and a telephone of 390 px."""

import pytest
from desk_hands import PLACED, at, settled, until

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

TABLET, TELEPHONE = {"width": 1024, "height": 768}, {"width": 390, "height": 844}


@pytest.fixture(params=[TABLET, TELEPHONE], ids=["tablet", "telephone"])
def touched(request, browser, address):
    """The page on a screen that is touched, and what puts a finger on it."""
    context = browser.new_context(viewport=request.param, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("body[data-ready]")
    settled(page, "Verified")
    hands = context.new_cdp_session(page)

    def finger(kind, *at):
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(at)]
        hands.send("Input.dispatchTouchEvent", {"type": f"touch{kind}", "touchPoints": points})

    yield page, finger
    context.close()


def swiped(page, finger, start, end, steps=4):
    """A finger goes down at a point of the hide, along, and up."""
    (x0, y0), (x1, y1) = at(page, *start), at(page, *end)
    finger("Start", (x0, y0))
    for n in range(1, steps + 1):
        finger("Move", (x0 + (x1 - x0) * n / steps, y0 + (y1 - y0) * n / steps))
    finger("End")


def test_a_finger_drags_a_piece_and_the_page_stays(touched):
    """It slides along its neighbour as under a mouse; a second finger does not take the piece away."""
    page, finger = touched
    start, end = at(page, 120.0, 70.0), at(page, 160.0, 78.0)
    finger("Start", start)
    finger("Move", (0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])))
    finger("Move", end)
    finger("Start", end, at(page, 580.0, 70.0))
    finger("End")
    page.wait_for_selector("#undo:not([disabled])")
    (x, _), *others = page.evaluate(PLACED)
    assert 121.0 <= x <= 126.5  # its neighbour, 224 mm long, lies at 350: no nearer than 126
    assert others == [[350.0, 70.0], [580.0, 70.0], [810.0, 70.0]]
    assert page.evaluate("[scrollX, scrollY]") == [0, 0]
    settled(page, "Verified")


def test_a_finger_on_what_is_held_scrolls(touched):
    """A held piece and bare ground are not in the way of whoever reads on: the page moves, the plan does not."""
    page, finger = touched
    page.locator(".piece").first.tap()
    page.locator("#hold").tap()
    page.locator(".piece.held").wait_for()
    page.evaluate("scrollTo(0, 0)")
    for start in ((120.0, 70.0), (900.0, 400.0)):
        x, y = at(page, *start)
        finger("Start", (x, y))
        for n in range(1, 9):
            finger("Move", (x, y - 15.0 * n))
        finger("End")
    until(page, "scrollY > 60 || document.documentElement.scrollHeight - innerHeight < 60")
    assert page.evaluate(PLACED)[0] == [120.0, 70.0]


def test_a_scar_is_drawn_by_finger(touched):
    """Point by point, one of them taken back, ended by a button; red at once. Given up, nothing is drawn."""
    page, finger = touched
    for done in ("#pen-off", "#pen-done"):
        page.locator("[data-draw=stroke]").tap()
        page.locator("#pens").wait_for()
        for point in ((100.0, 60.0), (150.0, 80.0), (900.0, 450.0)):
            swiped(page, finger, point, point, steps=0)
        page.locator("#pen-back").tap()
        assert page.evaluate("document.querySelector('.pen').points.length") == 2
        page.locator(done).tap()
        page.locator("#pens").wait_for(state="hidden")
    page.locator(".piece.wrong").wait_for()
    assert page.locator("#picture .flaw").count() == 1 and page.locator(".piece.wrong").count() == 1


def test_every_target_is_large(touched):
    """44 px either way (WCAG 2.2, 2.5.5) on every tab, and nothing is wider than the screen."""
    page, _ = touched
    for tab in ("place", "price", "day", "versions"):
        page.locator(f"#tab-{tab}").tap()
        small = page.evaluate("""[...document.querySelectorAll("button, select, input, summary")]
            .filter(one => one.offsetParent).map(one => [one.type === "checkbox" ? one.closest("label") : one, one.id])
            .map(([one, id]) => [id || one.textContent, one.getBoundingClientRect()])
            .filter(([, box]) => box.height < 43.5 || box.width < 43.5).map(([id]) => id)""")
        assert small == []
        assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
