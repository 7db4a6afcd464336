"""Saved plans and links that are broken or meant ill: judged, costed and cut, or refused, never a fault."""

import json
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mutations import fuzzed, spoilt_bytes, spoilt_json
from shapely.geometry import box
from tiny_plans import box_plan, flaw, hide, rectangle_lattice, slant_plan

from nest import limits
from nest.accounts import account
from nest.atomic import atomic_folder, atomic_path
from nest.cli import main
from nest.cli.codes import Exit
from nest.errors import PlanProblem, VampYieldError
from nest.pieces.piece import Part, Template
from nest.planfile import plan_from_text, plan_text, read_plan, write_plan
from nest.text import hidden_in
from nest.verify import verify

PLANS = [box_plan(hides=(hide(flaws=(flaw(box(300, 200, 310, 210)),)),)), slant_plan()]


def refused(error: Exception) -> bool:
    """Whether every line of an error is a sentence without anything hidden in it."""
    return all(line.endswith(".") and hidden_in(line) is None for line in str(error).split("\n"))


@fuzzed
@given(data=st.data(), sound=st.sampled_from(PLANS))
def test_spoilt_fields_of_a_plan(sound, data):
    """A plan with values wrong, missing or elsewhere is refused, or judged, costed and written again the same."""
    text = data.draw(spoilt_json(plan_text(sound)))
    try:
        plan = plan_from_text(text)
    except VampYieldError as error:
        assert refused(error)
        return
    verdict = verify(plan)
    assert verdict.checks.hides <= len(plan.layouts)
    assert plan_from_text(plan_text(plan)).order == plan.order
    if verdict.ok:
        account(plan)


@fuzzed
@given(data=st.data(), sound=st.sampled_from(PLANS))
def test_spoilt_bytes_of_a_plan(sound, data):
    """A plan with any bytes wrong is refused in sentences, or read."""
    raw = data.draw(spoilt_bytes(plan_text(sound).encode()))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.json"
        path.write_bytes(raw)
        try:
            verify(read_plan(path))
        except VampYieldError as error:
            assert refused(error)


def test_a_plan_beyond_the_limit(tmp_path, monkeypatch):
    """A file that is too large is refused by its size, unread."""
    monkeypatch.setattr("nest.planfile.LARGEST_PLAN_BYTES", 2_000_000)
    with open(tmp_path / "plan.json", "wb") as file:
        file.truncate(3_000_000)
    with pytest.raises(PlanProblem, match="the plan has 3 MB, at most 2 MB are read"):
        read_plan(tmp_path / "plan.json")


@pytest.mark.parametrize("bad", [limits.LARGEST_COORDINATE * 1.01, 1e300, 10**400, -1e7])
def test_coordinates_beyond_the_limit(bad):
    """A coordinate that no hide has is refused with its field."""
    data = json.loads(plan_text(box_plan()))
    data["pieces"][0]["cut_outline"][0][0] = bad
    with pytest.raises(VampYieldError, match=r"plan\.pieces\[0\]\.cut_outline: expected an outline"):
        plan_from_text(json.dumps(data))


def test_lists_without_end():
    """Lists nested a hundred thousand deep, or just so deep that they can be read, are refused."""
    for depth in (900, 100_000):
        text = plan_text(box_plan()).replace('"name": "box"', '"name": ' + "[" * depth + "]" * depth, 1)
        with pytest.raises(VampYieldError) as caught:
            plan_from_text(text)
        assert refused(caught.value)


def test_hidden_marks_in_a_plan():
    """Marks that turn the reading direction are refused, when a plan is read and when one is written."""
    text = plan_text(box_plan()).replace('"name": "box"', '"name": "\\u202exob"', 1)
    with pytest.raises(VampYieldError, match=r"text without the character U\+202E"):
        plan_from_text(text)
    with pytest.raises(PlanProblem, match=r"U\+202E.*not written"):
        plan_text(box_plan(name="\u202exob"))


def test_nothing_is_written_through_a_link(tmp_path):
    """Links to a folder, to a file and to nothing are refused, for files and folders; what they lead to stays."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "plan.json").write_text("mine")
    for name, target in (("folder", "mine"), ("file", "mine/plan.json"), ("nothing", "no"), ("loop", "loop")):
        link = tmp_path / name
        link.symlink_to(tmp_path / target)
        with pytest.raises(PlanProblem, match="is a link to"), atomic_folder(link, marker="plan.json"):
            pytest.fail("the block must not run")
        with pytest.raises(PlanProblem, match="is a link to"), atomic_path(link):
            pytest.fail("the block must not run")
        with pytest.raises(PlanProblem, match="is a link to"):
            write_plan(box_plan(), link)
        assert link.is_symlink()
    assert (tmp_path / "mine" / "plan.json").read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 5


@pytest.mark.parametrize(("field", "what"), [("parts", "as many as outline"), ("numbers", "as many as placed")])
def test_lists_that_belong_together_and_differ_in_length(field, what):
    """A template with fewer parts than edges, a layout with numbers for some of its pieces: refused with the field."""
    template = Template("box", "38", box_plan().pieces[0].net_outline, (Part.TOE,) * 4)
    plan = box_plan()
    data = json.loads(plan_text(replace(plan, styles=(replace(plan.styles[0], templates=(template,)),))))
    owner = data["styles"][0]["templates"][0] if field == "parts" else data["layouts"][0]
    owner[field] = [*owner[field][:-1]] if field == "parts" else [1, 2]
    with pytest.raises(VampYieldError, match=rf"{field}: expected {what}, 4, found [23]"):
        plan_from_text(json.dumps(data))


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [("unit", "parsec", "expected one of mm, cm, in, found"), ("cut_mm_s", 0.0, "expected a number above 0, found 0.0"),
     ("travel_mm_s", -1.0, "expected a number above 0, found -1.0")],
)
def test_tables_that_nothing_can_be_drawn_for(field, value, words):
    """A unit that no drawing has and speeds of nought are refused with their field, before anything is drawn."""
    data = json.loads(plan_text(box_plan()))
    data["settings"]["table"][field] = value
    with pytest.raises(VampYieldError, match=rf"settings\.table\.{field}: {words}"):
        plan_from_text(json.dumps(data))


def test_a_tolerance_without_end_is_refused():
    """Headings are counted out within the tolerance: a billion degrees of it are refused with the field."""
    data = json.loads(plan_text(box_plan()))
    data["styles"][0]["rules"]["tolerance_deg"] = 1e9
    with pytest.raises(VampYieldError, match=r"rules\.tolerance_deg: expected a number from 0 to 90, found 1"):
        plan_from_text(json.dumps(data))


@pytest.mark.parametrize(
    "change",
    [{"styles": ()}, {"hides": (replace(box_plan().hides[0], measured_area_mm2=0.0),)},
     {"lays": (replace(box_plan().lays[0], plies=0),)}, {"rolls": (replace(box_plan().rolls[0], width_mm=0.0),)}],
    ids=["no style", "no area", "no plies", "no width"],
)
def test_accounts_of_plans_with_something_missing(change):
    """Names that lead nowhere and measures of nought end in one sentence, never in a fault."""
    with pytest.raises(PlanProblem, match="verify the plan first"):
        account(replace(box_plan(), **change), lattice=rectangle_lattice)


@pytest.mark.parametrize(("place", "bad", "words"), [
    (("order", 0, "pairs_wanted"), 10**400, "a whole number"),
    (("order", 0, "pairs_to_cut"), 10**16, "a whole number"),
    (("settings", "seed"), -(10**30), "a whole number"),
    (("lays", 0, "plies"), 2**63, "a whole number"),
    (("leathers", 0, "price"), "1E+999999999", "an amount"),
    (("leathers", 0, "price"), "1E-999999999", "an amount"),
    (("leathers", 0, "price"), "1E+16", "an amount"),
    (("hides", 0, "thickness_mm"), 1e308, "a number"),
    (("hides", 0, "thickness_mm"), 10**400, "a number"),
])
def test_figures_that_no_cutting_room_has_are_refused_when_read(place, bad, words):
    """Whole numbers and amounts are bounded as numbers are: none makes a later step run out of memory or digits."""
    data = json.loads(plan_text(box_plan()))
    holder = data
    for key in place[:-1]:
        holder = holder[key]
    holder[place[-1]] = bad
    with pytest.raises(VampYieldError, match=f"expected {words}") as caught:
        plan_from_text(json.dumps(data))
    assert refused(caught.value) and place[-1] in str(caught.value)


def test_a_zero_below_zero_is_zero():
    """-0.0 is read as 0, so that no table or drawing shows a figure of minus nothing."""
    data = json.loads(plan_text(box_plan()))
    data["settings"]["edge_margin_mm"] = data["layouts"][0]["placed"][0]["pose"]["heading_deg"] = -0.0
    plan = plan_from_text(json.dumps(data))
    assert f"{plan.settings.edge_margin_mm:g} {plan.layouts[0].placed[0].pose.heading_deg:g}" == "0 0"


@pytest.mark.parametrize(("change", "words"), [
    (lambda p: replace(p, styles=(replace(p.styles[0], name="lake"),)), "names the style 'box'"),
    (lambda p: replace(p, styles=(replace(p.styles[0], leather="suede"),)), "names the leather 'suede'"),
    (lambda p: replace(p, layouts=(replace(p.layouts[0], hide_id="H9"),)), "names the hide 'H9'"),
    (lambda p: replace(p, lays=(replace(p.lays[0], roll_id="felt"),)), "names the roll 'felt'"),
    (lambda p: replace(p, pieces=p.pieces[1:]), "V38 is no usable piece"),
    (lambda p: replace(p, hides=p.hides * 2), "hide H1 is given 2 times"),
    (lambda p: replace(p, hides=(replace(p.hides[0], hide_id=" "),)), "a hide has no name"),
])
@pytest.mark.parametrize("command", ["cost", "price", "cut", "verify"])
def test_a_plan_whose_ids_lead_nowhere_is_refused_by_every_command(tmp_path, capsys, command, change, words):
    """One sentence and the exit code of bad input, never a fault; `verify` says it as a finding."""
    path = tmp_path / "plan.json"
    write_plan(change(box_plan()), path)
    more = ["--out", str(tmp_path / "out")] if command == "cut" else []
    wanted = Exit.WRONG if command == "verify" else Exit.BAD_INPUT
    assert main([command, str(path), *more]) == wanted
    said = capsys.readouterr()
    assert words in " ".join((said.out + said.err).split()) or command == "verify"
    assert not (tmp_path / "out").exists()
