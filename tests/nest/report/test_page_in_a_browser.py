"""The page as a browser shows it: it opens, draws, zooms, tells, finds, sorts, reckons and prints.

Needs Chromium and the package playwright; without them these tests are skipped.
"""

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from tiny_plans import box_plan, hide
from vamp_plans import SIZES

from nest.accounts import account
from nest.accounts.sheet import cost_sheet
from nest.plan import HideLayout, Placed
from nest.report.summary import Figures, summary_html
from nest.verify import verify
from nest.verify.verdict import Checks, Verdict

NASTY = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def html(run):
    """The page of the run of two hides and a lay."""
    return summary_html(run.plan, run.accounts, run.verdict, Figures())


def seen(page, index=0):
    """Left, top, width and height of what a drawing shows."""
    box = page.locator(".canvas > svg").nth(index).get_attribute("viewBox")
    return [float(number) for number in box.split()]


def first_drawing(page):
    """The first drawing, on the screen and with its pieces."""
    canvas = page.locator(".canvas > svg").first
    canvas.scroll_into_view_if_needed()
    canvas.locator(".piece").first.wait_for()
    return canvas


def test_a_drawing_has_every_piece_zone_and_flaw_once(opened, html, run):
    """Each is on the page from the start."""
    page = opened(html)
    canvas = first_drawing(page)
    assert canvas.locator(".piece").count() == len(run.plan.layouts[0].placed)
    assert canvas.locator(".zone").count() == len(run.plan.hides[0].zones)
    assert canvas.locator(".flaw").count() == len(run.plan.hides[0].flaws)


def test_zoom_by_button_key_and_wheel(opened, html):
    """Nearer by each of them, all of it again by 0; the wheel alone scrolls the page until the drawing is clicked."""
    page = opened(html)
    canvas = first_drawing(page)
    whole = seen(page)
    page.get_by_role("button", name="Nearer").first.click()
    nearer = seen(page)
    assert nearer[2] == pytest.approx(whole[2] / 1.35) and nearer[3] == pytest.approx(whole[3] / 1.35)
    canvas.hover()
    page.mouse.wheel(0, -100)
    assert seen(page) == nearer
    canvas.scroll_into_view_if_needed()
    canvas.focus()
    page.keyboard.press("+")
    assert seen(page)[2] == pytest.approx(nearer[2] / 1.35)
    before = seen(page)
    page.keyboard.press("ArrowRight")
    assert seen(page)[0] > before[0] and seen(page)[2] == before[2]
    canvas.hover()
    page.mouse.wheel(0, -100)
    page.wait_for_function(f"document.querySelector('.canvas > svg').viewBox.baseVal.width < {before[2] * 0.99}")
    page.keyboard.press("0")
    assert seen(page) == pytest.approx(whole)
    page.keyboard.press("-")
    assert seen(page) == pytest.approx(whole)


def test_the_wheel_keeps_the_spot_under_the_pointer(opened, html):
    """Zooming at a spot: that spot of the hide stays where it is on the screen."""
    page = opened(html)
    canvas = first_drawing(page)
    canvas.focus()
    at = "document.querySelector('[data-k=\"3\"]').getBoundingClientRect()"
    box = page.evaluate(f"(({{x, y, width, height}}) => [x + width / 2, y + height / 2])({at})")
    page.mouse.move(*box)
    page.mouse.wheel(0, -60)
    page.wait_for_function("document.querySelector('.canvas > svg').classList.contains('zoomed')")
    after = page.evaluate(f"(({{x, y, width, height}}) => [x + width / 2, y + height / 2])({at})")
    assert after == pytest.approx(box, abs=1.5)


def test_dragging_moves_a_drawing_that_is_zoomed(opened, html):
    """The hide follows the pointer; it cannot be dragged out of sight."""
    page = opened(html)
    canvas = first_drawing(page)
    page.get_by_role("button", name="Nearer").first.click(click_count=3)
    before = seen(page)
    box = canvas.bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(*middle)
    page.mouse.down()
    page.mouse.move(middle[0] - 60, middle[1] - 30, steps=3)
    page.mouse.up()
    after = seen(page)
    assert after[0] > before[0] and after[1] > before[1] and after[2:] == before[2:]
    for _ in range(4):  # out of the window and lifted there, again and again
        page.mouse.move(*middle)
        page.mouse.down()
        page.mouse.move(-3000, -3000, steps=2)
        page.mouse.up()
    assert "moving" not in page.locator(".canvas > svg").first.get_attribute("class")
    left, top, width, height = page.evaluate("JSON.parse(document.getElementById('data').textContent)"
                                             ".plan.drawings[0].box")
    x, y, w, h = seen(page)
    assert x + w == pytest.approx(left + width) and y + h == pytest.approx(top + height)


def test_pointing_at_a_piece_tells_of_it(opened, html, run):
    """Size, foot, pair, style, deviation with its limit, zone with its class; its partner is marked."""
    page = opened(html)
    canvas = first_drawing(page)
    placed = run.plan.layouts[0].placed[4]
    canvas.locator("[data-k='4']").hover()
    words = page.locator("#tip").inner_text()
    size = run.plan.piece(placed.piece_id).size
    assert f"Size {size}, either foot, pair {placed.pair}" in words
    assert "river, vamp" in words and "off across the stretch, up to 10° allowed" in words and "(class" in words
    assert canvas.locator(".partner").count() == 1
    partner = int(canvas.locator(".partner").get_attribute("data-k"))
    assert run.plan.layouts[0].placed[partner].pair == placed.pair
    canvas.locator(".flaw").first.hover()
    assert "scratch, severity 1" in page.locator("#tip").inner_text()
    page.mouse.move(1, 1)
    assert page.locator("#tip").is_hidden()


def test_the_keyboard_walks_through_the_pieces(opened, html):
    """N and P go from piece to piece and tell each; what is out of sight comes into it; Escape leaves them."""
    page = opened(html)
    canvas = first_drawing(page)
    canvas.focus()
    for _ in range(3):
        page.keyboard.press("n")
    active = "document.activeElement.dataset.k"
    assert page.evaluate(active) == "2"
    assert page.locator("#tip").is_visible()
    page.keyboard.press("p")
    assert page.evaluate(active) == "1"
    assert "Size" in page.evaluate("document.activeElement.getAttribute('aria-label')")
    for _ in range(6):
        page.keyboard.press("+")
    page.keyboard.press("p")
    page.keyboard.press("p")
    last = canvas.locator(".piece").count() - 1
    assert page.evaluate(active) == str(last)
    x, y, w, h = seen(page)
    at = page.evaluate(f"JSON.parse(document.getElementById('data').textContent).plan.drawings[0].placed[{last}]")
    assert x <= at[1] <= x + w and y <= at[2] <= y + h
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.tagName") == "svg" and page.locator("#tip").is_hidden()


@pytest.mark.parametrize(("layer", "marks"), [("flaws", ".flaws"), ("arrows", ".arrows"), ("templates", ".net")])
def test_layers_are_shown_and_hidden(opened, html, layer, marks):
    """Each box hides its layer on every drawing, and shows it again."""
    page = opened(html)
    mark = first_drawing(page).locator(marks).first
    shown = "node => getComputedStyle(node).display !== 'none'"
    assert mark.evaluate(shown)
    page.locator(f"[data-layer={layer}]").uncheck()
    assert not mark.evaluate(shown)
    page.locator(f"[data-layer={layer}]").check()
    assert mark.evaluate(shown)


def test_zones_can_be_hidden_and_still_tell(opened, html):
    """Without zones the ground is plain; pointing at it still says which zone it is."""
    page = opened(html)
    zone = first_drawing(page).locator(".zone").first
    page.locator("[data-layer=zones]").uncheck()
    assert zone.evaluate("node => getComputedStyle(node).fill") in ("rgba(0, 0, 0, 0)", "transparent")


def test_all_pieces_of_one_size_are_found(opened, html, run):
    """The count is that of the plan; other pieces fade; drawings made later know of it too."""
    page = opened(html)
    canvas = first_drawing(page)
    page.locator("[data-find=size]").select_option("39")
    sizes = [[run.plan.piece(one.piece_id).size for one in layout.placed] for layout in run.plan.layouts]
    backs = sum(run.plan.piece(one.piece_id).size == "39" for one in run.plan.lays[0].placed)
    vamps = sum(one.count("39") for one in sizes)
    found = page.locator("#found").inner_text()
    assert found.startswith(f"{vamps} vamps on 2 hides, {backs} reinforcements a ply on 1 lay")
    assert canvas.locator(".piece.match").count() == sizes[0].count("39")
    faded = canvas.locator(".piece:not(.match)").first.evaluate("node => Number(getComputedStyle(node).opacity)")
    assert faded < 0.3
    page.locator("#found a").nth(1).click()
    second = page.locator(".canvas > svg").nth(1)
    second.locator(".piece").first.wait_for()
    assert second.locator(".piece.match").count() == sizes[1].count("39")
    page.locator("[data-find=size]").select_option("")
    assert page.locator("#found").inner_text() == ""


def test_tables_sort_and_keep_their_sums_below(opened, html, run):
    """By number, up and down; the sum stays the last line."""
    page = opened(html)
    table = page.locator("#order table")
    table.get_by_role("button", name="Vamps").click()
    column = [float(cell) for cell in table.locator("tr td:nth-child(5)").evaluate_all(
        "cells => cells.map((cell) => cell.dataset.value)")]
    assert column[:-1] == sorted(column[:-1]) and column[-1] == sum(column[:-1])
    table.get_by_role("button", name="Size").click()
    table.get_by_role("button", name="Size").click()
    assert table.locator("tbody tr:not(.sum) td:nth-child(2)").all_inner_texts() == list(reversed(SIZES))
    assert table.locator("th").nth(1).get_attribute("aria-sort") == "descending"
    assert table.locator("th").nth(4).get_attribute("aria-sort") == "none"


def copied(page, section):
    """What the button below the first table of a section copies, as rows of cells."""
    page.evaluate("navigator.clipboard.writeText = async (text) => { window.copiedText = text; }")
    page.locator(f"#{section} .copy").first.click()
    page.wait_for_function("window.copiedText !== undefined")
    return [line.split("\t") for line in page.evaluate("window.copiedText").split("\n")]


def test_tables_copy_as_numbers(opened, html, run):
    """Tab-separated, decimal points, no thousands signs, no pictures; as many cells in every row."""
    rows = copied(opened(html), "hides")
    assert len(rows) == 2 + len(run.plan.layouts) and {len(row) for row in rows} == {11}
    assert rows[0][0] == "Hide" and rows[1][0] == "S-014"
    assert float(rows[1][3]) == pytest.approx(run.plan.hides[0].measured_area_mm2 / 1e6, abs=5e-4)


def test_prices_and_quantities_recompute_the_cost(opened, html, run):
    """Untouched boxes give the accounts' figures; a price and a quantity changed give price × quantity by hand."""
    page = opened(html)
    total = page.locator("[data-total]")
    assert total.inner_text() == f"{run.accounts.cost.total} EUR"
    assert page.locator("[data-difference]").inner_text() == "as planned"
    pairs = {(row.style, row.size): row for row in run.accounts.cost.sizes}
    for i, size in enumerate(SIZES):
        assert page.locator(f"[data-pair='{i}']").inner_text() == str(pairs["river", size].good_pair)
    leather = float(run.accounts.cost.by_kind["leather"])
    box = page.locator("[data-price='0']")
    box.fill(str(2 * float(box.input_value())))
    whole = float(run.accounts.cost.total)
    assert float(total.inner_text().split()[0]) == pytest.approx(whole + leather, abs=0.011)
    everything = page.locator("[data-all]")
    everything.fill(str(3 * float(everything.input_value())))
    assert float(total.inner_text().split()[0]) == pytest.approx(3 * (whole + leather), abs=0.05)
    page.get_by_role("button", name="As planned").click()
    page.wait_for_function("document.querySelector('[data-difference]').textContent === 'as planned'")
    box.fill("")
    assert box.get_attribute("aria-invalid") == "true" and total.inner_text() == "– EUR"


def test_names_like_markup_or_formulas_do_no_harm(opened):
    """A hide named like a script runs nothing, one named like a formula is copied as text; both are shown as named."""
    layouts = tuple(HideLayout(name, box_plan().layouts[0].placed) for name in (NASTY, "=1+1"))
    zones = (replace(hide().zones[0], zone_id=NASTY),)
    stock = tuple(replace(hide(name, zones=zones), lot=NASTY) for name in (NASTY, "=1+1"))
    styles = (replace(box_plan().styles[0], notes=(NASTY,)),)
    plan = box_plan(name=NASTY, hides=stock, layouts=layouts, styles=styles, warnings=(NASTY, "</script><b>"))
    accounts = account(plan, lattice=lambda ring, gap: SimpleNamespace(density=0.9))
    page = opened(summary_html(plan, accounts, verify(plan), Figures()))
    canvas = first_drawing(page)
    assert page.title() == f"{NASTY}: cutting plan"
    assert page.locator("h1").inner_text() == NASTY
    page.locator("[data-find=size]").select_option("38")
    assert page.locator("#found a").first.inner_text() == NASTY
    canvas.locator(".piece").first.hover()
    assert NASTY in page.locator("#tip").inner_text()
    names = [row[0] for row in copied(page, "hides")[1:]]
    assert names == [NASTY, "'=1+1", "All"]
    assert page.locator("script").count() == 2 and page.locator("#tip script, h1 script").count() == 0


def luminance(colour):
    """Relative luminance of a computed colour (WCAG 2.1, definition)."""
    parts = [int(c) / 255 for c in re.findall(r"\d+", colour)[:3]]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_are_readable_in_light_and_dark(opened, html, scheme):
    """Text keeps a contrast of 4.5 : 1 (WCAG 2.1, criterion 1.4.3), and the classes of ground differ in lightness."""
    page = opened(html, color_scheme=scheme)
    first_drawing(page)
    paper = luminance(page.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert (paper < 0.1) == (scheme == "dark")
    for words in ("body", ".quiet", ".good", "th button"):
        ink = luminance(page.locator(words).first.evaluate("node => getComputedStyle(node).color"))
        low, high = sorted((ink, paper))
        assert (high + 0.05) / (low + 0.05) >= 4.5, words
    grounds = [
        luminance(page.locator(f".q{quality}").first.evaluate("node => getComputedStyle(node).fill"))
        for quality in (1, 2, 3, 4)
    ]
    assert grounds == sorted(grounds, reverse=True) and grounds[0] > 1.3 * grounds[-1]


def a_hundred_hides(run):
    """The plan and accounts of the run, its hides fifty times over under other names."""
    names = {one.hide_id: [f"{one.hide_id}-{i}" for i in range(50)] for one in run.plan.layouts}
    stock = {one.hide_id: one for one in run.plan.hides}
    hides = [replace(stock[old], hide_id=new) for old, news in names.items() for new in news]
    layouts, first = [], 0
    for layout in run.plan.layouts:
        for new in names[layout.hide_id]:
            layouts.append(HideLayout(new, tuple(Placed(p.piece_id, p.pose, p.pair + first) for p in layout.placed)))
            first += 1000
    cost = run.accounts.cost
    uses = tuple(
        replace(use, material_id=name)
        for use in run.accounts.uses for name in names.get(use.material_id, [use.material_id])
    )
    charges = tuple(replace(one, of=name) for one in cost.charges for name in names.get(one.of, [one.of]))
    sheet = cost_sheet(charges, {(row.style, row.size): row.pairs for row in cost.sizes}, cost.currency)
    accounts = replace(run.accounts, uses=uses, cost=sheet)
    return replace(run.plan, hides=tuple(hides), layouts=tuple(layouts), bounds=()), accounts


def test_a_hundred_hides_open_at_once(opened, run):
    """Under 20 MB; only what is near the screen is laid out and listens, the last hide when it is gone to."""
    plan, accounts = a_hundred_hides(run)
    text = summary_html(plan, accounts, Verdict(True, (), Checks()), Figures())
    assert len(text.encode("utf-8")) < 20e6
    page = opened(text)
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    last = page.locator(".canvas > svg").nth(99)
    shown = "node => node.checkVisibility({ contentVisibilityAuto: true })"
    assert not last.evaluate(shown) and last.locator(".piece title").count() > 0
    last.scroll_into_view_if_needed()
    last.locator(".piece:not(:has(title))").first.wait_for()
    assert last.evaluate(shown)
    assert page.locator(".canvas > svg:not(:has(.piece title))").count() < 20
