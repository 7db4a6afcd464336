"""The sheet of a hide that is full of everything: what is written stands clear of what is drawn."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from dense_hide import dense_plan, in_two_styles
from legible import hold_legible
from test_sheets import QUICK, TABLES, TIME
from vamp_plans import vamp_plan

from nest.cutplan.compose import registration_points
from nest.cutplan.sheet import cut_sheet
from nest.cutplan.stamp import stamp_of
from nest.cutplan.work import hide_work
from nest.sheets import cutsheet
from nest.sheets.flow import BULLET, Block, rows_of
from nest.sheets.hidepicture import draw_hide_picture
from nest.sheets.page import INK, Box, Page, width
from nest.sheets.spots import Spots

PLANS = {"vamps": lambda: in_two_styles(vamp_plan(1)), "dense": dense_plan}


@pytest.fixture(params=[*(("vamps", table) for table in TABLES), ("dense", "plain"), ("dense", "slanted")],
                ids="-".join)
def drawn(request, monkeypatch):
    """Plan, work, page, what is filled with ink as darts and heads of arrows are, and frame and view of its picture."""
    plan = PLANS[request.param[0]]()
    plan = replace(plan, settings=replace(plan.settings, table=TABLES[request.param[1]]))
    layout, seen = plan.layouts[0], []

    def picture(page, frame, *more):
        seen.append((frame, draw_hide_picture(page, frame, *more)))
        return seen[0][1]

    darts, rings = [], Page.rings

    def noted(page, shapes, **look):
        if look.get("fill") == INK and look.get("colour", INK) is None:
            darts.extend(map(shapely.linearrings, shapes))
        rings(page, shapes, **look)

    monkeypatch.setattr(cutsheet, "draw_hide_picture", picture)
    monkeypatch.setattr(Page, "rings", noted)
    work = hide_work(plan, layout, QUICK)
    sheet = cut_sheet(plan, layout, cutting_yield=0.5, work=work, checks=("Cut lines inside the material",) * 7)
    page = cutsheet.cut_sheet_page(plan, layout, sheet, work, stamp_of(plan, TIME))
    return plan, work, page, darts, *seen[0]


def as_box(box, blank=0.0):
    """The letters of a text: what they leave blank above and below, in sizes, is off."""
    return shapely.box(box.x0, box.y0 + blank * box.size, box.x1, box.y1 - blank * box.size)


def test_what_is_written_stands_clear_of_what_is_drawn(drawn):
    """No text is struck by a toe dart, a registration cross or a flaw, but a flaw's own name; numbers stay within."""
    plan, work, page, darts, frame, view = drawn
    hold_legible(page)
    hide, layout = plan.hides[0], plan.layouts[0]
    texts = [box for box in page.boxes if box.y0 >= frame.y0 and box.y1 <= frame.y1 and box.x1 <= frame.x1]
    boxes = np.array([as_box(box, 0.1) for box in texts])
    arms = [shapely.LineString((at - arm, at + arm)) for at in view.of(work.frame.apply(registration_points(hide)))
            for arm in np.eye(2) * 7.0]
    for name, lines in (("dart", darts), ("cross", arms)):
        struck = [texts[i].text for line in lines for i in np.flatnonzero(shapely.intersects(boxes, line))]
        assert not struck, name
    flaws = [view.region(work.frame.region(flaw.outline)) for flaw in hide.flaws]
    on_flaws = [shapely.area(shapely.intersection(boxes, shape)) > 0.2 for shape in flaws]
    assert not [texts[i].text for on in on_flaws for i in np.flatnonzero(on) if texts[i].text.isdigit()]
    cuts = np.array([shapely.polygons(view.of(work.frame.apply(one.pose.apply(plan.piece(one.piece_id).cut_outline))))
                     for one in layout.placed])
    numbers = {box.text: box for box in texts if box.text.isdigit()}
    within = [n for n, box in numbers.items() if cuts[int(n) - 1].covers(as_box(box, 0.1))]
    over = [n for n, box in numbers.items() if n not in within and shapely.intersects(cuts, as_box(box, 0.1)).any()]
    assert not over and set(within) == set(numbers)
    assert len(darts) == len(layout.placed) + 2 or len(numbers) < len(layout.placed)
    small = [int(box.text.split()[0]) for box in texts if "too small for their number" in box.text]
    assert len(numbers) + sum(small) == len(layout.placed), "the sheet says how many have none"
    order = [box.text for box in texts]
    assert max(order.index(flaw.flaw_id) for flaw in hide.flaws) < min(map(order.index, numbers)), "lines lie below"
    named = Counter(order)
    assert [named[flaw.flaw_id] for flaw in hide.flaws] == [1] * len(hide.flaws)


def test_long_entries_are_wrapped_within_their_column():
    """An entry wider than its column stands in lines below each other, whole."""
    entries = ("F01 scar of an old wound that healed badly, severity 3, (1245, 355)", "F02 scratch")
    rows = rows_of(Block("Flaws", (), entries), 150.0, 7.0)
    lines = [part for row in rows for part in row.parts]
    assert all(x + width(text, 7.0) <= 150.0 for x, text in lines[1:])
    assert " ".join(text for _, text in lines if text != BULLET) == " ".join(("Flaws", *entries))


def test_a_line_to_a_spot_crosses_no_text():
    """Of two places as near the one is taken whose line back to its spot lies clear; later texts keep off that line."""
    spots = Spots(Box(0.0, 0.0, 200.0, 200.0))
    spots.take(Box(80.0, 60.0, 120.0, 90.0), Box(60.0, 90.0, 92.0, 110.0), Box(108.0, 90.0, 140.0, 110.0))
    box = spots.around((100.0, 100.0), 30.0, 20.0)
    assert box.y0 >= 100.0
    spots.take_line((100.0, 100.0), (100.0, 200.0))
    assert not spots.free(Box(90.0, 150.0, 110.0, 160.0))


def test_a_name_within_a_zone_does_not_reach_over_its_edge():
    """A polygon as wide as a name but for a hair has no room for it; one as wide has."""
    spots = Spots(Box(0.0, 0.0, 200.0, 200.0))
    assert spots.within(shapely.Polygon([(50, 50), (100, 50), (99, 70), (51, 70)]), 49.9, 8.0) is None
    assert spots.within(shapely.box(50.0, 50.0, 100.0, 70.0), 49.9, 8.0) is not None
