"""The price at the desk: sliders move, figures follow, and the order is placed with what they say."""

import sys
import threading
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from desk_threads import InThreads

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

sys.path.append(str(Path(__file__).parents[1] / "planning"))
from box_jobs import ROWS, hide, job, style

from nest.desk import pricing, searching
from nest.desk.session import Desk
from nest.edits import EditProblem
from nest.edits.commands import BanHide, MarkFlaw
from nest.pieces.piece import Part
from nest.planning.make import make_plan
from nest.scenarios import Moved
from nest.stock.material import Leather


@pytest.fixture(autouse=True)
def alongside(monkeypatch):
    """Estimates are made in a thread."""
    monkeypatch.setattr(pricing, "_SPAWN", InThreads)


@pytest.fixture(scope="module")
def boxes():
    """Four pairs of a box, of which some fail, on one of two hides; kid is on offer, and nothing is made of it."""
    plain = job(styles=[style(reject_percent=3.0)], hides=[hide("H1"), hide("H2")])
    plain = replace(plain, leathers=(*plain.leathers, Leather("kid", Decimal(40), "m2", mean_hide_mm2=4e5)))
    return make_plan(plain, passes=1, engine=ROWS)


@pytest.fixture
def desk_plan(boxes):
    """What is at the desk."""
    return boxes


def made(desk):
    """The estimates of a desk, once they are made."""
    heard = threading.Event()
    desk.listeners.append(lambda told: heard.set() if told.kind == "priced" else None)
    found = desk.pricing()
    assert heard.wait(60)
    return found


def test_estimates_are_made_once_and_anew_when_the_hides_change(boxes, tmp_path):
    """A piece moved or a hide banned leaves them; a scar drawn does not."""
    desk = Desk(boxes, tmp_path)
    first = made(desk)
    assert first.made["parts"][0] == {"style": "box", "part": "toe", "low": -4.0, "high": 4.0, "now": 12.0}
    assert first.made["stock"] == [{"name": "calf", "price": 30.0, "unit": "m2"}]
    assert first.made["leathers"] == [["calf", ["calf", "kid"]]]
    answer = first.ask(Moved(prices=(("calf", 10.0),)), ("box", Part.TOE))
    assert answer["rows"][0]["pair"] == pytest.approx(1.1 * answer["rows"][0]["now"])
    assert len(answer["curve"]) == 9
    with pytest.raises(EditProblem, match="no style named 'sock'"):
        first.ask(Moved(rejects=(("sock", 1.0),)), None)
    desk.do(BanHide("H2"), 0)
    assert desk.pricing() is first
    desk.do(MarkFlaw("H1", "scar", 2, ((500.0, 400.0),), width_mm=20.0, tears=True), 1)
    assert desk.pricing() is not first
    desk.close()


def test_estimates_that_came_to_an_end_are_made_anew(boxes, tmp_path):
    """A process that is gone answers no more, says so, and the next who asks begins another."""
    desk = Desk(boxes, tmp_path)
    first = made(desk)
    assert not first.ended
    first._pipe.close()
    first._process.join(60)
    assert first.ended
    with pytest.raises(EditProblem, match="choose Price again"):
        first.ask(Moved(), None)
    assert made(desk) is not first
    desk.close()


def test_what_the_desk_begins_ends_with_it(monkeypatch, boxes):
    """Processes of a search and of estimates never keep a desk that ends waiting."""
    begun = []

    class Watched(InThreads):
        @staticmethod
        def Process(**how):
            begun.append(how["daemon"])
            raise EditProblem("not now")

    for module in (pricing, searching):
        monkeypatch.setattr(module, "_SPAWN", Watched)
    with pytest.raises(EditProblem, match="not now"):
        pricing.Pricing(boxes, print)
    with pytest.raises(EditProblem, match="not now"):
        searching.Search(None, None, print, print, print)
    assert begun == [True, True]


def test_a_plan_without_templates_says_why_it_has_no_estimate(boxes, tmp_path):
    """In one sentence, once; asking is refused, and nothing is begun again."""
    bare = replace(boxes, styles=tuple(replace(one, templates=()) for one in boxes.styles))
    desk = Desk(bare, tmp_path)
    found = made(desk)
    assert "no estimate" in found.made["said"]
    assert desk.pricing() is found
    desk.close()


def test_sliders_move_the_figures_and_the_order_is_placed_so(page):
    """Two mm less at the toe: a saving with its interval, and a curve; all as it is, and nothing is saved."""
    page.click("#tab-price")
    page.wait_for_selector("#price-found:not([hidden])")
    page.wait_for_selector("#price-curve polyline")
    before = float(page.inner_text("#price-rows td >> nth=0"))
    page.get_by_role("slider", name="toe allowance").focus()
    for _ in range(8):
        page.keyboard.press("ArrowLeft")
    page.locator("#price-rows tr:first-child td:nth-child(3)", has_text="+").wait_for()
    assert float(page.inner_text("#price-rows td >> nth=0")) <= before
    assert page.locator("#place-with").is_enabled()
    page.click("#price-back")
    page.locator("#price-rows tr:first-child td:nth-child(3)", has_text="+").wait_for(state="detached")
    page.locator("#price-rows td >> nth=0", has_text=f"{before:.2f}").wait_for()
    assert page.locator("#place-with").is_disabled()
