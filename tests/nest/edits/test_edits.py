"""Changes to a plan by hand: what each does, what is refused, and that nothing else moves."""

import json
import re
from dataclasses import fields, replace

import pytest
import shapely
from any_commands import ANY
from edited_plans import after, lying, rules_broken, two_hides
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import ROUGH, box_plan, hide, slant_plan, two_sizes, zone

from geometry.pose import Pose
from nest.edits import EditProblem, History, Journal, State, changed, commands_from_text, findings_on, played
from nest.edits import commands as do
from nest.edits.journal import Journal as KeptJournal
from nest.guide import page
from nest.pieces.piece import Part
from nest.plan import Begun, CutHide
from nest.planfile import plan_from_text, plan_text
from nest.scenarios import Moved
from nest.verify import verify
from nest.verify.verdict import Rule


def test_a_flaw_drawn_under_a_piece_is_found_at_once():
    """A scar that nobody drew: the judge names it, point, stroke or loop, and finds nothing once it is dropped."""
    assert not rules_broken(two_hides())
    for mark in (
        do.MarkFlaw("H1", "scar", 2, ((120.0, 70.0),), width_mm=4.0),
        do.MarkFlaw("H1", "scar", 2, ((60.0, 40.0), (160.0, 90.0)), width_mm=4.0),
        do.MarkFlaw("H1", "scar", 2, ((100.0, 60.0), (140.0, 60.0), (120.0, 90.0)), loop=True),
    ):
        state = after(two_hides(), mark)
        assert [flaw.flaw_id for flaw in state.hide("H1").flaws] == ["F01"]
        (found,) = findings_on(state.plan, "H1")
        assert found.spots == (0,) and "scar F01" in found.sentence
        assert not findings_on(state.plan, "H2")
        assert not rules_broken(changed(state, do.DropFlaw("H1", "F01")).plan)


def test_area_of_a_point_and_a_stroke():
    """A point of width w is a disc, a stroke of length l a stadium: πw²/4 and lw + πw²/4, within the chords of an
    octant's arc (an inscribed regular 32-gon has 0.9936 of its circle; plane geometry)."""
    disc = 25.0 * 3.141592653589793
    state = after(two_hides(), do.MarkFlaw("H3", "scar", 1, ((500.0, 250.0),), width_mm=10.0),
                  do.MarkFlaw("H3", "scar", 1, ((500.0, 250.0), (600.0, 250.0)), width_mm=10.0))
    point, stroke = (flaw.outline.area for flaw in state.hide("H3").flaws)
    assert 0.993 * disc <= point <= disc
    assert 1000.0 + 0.993 * disc <= stroke <= 1000.0 + disc


def test_zones_are_marked_split_and_set():
    """Ground changes hands without overlap or loss, to the square millimetre."""
    state = after(two_hides(), do.MarkZone("H1", 3, 45.0, ((0, 0), (250, 0), (250, 500), (0, 500))))
    zones = state.hide("H1").zones
    assert [(one.quality, one.stretch_deg, round(one.outline.area)) for one in zones] == [
        (1, 90.0, 375_000), (3, 45.0, 125_000)]
    split = changed(state, do.SplitZone("H1", "butt", ((600.0, -10.0), (600.0, 510.0)), 2, 80.0))
    by_name = {one.zone_id: one for one in split.hide("H1").zones}
    assert by_name["butt 2"].outline.bounds == (250.0, 0.0, 600.0, 500.0)  # left of a line that goes up
    assert by_name["butt"].outline.bounds == (600.0, 0.0, 1000.0, 500.0)
    assert by_name["butt 2"].quality == 2
    reset = changed(split, do.SetZone("H1", "butt 2", 1, 90.0))
    assert Rule.NET_CLASS in rules_broken(split.plan) and Rule.NET_CLASS in rules_broken(reset.plan)
    whole = sum(one.outline.area for one in reset.hide("H1").zones)
    assert whole == pytest.approx(500_000.0, abs=0.5)
    mended = changed(reset, do.SetZone("H1", "zone", 1, 90.0))
    assert not rules_broken(mended.plan)


def test_stretch_that_nobody_knows():
    """Of one zone or of the whole hide: what lies there is wrong at once by the judge's sentence, until it is set."""
    state = after(two_hides(), do.SplitZone("H1", "butt", ((465.0, -10.0), (465.0, 510.0)), 1, None))
    assert [zone.stretch_deg for zone in state.hide("H1").zones] == [90.0, None]
    (found, other) = findings_on(state.plan, "H1")
    assert (found.rule, found.spots, other.spots) == (Rule.DIRECTION, (0,), (1,))
    assert "100.00% of its net area on unknown stretch" in found.sentence
    whole = after(two_hides(), do.StretchUnknown("H1"))
    assert len(findings_on(whole.plan, "H1")) == 4 and not findings_on(whole.plan, "H2")
    assert not rules_broken(changed(whole, do.SetZone("H1", "butt", 1, 90.0)).plan)
    known = changed(state, do.StretchUnknown("H1", "butt"))
    assert [zone.stretch_deg for zone in known.hide("H1").zones] == [None, None]


def test_the_edge_is_trimmed_and_what_lay_there_is_found():
    """A corner that is cut off takes ground with it; a trim through the middle leaves the larger part."""
    state = after(two_hides(), do.TrimEdge("H1", ((-5, -5), (60, -5), (60, 505), (-5, 505))))
    assert state.hide("H1").outline.bounds == (60.0, 0.0, 1000.0, 500.0)
    assert [finding.spots for finding in findings_on(state.plan, "H1") if finding.rule is Rule.OUTSIDE] == [(0,)]
    assert state.hide("H1").zones[0].outline.area == pytest.approx(470_000.0)
    parted = after(two_hides(), do.TrimEdge("H3", ((300, -5), (310, -5), (310, 505), (300, 505))))
    assert parted.hide("H3").outline.bounds == (310.0, 0.0, 1000.0, 500.0)


def test_pieces_are_moved_taken_out_and_put_in():
    """Numbers stay with their pieces; pairs are joined anew by what is alone; what is short is said."""
    moved = after(two_hides(), do.MovePiece("H1", 1, 125.0, 72.0, 180.0))
    assert lying(moved, "H1")[1] == ("V38", Pose(125.0, 72.0, 180.0)) and not rules_broken(moved.plan)
    out = changed(moved, do.TakeOut("H1", 1))
    assert set(lying(out, "H1")) == {2, 3, 4}
    assert [one.pair for one in out.layout("H1").placed].count(0) == 1
    assert Rule.SHORT in rules_broken(out.plan)
    back = changed(out, do.PutIn("H1", "V38", 120.0, 70.0, 0.0))
    assert set(lying(back, "H1")) == {1, 2, 3, 4} and not rules_broken(back.plan)
    assert 0 not in [one.pair for one in back.layout("H1").placed]


def test_left_and_right_stay_a_pair():
    """A left vamp taken out leaves its right one alone; another left joins it, and no left with a left."""
    state = after(slant_plan(), do.TakeOut("H1", 1))
    assert {one.piece_id: one.pair for one in state.layout("H1").placed if not one.pair} == {"R38": 0}
    wrong = changed(state, do.PutIn("H1", "R38", 120.0, 70.0, 0.0))
    assert sum(not one.pair for one in wrong.layout("H1").placed) == 2
    right = changed(state, do.PutIn("H1", "L38", 120.0, 70.0, 0.0))
    assert not rules_broken(right.plan)


def test_sizes_are_exchanged():
    """Two pieces of a style lie at each other's place; across hides their pairs part."""
    plan = two_sizes()
    state = after(plan, do.Exchange("H1", 1, "H1", 3))
    before, now = lying(State(plan), "H1"), lying(state, "H1")
    assert now[1] == ("V44", before[1][1]) and now[3] == ("V38", before[3][1])
    assert {one.piece_id: one.pair for one in state.layout("H1").placed}.keys() == {"V38", "V44"}


def test_what_is_held_does_not_move():
    """A held piece, a held hide and a hide that is cut refuse every change in one sentence; freed they take it."""
    state = after(two_hides(), do.Hold("H1", (1,)))
    with pytest.raises(EditProblem, match=r"piece no\. 1 of hide H1 is held; free it first\."):
        changed(state, do.MovePiece("H1", 1, 0.0, 0.0, 0.0))
    assert changed(state, do.MovePiece("H1", 2, 360.0, 75.0, 0.0)).plan != state.plan
    assert changed(changed(state, do.Free("H1", (1,))), do.TakeOut("H1", 1))
    whole = after(two_hides(), do.Hold("H2"))
    for command in (do.TakeOut("H2", 1), do.MarkFlaw("H2", "scar", 1, ((9.0, 9.0),), width_mm=3.0), do.BanHide("H2")):
        with pytest.raises(EditProblem, match="hide H2 is held"):
            changed(whole, command)
    cut = State(replace(two_hides(), begun=Begun(hides=(CutHide("H1"),))))
    with pytest.raises(EditProblem, match="hide H1 is cut"):
        changed(cut, do.TakeOut("H1", 1))


def test_a_hide_is_banned_and_allowed_again():
    """What lay on it is short then; nothing can be put on it until it is allowed."""
    state = after(two_hides(), do.BanHide("H2"))
    assert state.plan.begun.withdrawn == ("H2",) and not state.layout("H2").placed
    assert rules_broken(state.plan) == {Rule.SHORT}
    with pytest.raises(EditProblem, match="not to be used"):
        changed(state, do.PutIn("H2", "V38", 120.0, 70.0, 0.0))
    assert not changed(state, do.AllowHide("H2")).plan.begun.withdrawn


REFUSED = [
    (do.MarkFlaw("H9", "scar", 1, ((1.0, 1.0),), width_mm=2.0), "no hide named H9"),
    (do.MarkFlaw("H1", "scar", 1, ((1.0, 1.0),)), "give its width"),
    (do.MarkFlaw("H1", "scar", 1, ((5000.0, 1.0),), width_mm=2.0), "lies outside hide H1"),
    (do.MarkFlaw("H1", "sc\x1bar", 1, ((5.0, 1.0),), width_mm=2.0), "line of text"),
    (do.MarkFlaw("H1", "scar", 1, ((0.0, 0.0), (9.0, 9.0), (9.0, 0.0), (0.0, 9.0)), loop=True),
    "does not cross itself"),
    (do.MarkFlaw("H1", "scar", 1, (), width_mm=2.0), "1 to"),
    (do.MarkFlaw("H1", "scar", 1, ((1e9, 0.0),), width_mm=2.0), "points in mm"),
    (do.DropFlaw("H1", "F77"), "no flaw 'F77'"),
    (do.SetZone("H1", "belly", 1, 0.0), "no zone 'belly'; its zones: butt"),
    (do.SetZone("H1", "butt", 0, 0.0), "class from 1 to 99"),
    (do.SplitZone("H1", "butt", ((600.0, -10.0), (600.0, -10.0)), 2, 80.0), "two ends that differ"),
    (do.SplitZone("H1", "butt", ((-10.0, -10.0), (900.0, -10.0)), 2, 80.0), "does not cross zone"),
    (do.MarkZone("H1", 1, 0.0, ((2000, 0), (2100, 0), (2100, 90))), "outside hide H1"),
    (do.StretchUnknown("H1", "belly"), "no zone 'belly'"),
    (do.SetZone("H1", "butt", 1, float("nan")), "within 360°"),
    (do.TrimEdge("H1", ((-5, -5), (2000, -5), (2000, 900), (-5, 900))), "ban it instead"),
    (do.TrimEdge("H1", ((2000, 0), (2100, 0), (2100, 90))), "takes nothing off"),
    (do.TakeOut("H1", 7), "no piece no. 7"),
    (do.Hold("H1", (7,)), "no piece no. 7"),
    (do.PutIn("H1", "V99", 0.0, 0.0, 0.0), "no vamp 'V99'"),
    (do.PutIn("H1", "B38", 0.0, 0.0, 0.0), "no vamp 'B38'"),
    (do.MovePiece("H1", 1, 1e9, 0.0, 0.0), "cannot lie at"),
    (do.AllowHide("H1"), "may be used already"),
    (do.PlaceAgain(), "is a search"),
]


@pytest.mark.parametrize(("command", "words"), REFUSED, ids=lambda value: value if isinstance(value, str) else None)
def test_what_cannot_be_done_is_one_sentence(command, words):
    """It says what is wrong and how to mend it; the state is as it was, for none is changed in place."""
    state = State(two_hides())
    with pytest.raises(EditProblem) as caught:
        changed(state, command)
    said = str(caught.value)
    assert words in said and "\n" not in said and said.endswith(".")
    assert plan_text(state.plan) == plan_text(two_hides())


def sample(kind):
    """A command of every kind, as the tests above use them."""
    return {
        "mark_flaw": do.MarkFlaw("H1", "scar", 2, ((1.0, 2.5),), width_mm=4.0), "drop_flaw": do.DropFlaw("H1", "F01"),
        "mark_zone": do.MarkZone("H1", 2, 45.0, ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))),
        "split_zone": do.SplitZone("H1", "butt", ((0.0, 0.0), (1.0, 0.0)), 1, None),
        "stretch_unknown": do.StretchUnknown("H1", "butt"), "cut_lay": do.CutLay("L1", 2),
        "set_zone": do.SetZone("H1", "butt", 1, 90.0),
        "trim_edge": do.TrimEdge("H1", ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))),
        "hold": do.Hold("H1", (1, 2)), "free": do.Free("H1"), "ban_hide": do.BanHide("H1"),
        "allow_hide": do.AllowHide("H1"),
        "move": do.MovePiece("H1", 1, 1.0, 2.0, 90.0), "take_out": do.TakeOut("H1", 1),
        "put_in": do.PutIn("H1", "V38", 1.0, 2.0, 90.0), "exchange": do.Exchange("H1", 1, "H2", 2),
        "place_again": do.PlaceAgain(("H1",), seconds=3.0), "set_layouts": do.SetLayouts(two_hides().layouts),
        "place_with": do.PlaceWith(Moved(more_mm=(("box", Part.TOE, -2.0),), bias_leave=True), seconds=30.0),
        "set_plan": do.SetPlan(two_hides()),
        "cut": do.CutOff("H1", measured_mm2=5e5), "not_cut": do.NotCut("H1", (1,)), "sound": do.Sound("H1", (1,)),
        "spoiled": do.Spoil("H1", (1,), backed=False),
        "pressed": do.Pressed("H1", (1,), "good", toe_mm=9.5, day="2026-03-02"),
        "undo": do.Undo(), "redo": do.Redo(), "name": do.NameVersion("noon"), "go_to": do.GoTo("noon"),
    }[kind]


@pytest.mark.parametrize("word", [*do.COMMANDS, *do.STEPS])
def test_every_command_is_written_and_read_as_it_was(word):
    """Through JSON text, as in a script and in the journal."""
    command = sample(word)
    text = json.dumps([do.command_data(command)])
    (read,) = commands_from_text(text, "edits.json")
    assert type(read) is type(command) and do.command_data(read) == do.command_data(command)


@pytest.mark.parametrize(("text", "words"), [
    ("{", "no JSON from line 1"), ("{}", "a list of at most"), ('[{"do": "fly"}]', "command 1: expected a command"),
    ('[{"do": "take_out", "hide": "H1"}]', "number: expected a value, found none"),
    ('[{"do": "take_out", "hide": "H1", "number": "1"}]', "number: expected a whole number"),
    ('[{"do": "take_out", "hide": "H1", "number": 1, "no": 2}]', "no: expected no such field"),
    ('[{"do": "take_out", "hide": "H1", "number": 1, "no": 2}]', "its fields stand in vampyield guide edit."),
    ('[{"do": "mark_flaw", "hide": "H1", "kind": "x", "severity": 1, "points": [[1]]}]', "list of the right length"),
])
def test_a_script_that_cannot_be_read_is_refused(text, words):
    """Which command it is, what is wrong, and nothing done."""
    with pytest.raises(ValueError, match="edits") as caught:
        commands_from_text(text, "edits.json")
    assert words in str(caught.value) and "edits.json" in str(caught.value)


# --- histories -----------------------------------------------------------------------------------

def no_search(state, command):
    """Stands in where no search is asked for."""
    raise AssertionError


def play(history, steps, note=lambda history, step: None):
    """The history after those steps that can be done."""
    for step in steps:
        try:
            history, done = played(history, step, no_search)
        except EditProblem as refused:
            assert str(refused).endswith(".")
        else:
            note(history, done)
    return history


@settings(max_examples=40, deadline=None)
@given(st.lists(ANY, max_size=12))
def test_undoing_all_gives_the_very_plan_and_redoing_all_the_last(tmp_path_factory, steps):
    """Whatever was done: every state is a plan that can be saved and judged; the journal opens at the last step."""
    check_history(tmp_path_factory, steps)


@pytest.mark.slow
@settings(max_examples=500, deadline=None)
@given(st.lists(ANY, min_size=20, max_size=20))
def test_ten_thousand_commands_are_undone_and_redone(tmp_path_factory, steps):
    """The same, at length: 500 times 20 commands."""
    check_history(tmp_path_factory, steps)


def check_history(tmp_path_factory, steps):
    """Do the steps that can be done, read them back from the journal, undo all, redo all."""
    first = replace(two_hides(), lays=box_plan().lays, rolls=box_plan().rolls, pieces=box_plan().pieces)
    path = tmp_path_factory.mktemp("edits") / "edits.log"
    lines = [0]
    with Journal(path, first) as journal:
        lines.append(path.stat().st_size)

        def note(history, step):
            journal.add(history, step)
            lines.append(path.stat().st_size)

        history = play(History.of(State(first)), steps, note)
    with KeptJournal(path, first) as again:
        assert plan_text(again.history.state.plan) == plan_text(history.state.plan)
        assert again.history.state.held == history.state.held and again.history.at == history.at
    text = plan_text(history.state.plan)
    assert plan_text(plan_from_text(text)) == text
    verify(history.state.plan)
    back, on = history, history
    while back.can_undo:
        back = back.undone()
    assert back.state.plan is first
    while back.can_redo:
        back = back.redone()
    while on.can_redo:
        on = on.redone()
    assert back.state is on.state


@settings(max_examples=15, deadline=None)
@given(st.lists(ANY, min_size=1, max_size=6), st.data())
def test_a_journal_cut_short_anywhere_opens_at_the_last_whole_step(tmp_path_factory, steps, data):
    """As a process killed in the middle of a line leaves it; what is added then is found the next time."""
    first = two_hides()
    path = tmp_path_factory.mktemp("edits") / "edits.log"
    states = {}
    with Journal(path, first) as journal:
        states[path.stat().st_size] = journal.history.state

        def note(history, step):
            journal.add(history, step)
            states[path.stat().st_size] = history.state

        play(journal.history, steps, note)
    whole = path.read_bytes()
    cut = data.draw(st.integers(min(states), len(whole)))
    path.write_bytes(whole[:cut])
    expected = states[max(size for size in states if size <= cut)]
    with Journal(path, first) as journal:
        assert plan_text(journal.history.state.plan) == plan_text(expected.plan)
        step = do.NameVersion("after the cut")
        journal.add(played(journal.history, step, no_search)[0], step)
    with Journal(path, first) as journal:
        assert any(version.name == "after the cut" for version in journal.history.versions)


def test_a_journal_belongs_to_its_plan(tmp_path):
    """Another plan's journal, or another file, is refused and left as it was."""
    path = tmp_path / "edits.log"
    Journal(path, two_hides()).close()
    with pytest.raises(EditProblem, match="journal of another plan"):
        Journal(path, slant_plan())
    path.write_text("my letter")
    with pytest.raises(EditProblem, match="no journal of edits"):
        Journal(path, two_hides())
    assert path.read_text() == "my letter"


def test_the_judge_of_one_hide_says_what_the_judge_of_the_plan_says():
    """Hide by hide the same sentences as for the whole plan."""
    state = after(
        two_hides(), do.MarkFlaw("H1", "scar", 2, ((120.0, 70.0),), width_mm=4.0),
        do.MovePiece("H2", 2, 200.0, 75.0, 20.0), do.MovePiece("H1", 4, 990.0, 70.0, 0.0),
    )
    whole = {one.sentence for one in verify(state.plan).findings if one.rule not in (Rule.SHORT, Rule.OVER)}
    alone = {one.sentence for name in ("H1", "H2", "H3") for one in findings_on(state.plan, name)}
    assert alone == whole and len(whole) >= 4


def test_names_and_going_back():
    """A version is gone back to by its name; a name is given once."""
    history = play(History.of(State(two_hides())), [do.TakeOut("H1", 1), do.NameVersion("noon"), do.TakeOut("H1", 2)])
    assert set(lying(history.state, "H1")) == {3, 4}
    assert set(lying(history.gone_to("noon").state, "H1")) == {2, 3, 4}
    with pytest.raises(EditProblem, match="choose another"):
        history.named("noon")
    with pytest.raises(EditProblem, match="no version is named"):
        history.gone_to("night")
    with pytest.raises(EditProblem, match="nothing to redo"):
        history.redone()


def test_the_hand_leaves_other_hides_alone():
    """A change on one hide leaves every other drawing and layout the very same object."""
    plan = replace(two_hides(), hides=(*two_hides().hides[:2], hide("H3", zones=[zone(), ])))
    mark = do.MarkFlaw("H1", "scar", 1, ((900.0, 450.0),), width_mm=3.0)
    state = after(plan, do.MovePiece("H1", 1, 121.0, 70.0, 0.0), mark)
    assert state.layout("H2") is plan.layouts[1]
    assert state.hide("H2") is plan.hides[1] and state.hide("H3") is plan.hides[2]
    assert shapely.equals(state.hide("H1").outline, plan.hides[0].outline)
    assert ROUGH == (224.0, 124.0)


def test_the_guide_names_every_command_and_every_field():
    """In the table of its page, in code marks; the example there can be read."""
    text = page("edit")
    rows = {word: row for row in re.findall(r"^\|.*\|$", text, re.MULTILINE) for word in re.findall(r"`(\w+)`", row)}
    for word, kind in (do.COMMANDS | do.STEPS).items():
        assert word in rows, word
        for field in fields(kind):
            assert f"`{field.name}`" in rows[word], f"{word}: {field.name}"
    (example,) = re.findall(r"```json\n(.*?)```", text, re.DOTALL)
    assert len(commands_from_text(example, "guide")) == 3
