"""Hides placed again by hand: what is held stays, nothing is worse, and what has no room goes elsewhere."""

import json
from dataclasses import replace

import pytest
from edited_plans import after, lying, rules_broken, two_hides
from tiny_plans import hide, in_pairs, rectangle, slant_plan, spots, vamp

from geometry.polygon import area
from nest.cli import main
from nest.edits import EditProblem, History, Journal, State, anew, changed, placed_anew, played
from nest.edits.commands import BanHide, Hold, MarkFlaw, PlaceAgain, TakeOut
from nest.plan import Begun, CutHide, CutLine, HideLayout
from nest.planfile import read_plan, write_plan
from nest.planning.lastroom import Completed
from nest.planning.offer import see_hide
from nest.planning.run import Engine
from nest.room.hide import HideLeft
from nest.verify import verify
from nest.verify.verdict import Rule


def placed(plan):
    """Rough area of all that lies on hides, mm²."""
    rough = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
    return sum(rough[one.piece_id] for layout in plan.layouts for one in layout.placed)


def again(state, *hides, passes=4):
    """The state after these hides are placed again."""
    return changed(state, placed_anew(state, PlaceAgain(hides, passes=passes)))


def test_a_scar_under_a_piece_sends_it_elsewhere_and_the_rest_of_a_hide_stays_as_good():
    """The scar of the morning: two pieces are held, the hide is placed again, the order is met."""
    scar = MarkFlaw("H1", "scar", 2, ((120.0, 70.0),), width_mm=4.0, tears=True)
    state = after(two_hides(), scar, Hold("H1", (3, 4)))
    assert Rule.NET_FLAW in rules_broken(state.plan)
    new = again(state, "H1")
    assert not rules_broken(new.plan)
    for number in (3, 4):
        assert lying(new, "H1")[number] == lying(state, "H1")[number]
    assert placed(new.plan) == placed(state.plan)


def test_pieces_taken_out_come_back():
    """What is short is placed again with the rest, on the hide or on another that is open."""
    state = after(two_hides(), TakeOut("H1", 1), TakeOut("H1", 2))
    assert Rule.SHORT in rules_broken(state.plan)
    new = again(state, "H1")
    assert not rules_broken(new.plan)
    assert new.layout("H2") == state.layout("H2") or placed(new.plan) == placed(two_hides())


def test_what_has_no_room_on_its_hide_goes_to_another():
    """Half of a hide is spoiled; the other open hide takes what no longer fits."""
    spoilt = MarkFlaw("H1", "dung", 3, ((-5.0, -5.0), (1005.0, -5.0), (1005.0, 505.0), (-5.0, 505.0)), loop=True)
    state = after(two_hides(), spoilt)
    new = again(state, "H1")
    assert not new.layout("H1").placed
    assert len(new.layout("H2").placed) == 8
    assert not rules_broken(new.plan)


def test_a_banned_hide_is_emptied_onto_the_others():
    """All hides not cut and not held are placed again where none is named."""
    state = after(two_hides(), BanHide("H1"))
    new = again(state)
    assert not rules_broken(new.plan) and len(new.layout("H2").placed) == 8


def test_the_partner_of_a_held_piece_comes_back_to_its_hide():
    """A pair must come from one hide: a left vamp is held, its right one was hit, and another lies beside it then."""
    plan = slant_plan()
    right = plan.layouts[0].placed[1].pose
    state = after(plan, Hold("H1", (1,)), MarkFlaw("H1", "scar", 1, ((right.x, right.y),), width_mm=4.0, tears=True))
    new = again(state, "H1")
    assert not rules_broken(new.plan)
    assert lying(new, "H1")[1] == lying(state, "H1")[1]


def test_equal_searches_give_equal_layouts_and_the_journal_needs_none(tmp_path):
    """By passes alone; what was found is kept, so that opening the journal takes no search."""
    state = State(two_hides())
    command = PlaceAgain(("H1", "H2"), passes=3)
    first, second = placed_anew(state, command), placed_anew(state, command)
    assert first == second
    path = tmp_path / "edits.log"
    with Journal(path, state.plan) as journal:
        journal.add(*played(journal.history, command, lambda state, command: first))
        kept = journal.history.state
    with Journal(path, state.plan) as journal:
        assert journal.history.state == kept


def test_a_search_that_is_cancelled_keeps_what_was_there():
    """Stopped before it begins, it gives back the layout as it was."""
    state = State(two_hides())
    new = changed(state, placed_anew(state, PlaceAgain(("H1",), seconds=60.0), cancelled=lambda: True))
    assert sorted(lying(new, "H1").values(), key=str) == sorted(lying(state, "H1").values(), key=str)
    assert not rules_broken(new.plan)


@pytest.mark.parametrize(("command", "state", "words"), [
    (PlaceAgain(("H1",)), State(two_hides()), "seconds or passes"),
    (PlaceAgain(("H1",), seconds=0.0), State(two_hides()), "up to 3600"),
    (PlaceAgain(("H1",), passes=0), State(two_hides()), "at least one pass"),
    (PlaceAgain(("H9",), passes=1), State(two_hides()), "no hide named H9"),
    (PlaceAgain(("H1",), passes=1), State(replace(two_hides(), begun=Begun(hides=(CutHide("H1"),)))), "is cut"),
    (PlaceAgain(passes=1), State(two_hides(), held_hides=frozenset(("H1", "H2"))), "cut or held"),
])
def test_searches_that_cannot_be_made(command, state, words):
    """One sentence, before any time is spent."""
    with pytest.raises(EditProblem, match=words):
        placed_anew(state, command)


def test_a_layout_with_gaps_is_placed_better():
    """A hide with half of its pieces far apart takes all that is short when it is placed again: never less."""
    plan = replace(
        two_hides(), hides=(hide("H1"),), order=(CutLine("box", "38", 6, 6),),
        layouts=(HideLayout("H1", in_pairs(["V38"] * 4, spots(4, pitch=(230.0, 190.0)))),),
    )
    new = again(State(plan), "H1", passes=30)
    assert placed(new.plan) == 3.0 * placed(plan) or not rules_broken(new.plan) - {Rule.SHORT}
    assert placed(new.plan) > 1.9 * placed(plan)


def test_edit_from_the_command_line(tmp_path, capsys):
    """The same commands from a file: a flaw, two held, the hide placed again, a step undone; written and judged."""
    write_plan(two_hides(), tmp_path / "plan.json")
    script = [
        {"do": "mark_flaw", "hide": "H1", "kind": "scar", "severity": 2, "points": [[120, 70]], "width_mm": 4},
        {"do": "hold", "hide": "H1", "numbers": [3, 4]}, {"do": "take_out", "hide": "H2", "number": 1}, {"do": "undo"},
        {"do": "place_again", "hides": ["H1"], "passes": 4},
    ]
    (tmp_path / "scar.json").write_text(json.dumps(script))
    words = ["edit", str(tmp_path / "plan.json"), str(tmp_path / "scar.json"), "-o", str(tmp_path / "out")]
    assert main([*words, "--no-figures", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["commands"] == 5
    plan = read_plan(tmp_path / "out" / "plan.json")
    assert verify(plan).ok and verify(plan).order_met
    assert plan.hides[0].flaws[0].kind == "scar"
    assert History.of(State(plan)).state.layout("H1").placed


@pytest.mark.parametrize(("text", "words"), [
    ('[{"do": "take_out", "hide": "H1", "number": 9}]', "scar.json, command 1: hide H1 holds no piece no. 9"),
    ('[{"do": "fly"}]', "scar.json, command 1: expected a command"),
])
def test_a_script_that_cannot_be_done_writes_nothing(tmp_path, capsys, text, words):
    """Exit code 2 and one sentence; the folder is not there."""
    write_plan(two_hides(), tmp_path / "plan.json")
    (tmp_path / "scar.json").write_text(text)
    words_given = ["edit", str(tmp_path / "plan.json"), str(tmp_path / "scar.json"), "-o", str(tmp_path / "out")]
    assert main(words_given) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def many_sizes():
    """Two hides with two pairs of 38 each; of eleven more sizes two pairs each are short."""
    sizes = [str(size) for size in range(38, 50)]
    made = [vamp(f"V{size}", size=size, net=rectangle(200.0 + 3.0 * n, 100.0)) for n, size in enumerate(sizes)]
    lines = tuple(CutLine("box", size, 4 if size == "38" else 2, 4 if size == "38" else 2) for size in sizes)
    return replace(two_hides(), pieces=tuple(made), order=lines)


@pytest.mark.parametrize(("limit", "most"), [({"seconds": 0.3}, 4), ({"seconds": 600.0}, 10), ({"passes": 3}, 10)])
def test_a_search_is_offered_no_more_kinds_than_it_has_time_for(monkeypatch, limit, most):
    """Tables of a kind take time: all that lies on the hide is on offer, and what is short as far as that allows, the
    largest first. Only the hide that is searched is seen as a search needs it.
    """
    offered, seen = [], []
    monkeypatch.setattr(anew, "solve_hide", lambda task, at, limits, *rest, **how: offered.append(
        {task.wants[w].size: n for w, n in limits.items()}) or [])
    monkeypatch.setattr(anew, "see_hide", lambda hide, *rest, **how: seen.append(hide.hide_id) or see_hide(
        hide, *rest, **how))
    monkeypatch.setattr(anew, "complete_exactly", lambda task, placed, *rest, **how: Completed(placed, (), True, True))
    found = placed_anew(State(many_sizes()), PlaceAgain(("H1",), **limit), engine=Engine())
    assert len(offered[0]) == most and {"38", "49", "48"} <= set(offered[0]) and offered[0]["38"] == 2
    assert seen == ["H1"] and len(found.layouts[0].placed) == 4


def test_no_hide_is_begun_when_the_time_is_up(monkeypatch):
    """Of two hides that are searched the second stays as it is where the first has used the time of both."""
    begun = []

    def slow(task, at, *rest, **how):
        begun.append(at)
        while task.run.elapsed < 0.2:
            pass
        return []

    monkeypatch.setattr(anew, "solve_hide", slow)
    found = placed_anew(State(many_sizes()), PlaceAgain(("H1", "H2"), seconds=0.2), engine=Engine())
    assert len(begun) == 1 and [len(layout.placed) for layout in found.layouts] == [4, 4]


def test_placing_again_ends_in_time_however_much_is_short(monkeypatch):
    """With the order many times what the hides hold it takes no longer: looking for room ends with its share."""
    looks, looked = [], HideLeft.room_for
    monkeypatch.setattr(anew, "solve_hide", lambda *rest, **how: [])
    monkeypatch.setattr(HideLeft, "room_for", lambda room, wanted, **how: looks.append(how["stop"]()) or looked(
        room, wanted, **how))
    placed_anew(State(many_sizes()), PlaceAgain(("H1",), seconds=0.05), engine=Engine())
    assert sum(looks) <= 1  # none is begun when the time is up, but for the moment between two glances at the clock
