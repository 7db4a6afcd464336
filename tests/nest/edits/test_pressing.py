"""Outcomes ticked off at the desk: kept by piece, spoiling what failed, and read back as a list like any other."""

import json

import pytest
from edited_plans import after, two_hides

from nest.edits import EditProblem, History, changed, played
from nest.edits.commands import CutOff, NotCut, Pressed, Sound, Spoil, Undo, command_data, command_of


def lost(state) -> set:
    """Numbers that are spoiled."""
    return {number for _, number, _ in state.spoiled}


def test_what_failed_is_spoiled_and_good_again_is_not():
    """A reason spoils, another word takes that back; empty leaves nothing known."""
    state = after(two_hides(), CutOff("H1"), Pressed("H1", (1, 2), "pleats"), Pressed("H1", (3,), "good", toe_mm=9.5))
    assert lost(state) == {1, 2} and len(state.pressed) == 3
    assert sum(one.count for one in state.plan.begun.spoiled) == 2
    state = changed(state, Pressed("H1", (1,), "good"))
    assert lost(state) == {2}
    state = changed(state, Pressed("H1", (2,)))
    assert lost(state) == set() and {one.numbers[0] for one in state.pressed} == {1, 3}


def test_what_is_said_last_counts():
    """A tick for spoiled or sound takes the place of an outcome; what was only measured may still be spoiled."""
    state = after(two_hides(), CutOff("H1"), Pressed("H1", (1,), "good"), Spoil("H1", (1,)))
    assert lost(state) == {1} and not state.pressed
    state = changed(changed(state, Pressed("H1", (1,), "crack")), Sound("H1", (1,)))
    assert lost(state) == set() and not state.pressed
    state = changed(changed(state, Spoil("H1", (2,))), Pressed("H1", (2,), toe_mm=4.0))
    assert lost(state) == {2}


@pytest.mark.parametrize(("command", "said"), [
    (Pressed("H2", (1,), "good"), "was not ticked off as cut"), (Pressed("H1", (), "good"), "by their numbers"),
    (Pressed("H1", (1,), "burnt"), "one of good, pleats"), (Pressed("H1", (1, 2), "good", toe_mm=3.0), "of one piece"),
    (Pressed("H1", (1,), toe_mm=float("nan")), "from -100 to 100"),
    (Pressed("H1", (1,), "good", day="2.3."), "2026-03-31"),
    (NotCut("H1", (4,)), "has come out of the press"),
])
def test_what_cannot_be_is_refused(command, said):
    """One sentence, and the state stays."""
    state = after(two_hides(), CutOff("H1"), Pressed("H1", (4,), "good"))
    with pytest.raises(EditProblem, match=said):
        changed(state, command)


def test_it_is_kept_and_undone_like_any_step():
    """The command goes through its file form, and undo takes it back."""
    command = Pressed("H1", (1,), "marks", 9.5, None, -1.0, "2026-03-02", False)
    assert command_of(json.loads(json.dumps(command_data(command))), "step") == command
    history, _ = played(History.of(after(two_hides(), CutOff("H1"))), command, None)
    assert lost(history.state) == {1}
    assert lost(played(history, Undo(), None)[0].state) == set()
