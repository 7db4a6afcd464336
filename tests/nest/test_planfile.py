"""A plan survives its file: content, bytes, and what happens to files that are damaged, foreign or newer."""

import json
import os
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from tiny_plans import box_plan, flaw, hide, rectangle, roll, slant_plan, style, vamp, with_hide, with_placed, zone

from geometry.pose import Pose
from nest.errors import InputProblems, PlanProblem
from nest.job.job import Settings
from nest.pieces.piece import Foot
from nest.plan import SCHEMA_VERSION, Bound, CutLine, HideLayout, Lay, Placed
from nest.planfile import plan_from_text, plan_text, read_plan, write_plan
from nest.rules import Rules
from nest.stock.material import Leather, RollStretch
from nest.text import hidden_in
from nest.verify import verify


def same(a, b) -> bool:
    """Equal content, looked into field by field: type for type, coordinate for coordinate."""
    if isinstance(a, np.ndarray):
        return isinstance(b, np.ndarray) and np.array_equal(a, b)
    if type(a) is not type(b):
        return False
    if is_dataclass(a):
        return all(same(getattr(a, field.name), getattr(b, field.name)) for field in fields(a))
    if isinstance(a, tuple):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, BaseGeometry):
        return a.equals_exact(b, 0.0)
    return a == b


def rich_plan():
    """A plan that uses every kind of field: holes, parts, missing prices, bounds, notes, non-ASCII text."""
    plan = slant_plan()
    parts = MultiPolygon([box(0, 400, 9, 500), box(20, 400, 29, 500)])
    full = hide("H1", zones=[zone("butt"), zone("rest", 3, 77.5, parts)],
                flaws=[flaw(Point(900, 400).buffer(4.0), tears=True), flaw(box(5, 5, 6, 6), "F2", coverable=False)],
                holes=[[(700, 300), (720, 300), (710, 320)]], price=Decimal("31.50"))
    return replace(
        plan,
        name="Größe 38 – «Probe»",
        styles=(*plan.styles, style(rules=Rules(7.5, True, 2, 3, False, False, False), notes=("skive 8 mm", "¾"))),
        pieces=(*plan.pieces, *box_plan().pieces),
        leathers=(Leather("calf", Decimal("30.00"), "m2", ((1, Decimal("33.10")), (2, Decimal("28"))), True),),
        hides=(full, hide("H2")),
        rolls=(roll(stretch=RollStretch.LENGTH, one_way=True),),
        settings=Settings(seed=7, seconds=1.5, currency="CHF"),
        bounds=(Bound("H1", 0.8123456789, 0.79),),
        warnings=("one outline was closed",),
    )


@pytest.mark.parametrize("make", [box_plan, slant_plan, rich_plan])
def test_round_trip(make, tmp_path):
    """What is read is what was written, to the last field, and is judged the same."""
    plan = make()
    write_plan(plan, tmp_path / "plan.json")
    back = read_plan(tmp_path / "plan.json")
    snapped = plan_from_text(plan_text(plan))
    assert same(back, snapped)
    assert same(replace(back, hides=(), pieces=()), replace(plan, hides=(), pieces=()))
    assert plan_text(back) == plan_text(plan)
    assert verify(back) == verify(plan)


grid = st.integers(-30_000_000, 30_000_000).map(lambda n: n / 10_000)
angles = st.floats(-720.0, 720.0)
money = st.decimals(0, 10_000, places=2)
words = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cf", "Cs")), max_size=12).filter(
    lambda text: hidden_in(text) is None
)
sizes = st.integers(10_000, 3_000_000).map(lambda n: n / 10_000)


@st.composite
def plans(draw):
    """Plans of random content, on the grid; right or wrong does not matter here."""
    pieces = tuple(
        vamp(f"P{i}", draw(words), draw(words), draw(st.sampled_from(Foot)), rectangle(draw(sizes), draw(sizes)))
        for i in range(draw(st.integers(0, 3)))
    )
    placed = st.builds(Placed, words, st.builds(Pose, grid, grid, angles), st.integers(0, 99))
    lines = st.builds(CutLine, words, words, st.integers(0, 9), st.integers(0, 9))
    on_lay = tuple(draw(st.lists(placed, max_size=4)))
    x, y = draw(grid), draw(grid)
    outline = box(x, y, x + 100.0, y + 50.0).difference(box(x + 10.0, y + 10.0, x + 20.0, y + 20.0))
    zones = [zone(draw(words), draw(st.integers(1, 9)), draw(angles), outline)]
    return box_plan(
        name=draw(words), pieces=pieces, warnings=tuple(draw(st.lists(words, max_size=3))),
        hides=(replace(hide(draw(words), zones=zones, price=draw(st.none() | money), measured=draw(sizes)),
                       outline=outline),),
        leathers=(Leather(draw(words), draw(money), "ft2", ((1, draw(money)),), draw(st.booleans())),),
        order=tuple(draw(st.lists(lines, max_size=3))),
        layouts=(HideLayout(draw(words), tuple(draw(st.lists(placed, max_size=4)))),),
        lays=(Lay(draw(words), draw(words), draw(sizes), draw(st.integers(1, 9)), on_lay),),
    )


@settings(max_examples=40, deadline=None)
@given(plans())
def test_any_plan_survives(plan):
    """Whatever is in a plan comes back equal (shapes to the grid), and writing again gives the same bytes."""
    text = plan_text(plan)
    back = plan_from_text(text)
    assert same(replace(back, hides=(), pieces=()), replace(plan, hides=(), pieces=()))
    for ours, theirs in zip(plan.pieces, back.pieces, strict=True):
        assert np.abs(ours.cut_outline - theirs.cut_outline).max() <= 0.5e-4 + 1e-9
        assert all(getattr(ours, name) == getattr(theirs, name) for name in ("piece_id", "style", "size", "foot"))
    ours, theirs = plan.hides[0], back.hides[0]
    assert ours.outline.equals_exact(theirs.outline, 0.5e-4 + 1e-9) and len(theirs.outline.interiors) == 1
    assert ours.measured_area_mm2 == theirs.measured_area_mm2 and same(ours.price, theirs.price)
    assert plan_text(back) == text


def test_bytes_are_deterministic(tmp_path):
    """The same plan gives the same bytes, whenever and wherever it is written."""
    write_plan(rich_plan(), tmp_path / "a.json")
    os.mkdir(tmp_path / "deep")
    write_plan(rich_plan(), tmp_path / "deep" / "b.json")
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "deep" / "b.json").read_bytes()


def test_file_is_self_described_and_plain():
    """The file names its format and version, money is text, regions are GeoJSON geometry objects (RFC 7946, 3.1)."""
    data = json.loads(plan_text(rich_plan()))
    assert (data["format"], data["schema"]) == ("vampyield plan", SCHEMA_VERSION)
    assert data["leathers"][0]["price"] == "30.00" and data["hides"][0]["price"] == "31.50"
    assert data["hides"][1]["price"] is None
    outline = data["hides"][0]["outline"]
    assert outline["type"] == "Polygon" and outline["coordinates"][0][0] == outline["coordinates"][0][-1]
    assert data["hides"][0]["zones"][1]["outline"]["type"] == "MultiPolygon"


def test_coordinates_are_on_the_grid():
    """Shapes and positions are rounded to 0.0001 mm, headings are kept whole."""
    third = Placed("V38", Pose(100.0 / 3.0, -1e-9, 100.0 / 3.0), 1)
    text = plan_text(with_placed(box_plan(), 0, third))
    pose = json.loads(text)["layouts"][0]["placed"][0]["pose"]
    assert pose == {"x": 33.3333, "y": 0.0, "heading_deg": 100.0 / 3.0} and "-0.0" not in text


def test_outline_that_touches_itself_after_rounding_is_snapped():
    """A region that plain rounding would fold over is kept valid, and keeps its area."""
    sliver = Polygon([(0, 0), (10, 0), (10, 10), (5.00004, 0.00004), (5, 5), (0, 10)])
    assert sliver.is_valid
    back = plan_from_text(plan_text(with_hide(box_plan(), zones=(zone(outline=sliver),))))
    assert back.hides[0].zones[0].outline.is_valid
    assert back.hides[0].zones[0].outline.area == pytest.approx(sliver.area, abs=0.01)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda plan, bad: with_placed(plan, 0, Placed("V38", Pose(bad, 0.0, 0.0), 1)),
        lambda plan, bad: with_placed(plan, 0, Placed("V38", Pose(0.0, 0.0, bad), 1)),
        lambda plan, bad: with_hide(plan, thickness_mm=bad),
        lambda plan, bad: replace(plan, leathers=(Leather("calf", Decimal(str(bad)), "m2"),)),
        lambda plan, bad: replace(
            plan, pieces=(replace(plan.pieces[0], cut_outline=np.array([(0, 0), (1, 0), (1, bad)])), plan.pieces[1])
        ),
    ],
)
@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_nan_is_refused_and_nothing_is_written(spoil, bad, tmp_path):
    """A number that is none is refused on writing, wherever it stands, and the old file stays."""
    path = tmp_path / "plan.json"
    write_plan(box_plan(), path)
    before = path.read_bytes()
    with pytest.raises(PlanProblem):
        write_plan(spoil(box_plan(), bad), path)
    assert path.read_bytes() == before and os.listdir(tmp_path) == ["plan.json"]


def test_nan_in_a_file_is_refused():
    """NaN, infinities and numbers beyond any float are refused on reading."""
    text = plan_text(box_plan())
    for bad in ("NaN", "Infinity", "-Infinity"):
        with pytest.raises(PlanProblem, match="not a number"):
            plan_from_text(text.replace("1.3", bad))
    for bad in ("1e999", "1" + "0" * 400):
        with pytest.raises(InputProblems):
            plan_from_text(text.replace("1.3", bad))


def test_failed_write_leaves_the_old_file(tmp_path, monkeypatch):
    """If the disk fails before the end, the old plan is whole and no part of the new one is left."""
    path = tmp_path / "plan.json"
    write_plan(box_plan(), path)
    before = path.read_bytes()

    def full(*_):
        raise OSError(28, "no space left")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(PlanProblem, match="no space left"):
        write_plan(slant_plan(), path)
    assert path.read_bytes() == before and os.listdir(tmp_path) == ["plan.json"]


def test_no_such_place(tmp_path):
    """A missing file, a folder in place of a file, a missing folder: one sentence each."""
    for path in (tmp_path / "none.json", tmp_path):
        with pytest.raises(PlanProblem):
            read_plan(path)
    for path in (tmp_path / "none" / "plan.json", tmp_path):
        with pytest.raises(PlanProblem):
            write_plan(box_plan(), path)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "damaged"),
        (b"\xff\xfe\x00", "not a plan"),
        (b"[]", "not a plan"),
        (b'{"format": "another"}', "not a plan"),
        (b'{"format": "vampyield plan"}', "schema version None"),
        (b'{"format": "vampyield plan", "schema": true}', "schema version True"),
        (b'{"format": "vampyield plan", "schema": 99}', "update the program"),
        (b'{"format": "vampyield plan", "format": "x", "schema": 1}', "given twice"),
        (b"[" * 100_000, "damaged"),
    ],
)
def test_foreign_and_newer_files(content, says, tmp_path):
    """Files that are no plan, or a newer one, are told apart and refused in one sentence."""
    path = tmp_path / "file.json"
    path.write_bytes(content)
    with pytest.raises(PlanProblem, match=says):
        read_plan(path)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_cut_short(where):
    """A file that ends early is never read as a plan."""
    text = plan_text(box_plan()).rstrip()
    with pytest.raises(PlanProblem):
        plan_from_text(text[: where % len(text)])


def damaged(change):
    """Problems reported for the text of a plan after `change` of its data."""
    data = json.loads(plan_text(rich_plan()))
    change(data)
    with pytest.raises(InputProblems) as caught:
        plan_from_text(json.dumps(data), where="plan.json")
    return caught.value.problems


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda d: d["hides"][0].pop("lot"), "hides[0].lot"),
        (lambda d: d["hides"][0].update(colour="red"), "hides[0].colour"),
        (lambda d: d["hides"][0].update(quality=1.5), "hides[0].quality"),
        (lambda d: d["hides"][0].update(quality=True), "hides[0].quality"),
        (lambda d: d["hides"][0].update(price=31.5), "hides[0].price"),
        (lambda d: d["hides"][0].update(price="much"), "hides[0].price"),
        (lambda d: d["hides"][0].update(price="NaN"), "hides[0].price"),
        (lambda d: d["hides"][0].update(hide_id=None), "hides[0].hide_id"),
        (lambda d: d["hides"][0].update(outline=d["hides"][0]["zones"][1]["outline"]), "hides[0].outline"),
        (lambda d: d["hides"][0]["outline"].update(type="Point"), "hides[0].outline"),
        (lambda d: d["hides"][0]["outline"].update(type=[]), "hides[0].outline"),
        (lambda d: d["hides"][0]["outline"].update(coordinates=[[[0, 0], [1, 1], [0, 1], [1, 0], [0, 0]]]),
         "hides[0].outline"),
        (lambda d: d["hides"][0]["outline"].update(coordinates=[[[0, 0], [1, 0], [1, 1]]]), "hides[0].outline"),
        (lambda d: d["rolls"][0].update(stretch="sideways"), "rolls[0].stretch"),
        (lambda d: d["rolls"][0].update(one_way="yes"), "rolls[0].one_way"),
        (lambda d: d["leathers"][0].update(price_by_quality=[[1]]), "leathers[0].price_by_quality[0]"),
        (lambda d: d["pieces"][0].update(cut_outline=[[0, 0], [1, 0]]), "pieces[0].cut_outline"),
        (lambda d: d["pieces"][0].update(cut_outline=[[0, 0], [1, 1], [1, 0]]), "pieces[0].cut_outline"),
        (lambda d: d["pieces"][0].update(cut_outline=[[0, 0], [2, 2], [2, 0], [0, 3]]), "pieces[0].cut_outline"),
        (lambda d: d["pieces"][0].update(cut_outline=[["0", 0], [1, 0], [1, 1]]), "pieces[0].cut_outline"),
        (lambda d: d["layouts"][0]["placed"][0].update(pose=None), "layouts[0].placed[0].pose"),
        (lambda d: d.update(layouts={}), "layouts"),
        (lambda d: d.update(extra=1), "extra"),
    ],
)
def test_damaged_fields_are_named(change, where):
    """A damaged field is named by its path, with what was expected and found."""
    problems = damaged(change)
    assert [problem.where for problem in problems] == [f"plan.json, plan.{where}"]
    assert problems[0].expected and problems[0].found and problems[0].remedy


def test_all_damage_is_reported_together():
    """Every damaged field is reported, not the first alone."""
    def change(data):
        data["hides"][0]["lot"] = 3
        data["rolls"][0]["width_mm"] = "wide"
        del data["settings"]["seed"], data["order"]

    # A missing setting has a default, a missing order has none.
    assert [p.where.rsplit("plan.")[-1] for p in damaged(change)] == ["order", "hides[0].lot", "rolls[0].width_mm"]
