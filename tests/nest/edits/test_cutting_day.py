"""Ticked off at the table: cut, spoiled, sound again, given up half cut; and the lists that say so."""

import csv
from dataclasses import replace

import pytest
from edited_plans import after, lying, rules_broken, two_hides
from tiny_plans import box_plan, slant_plan

from nest.begun.lists import read_begun
from nest.begun.part import cut_part
from nest.begun.written import cut_list, spoiled_list
from nest.edits import EditProblem, State, changed, placed_anew
from nest.edits import commands as do
from nest.edits.plies import begun_with_plies
from nest.plan import Begun, CutHide, Side, Spoiled, UsedRoll
from nest.verify.verdict import Rule


def test_piece_by_piece_and_by_the_hide():
    """A hide counts as cut with its last piece; pieces that are cut stay as they lie, the others move."""
    state = after(two_hides(), do.CutOff("H1", (1, 3)))
    assert state.plan.begun == Begun()
    with pytest.raises(EditProblem, match="hide H1 is cut"):
        changed(state, do.MovePiece("H1", 1, 121.0, 70.0, 0.0))
    changed(state, do.MovePiece("H1", 2, 351.0, 70.0, 0.0))
    whole = after(state.plan, do.CutOff("H1", (1, 3)), do.CutOff("H1", (2, 4)))
    assert whole.plan.begun.cut_hides == ("H1",) and not rules_broken(whole.plan)
    assert after(two_hides(), do.CutOff("H1", measured_mm2=5.1e5)).plan.begun.hides == (CutHide("H1", 5.1e5),)
    with pytest.raises(EditProblem, match="is cut"):
        changed(whole, do.MovePiece("H1", 2, 351.0, 70.0, 0.0))
    back = changed(whole, do.NotCut("H1", (2,)))
    assert back.plan.begun == Begun() and len(back.cut) == 3
    assert changed(back, do.NotCut("H1")).cut == frozenset()


def test_a_spoiled_piece_is_needed_again_and_placed_again():
    """The judge misses it; placing again puts it on a hide that is still to cut, and he is content."""
    state = after(two_hides(), do.CutOff("H1"), do.Spoil("H1", (2, 2)))
    assert state.plan.begun.spoiled == (Spoiled("box", "38", Side.EITHER, 1),)
    assert rules_broken(state.plan) == {Rule.SHORT}
    again = changed(state, placed_anew(state, do.PlaceAgain(passes=3)))
    assert not rules_broken(again.plan)
    assert lying(again, "H1") == lying(state, "H1")
    sound = changed(state, do.Sound("H1", (2,)))
    assert sound.plan.begun.spoiled == () and not rules_broken(sound.plan)


def test_feet_and_reinforcements_are_told_apart():
    """A left and a right vamp; one whose reinforcement was kept."""
    state = after(slant_plan(), do.CutOff("H1"), do.Spoil("H1", (1,)), do.Spoil("H1", (2,), backed=False))
    assert set(state.plan.begun.spoiled) == {
        Spoiled("slant", "38", Side.LEFT, 1), Spoiled("slant", "38", Side.RIGHT, 1, False)}


def test_what_is_spoiled_before_the_hide_is_done_counts_with_its_last_piece():
    """The lists know whole hides alone; counts of an earlier plan stay."""
    plan = replace(two_hides(), begun=Begun(hides=(CutHide("H2"),), spoiled=(Spoiled("box", "38", Side.EITHER, 1),)))
    state = after(plan, do.CutOff("H1", (1,)), do.Spoil("H1", (1,)))
    assert state.plan.begun == plan.begun
    state = changed(state, do.CutOff("H1"))
    assert state.plan.begun.spoiled == (Spoiled("box", "38", Side.EITHER, 2),)
    assert changed(state, do.NotCut("H1", (3,))).plan.begun.spoiled == plan.begun.spoiled


def test_a_hide_that_comes_back_half_cut():
    """Banned: what is cut of it stays and it counts as cut; the rest is off it, and the order is short of it."""
    state = after(two_hides(), do.CutOff("H1", (1, 2)), do.BanHide("H1"))
    assert state.plan.begun.cut_hides == ("H1",) and state.plan.begun.withdrawn == ()
    assert set(lying(state, "H1")) == {1, 2} and rules_broken(state.plan) == {Rule.SHORT}


def test_placing_again_leaves_what_is_cut():
    """The cut pieces of a hide stay under their numbers."""
    state = after(two_hides(), do.CutOff("H1", (1, 4)))
    new = changed(state, placed_anew(state, do.PlaceAgain(("H1",), passes=3)))
    assert {number: lying(new, "H1")[number] for number in (1, 4)} == {
        number: lying(state, "H1")[number] for number in (1, 4)}
    assert new.cut == state.cut


@pytest.mark.parametrize(("command", "words"), [
    (do.CutOff("H3"), "nothing lies on hide H3"), (do.CutOff("H1", (9,)), "no piece no. 9"),
    (do.CutOff("H9"), "no hide named"),
    (do.CutOff("H1", measured_mm2=1e5), "cannot be its area"),
    (do.CutOff("H1", measured_mm2=float("nan")), "cannot be its"),
    (do.CutOff("H1", (1,), 5e5), "that of the whole hide"), (do.NotCut("H1"), "ticked off as cut at this desk"),
    (do.Spoil("H1", (1,)), "was not ticked off"), (do.Spoil("H1", ()), "by their numbers"),
    (do.Sound("H1", (1,)), "was not"),
])
def test_what_cannot_be_ticked_is_said(command, words):
    """One sentence, and nothing is changed."""
    with pytest.raises(EditProblem, match=words):
        after(two_hides(), command)


def test_ticks_of_an_earlier_plan_are_not_taken_back():
    """Nor those under a piece that is spoiled; a banned hide is not ticked off."""
    plan = replace(two_hides(), begun=Begun(hides=(CutHide("H1"),)))
    with pytest.raises(EditProblem, match="at this desk"):
        after(plan, do.NotCut("H1", (1,)))
    with pytest.raises(EditProblem, match="at this desk"):
        after(plan, do.Spoil("H1", (1,)))
    with pytest.raises(EditProblem, match="is spoiled"):
        after(two_hides(), do.CutOff("H1"), do.Spoil("H1", (1,)), do.NotCut("H1"))
    with pytest.raises(EditProblem, match="not to be used"):
        after(two_hides(), do.BanHide("H1"), do.CutOff("H1"))
    with pytest.raises(EditProblem, match="is cut"):
        after(two_hides(), do.CutOff("H1"), do.TakeOut("H1", 1))
    with pytest.raises(EditProblem, match="is cut"):
        after(two_hides(), do.CutOff("H1"), do.PutIn("H1", "V38", 500.0, 400.0, 0.0))


def write_list(path, columns, rows):
    """A list as CSV."""
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([columns, *rows])
    return path


def test_the_lists_of_the_day_say_the_same(tmp_path):
    """Written and read against the plan of the morning they give what the desk has."""
    state = after(slant_plan(), do.CutOff("H1", measured_mm2=4.987654321e5), do.Spoil("H1", (1,)),
                  do.Spoil("H1", (2,), backed=False))
    cut, spoiled = cut_list(state.plan.begun), spoiled_list(state.plan.begun)
    begun, _ = read_begun(slant_plan(), write_list(tmp_path / "cut.csv", *cut),
                          write_list(tmp_path / "spoiled.csv", *spoiled))
    assert begun.hides[0].measured_mm2 == pytest.approx(4.987654321e5)
    assert replace(begun, hides=state.plan.begun.hides) == state.plan.begun
    withdrawn = after(two_hides(), do.BanHide("H2"), do.CutOff("H1")).plan
    begun, _ = read_begun(two_hides(), write_list(tmp_path / "cut-2.csv", *cut_list(withdrawn.begun)))
    assert begun == withdrawn.begun
    rolls = Begun(rolls=(UsedRoll("knit", 2350.0), UsedRoll("felt", None, withdrawn=True)))
    assert cut_list(rolls)[1] == (("knit", "cut", "2.35", "m"), ("felt", "withdrawn", "", ""))


def test_a_state_begins_without_ticks():
    """What an earlier plan knows is in its own record."""
    assert State(two_hides()).cut == frozenset() == State(two_hides()).spoiled


def lays_of(*plies):
    """A roll with lays of this many plies, each ply 409 mm and 40 mm of ends."""
    (lay,) = box_plan().lays
    return replace(box_plan(), lays=tuple(replace(lay, lay_id=f"L{n}", plies=many) for n, many in enumerate(plies, 1)))


def test_lays_are_ticked_off_in_their_sequence_ply_by_ply():
    """A lay counts with its last ply; the list says what is off the roll to the ply, and reads back as that."""
    plan = lays_of(2, 3)
    state = after(plan, do.CutLay("L1"), do.CutLay("L2", 1))
    assert state.plan.begun == Begun(rolls=(UsedRoll("knit", 2 * 449.0),), lays=("L1",))
    listed = begun_with_plies(state)
    assert listed.rolls == (UsedRoll("knit", 3 * 449.0),) and not rules_broken(state.plan) - {Rule.OVER}
    assert [(one.lay_id, one.plies) for one in cut_part(plan, listed).lays] == [("L1", 2), ("L2", 1)]
    whole = after(state.plan, do.CutLay("L2"))
    assert whole.plan.begun == Begun(rolls=(UsedRoll("knit", 5 * 449.0),), lays=("L1", "L2"))
    back = changed(changed(state, do.CutLay("L2", 0)), do.CutLay("L1", 0))
    assert back.plan.begun == Begun() and back.plies == frozenset()


def test_plies_of_the_list_are_read_again(tmp_path):
    """Against the plan of the morning; what was measured off the roll before stays off it."""
    state = after(lays_of(2, 3), do.CutLay("L1"), do.CutLay("L2", 2))
    path = write_list(tmp_path / "cut.csv", *cut_list(begun_with_plies(state)))
    begun, _ = read_begun(lays_of(2, 3), path)
    assert begun.lays == ("L1", "L2") and begun.rolls[0].length_mm == pytest.approx(4 * 449.0)
    wasted = replace(lays_of(2, 3), begun=Begun(rolls=(UsedRoll("knit", 1000.0),), lays=("L1",)))
    assert after(wasted, do.CutLay("L2")).plan.begun.rolls == (UsedRoll("knit", 1000.0 + 3 * 449.0),)
    assert after(wasted, do.CutLay("L2"), do.CutLay("L2", 0)).plan.begun == wasted.begun


@pytest.mark.parametrize(("commands", "words"), [
    ([do.CutLay("L9")], "no lay named 'L9'; its lays: L1, L2"), ([do.CutLay("L1", 3)], "from 0 to 2"),
    ([do.CutLay("L1", -1)], "from 0 to 2"), ([do.CutLay("L2", 1)], "lay L1 lies before lay L2 on roll knit"),
    ([do.CutLay("L1", 1), do.CutLay("L2", 1)], "lay L1 lies before"),
    ([do.CutLay("L1"), do.CutLay("L2", 1), do.CutLay("L1", 1)], "lay L2 lies behind lay L1"),
])
def test_lays_that_cannot_be_ticked(commands, words):
    """One sentence, and nothing is changed."""
    with pytest.raises(EditProblem, match=words):
        after(lays_of(2, 3), *commands)


def test_lays_of_an_earlier_plan_and_of_a_withdrawn_roll_stay():
    """They were cut, or are not to be cut, whatever is ticked here."""
    before = replace(lays_of(2, 3), begun=Begun(rolls=(UsedRoll("knit", 898.0),), lays=("L1",)))
    with pytest.raises(EditProblem, match="was cut before the plan came to this desk"):
        after(before, do.CutLay("L1", 0))
    gone = replace(lays_of(2, 3), begun=Begun(rolls=(UsedRoll("knit", 0.0, withdrawn=True),)))
    with pytest.raises(EditProblem, match="roll knit is withdrawn"):
        after(gone, do.CutLay("L1"))
