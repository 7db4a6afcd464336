"""The page for readers without a script, by touch, on a phone, on paper, with a screen reader, with decimal commas.

Needs Chromium and the package playwright, the check of accessibility axe-playwright-python too; skipped without.
"""

import re
from itertools import pairwise

import pytest
import shapely
from vamp_plans import vamp_plan

from nest.report.arrows import HEAD_MM, ground_taken, stretch_arrow
from nest.report.bars import bar_places
from nest.report.summary import Figures, summary_html


@pytest.fixture(scope="module")
def html(run):
    """The page of the run of two hides and a lay, with drawings and sheets."""
    beside = {layout.hide_id: f"drawings/{i}.dxf" for i, layout in enumerate(run.plan.layouts)}
    figures = Figures(hide_drawings=beside, sheets=beside, files=(("the plan", "plan.json"),))
    return summary_html(run.plan, run.accounts, run.verdict, figures)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_rule_of_accessibility_is_broken(opened, html, scheme):
    """axe-core finds nothing against WCAG 2.2 (A and AA) or its best practices, by day and by night."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    page = opened(html, color_scheme=scheme, bypass_csp=True)  # the policy would keep the check out, as it should
    found = axe.run(page).response
    assert [(one["id"], [node["target"] for node in one["nodes"]]) for one in found["violations"]] == []
    assert len(found["passes"]) > 30


def test_without_a_script_everything_is_there(opened, html, run):
    """Every piece with its words, every zone and flaw, and the tables; what needs a script is left out."""
    page = opened(html, java_script_enabled=False)
    groups = (*run.plan.layouts, *run.plan.lays)
    assert page.locator(".piece").count() == sum(len(group.placed) for group in groups)
    first = page.locator(".piece").first
    first.scroll_into_view_if_needed()
    box = first.bounding_box()
    assert box["width"] > 10 and box["height"] > 10
    assert first.locator("title").text_content().startswith("Size ")
    assert page.locator(".finder").is_hidden() and page.locator("#what-if").is_hidden()
    assert page.locator("#cost table").first.is_visible()


def test_every_section_is_in_the_contents_and_the_contents_stay(opened, html):
    """Each section of the page has its link, in order, under its own heading; they stay on the screen."""
    page = opened(html)
    sections = page.locator("main section[id]:has(> h2)")
    ids = sections.evaluate_all("all => all.map((one) => [`#${one.id}`, one.querySelector('h2').textContent])")
    links = page.locator(".contents a").evaluate_all(
        "all => all.map((one) => [one.getAttribute('href'), one.textContent])")
    assert links == ids and len(ids) >= 10
    for wide in (1440, 390):
        page.set_viewport_size({"width": wide, "height": 800})
        page.locator("#checks").scroll_into_view_if_needed()
        assert page.locator(".contents").bounding_box()["y"] == pytest.approx(0, abs=1)
    page.locator('.contents a[href="#cost"]').click()
    assert page.locator("#cost h2").bounding_box()["y"] >= page.locator(".contents").bounding_box()["height"] - 1


def test_the_first_screen_has_three_doors(opened, html, run):
    """Planner: hides, metres, consumption by size. Clerk: price by style. Operator: sheets, drawings, cautions."""
    page = opened(html)
    page.set_viewport_size({"width": 1440, "height": 900})
    planner, clerk, operator = page.locator(".doors > section").all()
    for door in (planner, clerk, operator):
        box = door.bounding_box()
        assert box["y"] + box["height"] <= 900
    rows = {row.size: row.per_pair().gross_mm2 / 1e4 for row in run.accounts.leather_consumption if row.style}
    cells = planner.locator("tbody td").all_inner_texts()
    assert cells == ["river", *(f"{rows[size]:.1f}" for size in sorted(filter(None, rows))), f"{rows['']:.1f}"]
    metres = sum(use.length_mm for use in run.accounts.uses) / 1000.0
    assert f"{metres:.2f} m" in planner.inner_text() and run.plan.layouts[0].hide_id in planner.inner_text()
    (style,) = run.accounts.cost.styles
    assert clerk.locator("tbody td").all_inner_texts()[2:] == [str(style.good_pair), str(style.total)]
    assert operator.locator("a", has_text="sheet").count() == len(run.plan.layouts) == 2
    assert "licence to start" in operator.inner_text()
    assert operator.locator('a[href="#cautions"]').count() == 1


def test_touch_tells_what_hovering_tells(opened, html):
    """A tap on a piece shows its words and its partner until something else is tapped; on a part of a bar its name."""
    page = opened(html, has_touch=True, is_mobile=True)
    page.locator(".canvas").first.scroll_into_view_if_needed()
    page.locator("[data-k='4']:not(:has(title))").first.wait_for()
    page.locator("[data-k='4']").first.tap()
    assert page.locator("#tip").inner_text().startswith("Size ")
    assert page.locator(".partner").count() == 1
    page.locator("#checks h2").tap()
    assert page.locator("#tip").is_hidden()
    page.locator("#areas .part-of").first.tap()
    assert page.locator("#tip").inner_text().startswith("net: ")


def test_tables_keep_their_first_columns_on_a_phone(opened, html):
    """Scrolled to the right, style and size stay in sight, and nothing makes the page itself wider than the phone."""
    page = opened(html)
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    wide = page.locator("#consumption .wide").first
    wide.evaluate("node => { node.scrollLeft = 400; }")
    assert wide.evaluate("node => node.scrollLeft") > 100
    left = wide.bounding_box()["x"]
    style, size, pairs = (wide.locator(f"tbody tr td:nth-child({i})").first.bounding_box() for i in (1, 2, 3))
    assert style["x"] == pytest.approx(left, abs=1) and size["x"] == pytest.approx(left + style["width"], abs=1.5)
    assert pairs["x"] < size["x"] + size["width"]


def test_paper_has_pictures_in_pairs_and_no_boxes(opened, html, run):
    """A4; pictures two beside each other, half a dozen on a page; what only works on a screen is not printed."""
    page = opened(html, color_scheme="dark")
    pdf = page.pdf(prefer_css_page_size=True)
    assert re.search(rb"/MediaBox\s*\[0 0 59[45][.\d]* 84[12][.\d]*\]", pdf)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) <= 5  # by page objects (ISO 32000-1, table 30)
    page.emulate_media(media="print")
    first, second = (page.locator(".sheet").nth(i).bounding_box() for i in (0, 1))
    assert first["y"] == pytest.approx(second["y"], abs=1) and second["x"] > first["x"] + first["width"] - 1
    for unseen in (".contents", ".finder", "#what-if", ".copy"):
        assert page.locator(unseen).first.is_hidden()
    page.set_viewport_size({"width": 710, "height": 1000})  # 188 mm, what A4 leaves
    doors = [one.bounding_box() for one in page.locator(".doors > section").all()]
    for door, table in ((box, one.bounding_box()) for box, section in zip(
            doors, page.locator(".doors > section").all(), strict=True) for one in section.locator("table").all()):
        assert table["x"] + table["width"] <= door["x"] + door["width"] + 1.0, "no table runs into the next door"


MEANT = [
    ("12.5", 12.5), ("12,5", 12.5), (",5", 0.5), ("0,125", 0.125), ("1.234,50", 1234.5), ("1,234.50", 1234.5),
    ("12.", 12.0), (" 7 ", 7.0), ("4.125", 4.125),
]
REFUSED = ["", "12,500", "1 234", "12;5", "1,2,3", "1.2.3", "abc", "-3", "1e3", "12,5,"]


def test_decimal_commas_mean_what_is_meant_or_are_refused(opened, html, run):
    """A price with a comma counts as one with a point; what can be read in two ways is refused, with a remedy."""
    page = opened(html)
    box, total = page.locator("[data-price='0']"), page.locator("[data-total]")
    box.fill("0")
    rest = float(total.inner_text().split()[0])
    box.fill("1")
    each = float(total.inner_text().split()[0]) - rest
    for typed, meant in MEANT:
        box.fill(typed)
        assert box.get_attribute("aria-invalid") == "false", typed
        assert float(total.inner_text().split()[0]) == pytest.approx(rest + meant * each, rel=2e-3, abs=0.02), typed
    for typed in REFUSED:
        box.fill(typed)
        assert box.get_attribute("aria-invalid") == "true" and total.inner_text() == "– EUR", typed
        assert page.locator("[data-difference]").inner_text().startswith("Price of "), typed
    box.fill("12,500")
    assert "12,500 can be read in two ways; write 12500 or 12.5000." in page.locator("[data-difference]").inner_text()
    box.fill("1")
    pairs = page.locator("[data-pairs='0']")
    pairs.fill("1.500")  # fifteen hundred to one reader, one and a half to another
    assert pairs.get_attribute("aria-invalid") == "true"


def test_area_and_money_are_those_that_are_paid(opened, html, run):
    """Sums of hides and lays, what the areas are charged at, what is charged and the whole order are one account."""
    page = opened(html)

    def cells(section):
        rows = page.locator(f"{section} tbody tr.sum")
        return rows.last.locator("td").evaluate_all("all => all.map((one) => one.dataset.value ?? '')")

    kinds = run.accounts.cost.by_kind
    paid = sum(use.paid_mm2 for use in run.accounts.uses if use.role == "vamp") / 1e6
    hides, lays = cells("#hides"), cells("#lays")
    assert float(hides[3]) == pytest.approx(paid, abs=5e-4) and hides[10] == str(kinds["leather"])
    assert lays[8] == str(kinds["reinforcement"])
    charged = cells("#areas")
    assert (charged[1], charged[3]) == (str(kinds["leather"]), str(kinds["reinforcement"]))
    amounts = page.locator("#charges tbody tr:not(.sum) td:last-child").evaluate_all(
        "all => all.map((one) => Number(one.dataset.value))")
    assert cells("#charges")[-1] == str(run.accounts.cost.total) == f"{sum(amounts):.2f}"


def test_stretch_arrows_are_on_no_word():
    """Every zone of a full hide has its arrow; none touches a label, nor a piece where the zone has bare ground."""
    plan = vamp_plan(2)
    for layout in plan.layouts:
        hide = next(one for one in plan.hides if one.hide_id == layout.hide_id)
        pieces, words = ground_taken(plan, layout.placed)
        assert len(words) == len(layout.placed)
        for zone in hide.zones:
            x, y, half = stretch_arrow(zone.outline, zone.stretch_deg, pieces, words)
            turn = shapely.affinity.rotate(shapely.LineString(((x - half, y), (x + half, y))), zone.stretch_deg)
            arrow = turn.buffer(HEAD_MM - 0.5)
            assert zone.outline.buffer(1e-6).covers(arrow)
            assert not any(arrow.intersects(word) for word in words)


def test_an_arrow_without_room_is_left_out():
    """A zone smaller than the shortest arrow has none, nor has one covered with words."""
    assert stretch_arrow(shapely.box(0, 0, 20, 20), 45.0, (), ()) is None
    zone = shapely.box(0, 0, 200, 200)
    assert stretch_arrow(zone, 45.0, (), ()) is not None
    assert stretch_arrow(zone, 45.0, (zone,), (zone,)) is None
    x, _, _ = stretch_arrow(zone, 90.0, (shapely.box(0, 0, 120, 200),), ())
    assert x > 120.0


def test_every_part_of_a_bar_has_its_number_and_none_meets_another():
    """Wide parts have it inside; narrow ones below, apart from each other and within the bar."""
    parts = (0.6, 0.01, 0.02, 0.0, 0.35, 0.01, 0.01)
    places = bar_places(parts)
    assert [place.below for place in places] == [False, True, True, False, False, True, True]
    below = [place.label for place in places if place.below]
    assert all(b - a >= 0.035 - 1e-9 for a, b in pairwise(below))
    assert below[-1] <= 1.0 and places[0].label == pytest.approx(0.3) and places[4].left == pytest.approx(0.63)
