"""What the page draws and reckons from: outlines, lies of pieces, cost model, JSON that nothing breaks out of."""

import json
import re
from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box
from tiny_plans import box_plan, flaw, hide, moved, slant_plan, zone
from vamp_plans import side_hide, vamp_net

from geometry.pose import Pose
from nest.report.drawings import drawing_data, piece_pictures
from nest.report.embed import safe_json
from nest.report.outlines import UNITS_PER_MM, path_of_region, path_of_ring
from nest.report.whatif import cost_model

JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=8,
)


def rings_in(path):
    """The rings of a path, mm, y upwards: moves, relative lines and closings only."""
    rings = []
    for part in re.findall(r"M([^z]*)z", path):
        start, _, steps = part.partition("l")
        numbers = [int(number) for number in re.findall(r"-?\d+", start + " " + steps)]
        assert re.fullmatch(r"-?\d+ ?-?\d+(l(-?\d+ ?)+)?", part)
        points = np.cumsum(np.array(numbers).reshape(-1, 2), axis=0)
        rings.append(points / (UNITS_PER_MM, -UNITS_PER_MM))
    return rings


def test_paths_keep_outlines_within_a_twentieth_of_a_millimetre():
    """Every vertex is rounded to 0.1 mm by itself: relative steps do not add up their rounding."""
    ring = vamp_net("41", lean=3.0) + np.array((0.04, 0.03))
    (found,) = rings_in(path_of_ring(ring))
    assert found.shape == ring.shape
    assert np.abs(found - ring).max() <= 0.05 + 1e-9
    outline = side_hide().outline
    found = rings_in(path_of_region(outline))
    assert len(found) == 1 + len(outline.interiors)
    area = Polygon(found[0], found[1:]).area
    assert area == pytest.approx(outline.area, rel=1e-4)


def test_paths_of_several_parts_and_of_nothing():
    """Parts follow each other in one path; an empty region is an empty path; repeated points are dropped."""
    assert len(rings_in(path_of_region(MultiPolygon([box(0, 0, 1, 1), box(2, 2, 3, 3)])))) == 2
    assert path_of_region(Polygon()) == ""
    assert path_of_ring([(0, 0), (0.01, 0), (5, 0), (5, 5)]) == "M0 0l50 0 0-50z"


@settings(deadline=None)
@given(JSON_VALUES)
def test_json_reads_back_and_cannot_end_its_element(value):
    """No < is left, so neither an end tag nor a comment can begin (HTML Living Standard, 4.12.1.3)."""
    text = safe_json(value)
    assert "<" not in text and "\u2028" not in text
    assert json.loads(text) == value


def test_json_takes_no_infinite_number():
    """What a browser could not read is refused; half a surrogate pair does not stop the writing."""
    with pytest.raises(ValueError, match="JSON"):
        safe_json(float("inf"))
    assert safe_json("a\ud800b").encode("utf-8") == b'"a?b"'


def test_every_piece_is_drawn_at_its_pose(run):
    """Each placed piece, turned and moved as the page does it, lies on its cut outline within 0.2 mm."""
    data = json.loads(safe_json(drawing_data(run.plan)))
    groups = [*run.plan.layouts, *run.plan.lays]
    assert [one["id"] for one in data["drawings"]] == [getattr(g, "hide_id", None) or g.lay_id for g in groups]
    for drawing, group in zip(data["drawings"], groups, strict=True):
        assert len(drawing["placed"]) == len(group.placed)
        for (index, x, y, turn, pair, *_), placed in zip(drawing["placed"], group.placed, strict=True):
            (ring,) = rings_in(data["pieces"][index]["cut"])
            shown = Pose(x / UNITS_PER_MM, -y / UNITS_PER_MM, -turn).apply(ring)
            true = placed.pose.apply(run.plan.piece(placed.piece_id).cut_outline)
            assert shapely.hausdorff_distance(Polygon(shown), Polygon(true)) < 0.2
            assert pair == placed.pair


def test_deviation_and_zones_are_those_of_the_rule():
    """Worked out by hand: stretch at 90° and at 97°, a toe at 4°: it is 4° off the one, 3° off the other.

    The piece 120 mm from the left lies on both zones, which meet at x = 150; the others on one alone.
    """
    zones = (zone("a", 1, 90.0, box(0, 0, 150, 500)), zone("b", 1, 97.0, box(150, 0, 1000, 500)))
    plan = moved(box_plan(hides=(hide(zones=zones),)), 0, turn_deg=4.0)
    first, second, *_ = drawing_data(plan)["drawings"][0]["placed"]
    assert first[5:] == [4.0, "across", [0, 1]]
    assert second[5:] == [7.0, "across", [1]]
    wrong = moved(plan, 1, turn_deg=40.0)
    assert drawing_data(wrong)["drawings"][0]["placed"][1][5:] == [33.0, "wrong", [1]]


def test_a_zone_that_only_touches_the_trim_off_band_does_not_count():
    """The net area begins 12 mm inside the cut line: a zone that ends 10 mm inside it is not under the net."""
    zones = (zone("a", 4, 20.0, box(0, 0, 18, 500)), zone("b", 1, 90.0, box(18, 0, 1000, 500)))
    first = drawing_data(box_plan(hides=(hide(zones=zones),)))["drawings"][0]["placed"][0]
    assert first[5:] == [0.0, "across", [1]]


def test_a_piece_off_every_zone_is_not_judged():
    """Without zones there is no direction to tell."""
    assert drawing_data(box_plan(hides=(hide(zones=()),)))["drawings"][0]["placed"][0][5:] == [None, "across", []]


def test_flaws_say_what_may_lie_over_them():
    """Tears, coverable, and neither; small ones are marked with a ring."""
    flaws = (flaw(box(500, 300, 505, 305), "F1", tears=True), flaw(box(500, 300, 600, 305), "F2"),
             flaw(box(500, 300, 505, 305), "F3", coverable=False))
    found = drawing_data(box_plan(hides=(hide(flaws=flaws),)))["drawings"][0]["flaws"]
    assert [(one["rule"], one["small"]) for one in found] == [("tears", True), ("coverable", False), ("clear", True)]


def test_cost_model_reckons_the_accounts_prices(run):
    """Price × quantity over good pairs gives every size's exact price of a good pair, and the order's total."""
    model = cost_model(run.accounts.cost)
    prices = [float(box["price"]) for box in model["boxes"]]
    exact = {(row.style, row.size): row.exact_pair for row in run.accounts.cost.sizes}
    total = 0.0
    for size in model["sizes"]:
        amount = sum(prices[box] * quantity for box, quantity in size["uses"])
        assert amount / size["good"] == pytest.approx(float(exact[size["style"], size["size"]]), rel=1e-9)
        total += amount
    assert total == pytest.approx(float(sum((m.exact for m in run.accounts.cost.materials), Fraction(0))), rel=1e-9)
    assert round(total, 2) == pytest.approx(float(run.accounts.cost.total), abs=0.0051)
    for role, what in (("vamp", "hides"), ("reinforcement", "lays")):
        number = sum(use.role == role for use in run.accounts.uses)
        assert sum(box["number"] for box in model["boxes"] if box["what"] == what) == number


def test_pictures_of_pieces_show_one_size_a_style(run):
    """The middle size, its rough length and width; a right piece is never the one shown."""
    (river,) = piece_pictures(run.plan)
    length, width = np.ptp(run.plan.piece("river-39").cut_outline, axis=0)
    assert river["size"] == "39" and (river["length"], river["width"]) == pytest.approx((length, width))
    assert river["back"] and river["parts"] == {}
    (slant,) = piece_pictures(slant_plan())
    assert slant["back"] == "" and slant["cut"] == path_of_ring(slant_plan().piece("L38").cut_outline)
