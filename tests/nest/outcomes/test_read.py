"""Lists of outcomes are read against their plan, and one list serves all that asks. All data are invented."""

from dataclasses import replace

import openpyxl
import pytest
from tiny_plans import box_plan, hide, in_pairs, slant_plan, spots, vamp

from geometry.pose import Pose
from nest.begun.lists import read_begun
from nest.errors import InputProblems
from nest.outcomes import Outcome, Reason, is_outcome_list, read_outcomes, spoiled_in
from nest.pieces.piece import Part
from nest.plan import HideLayout, Placed, Side, Spoiled
from nest.report.outcome_list import HEADER, write_outcome_list


def listed(folder, text, name="outcomes.csv"):
    """A file of this text."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def two_hides():
    """Two pairs on each of two hides."""
    second = HideLayout("H2", in_pairs(["V38"] * 4, spots(4), first_pair=3))
    return box_plan(hides=(hide("H1"), hide("H2")), layouts=(*box_plan().layouts, second))


def test_rows_are_read_with_what_was_measured(tmp_path):
    """Reasons in any case; of two sides the lesser; rows in which nothing is known are left out."""
    path = listed(tmp_path, (
        "Hide,Piece,Outcome,toe_mm,left_mm,right_mm,date,reinforcement,remark\n"
        "H1,2,Pleats,,,,2027-03-02,kept,by the toe\nH1,1,good,9.5,4,3.5,2027-03-02,,\nH1,3,,,,,,,\nH1,4,,8,,,,,\n"
    ))
    pleats, good, measured = read_outcomes(box_plan(), path)
    assert (pleats.number, pleats.reason, pleats.backed, pleats.day) == (2, Reason.PLEATS, False, "2027-03-02")
    assert pleats.pose == box_plan().layouts[0].placed[1].pose and pleats.pair == 1
    assert good.trim_mm == ((Part.TOE, 9.5), (Part.SIDE, 3.5)) and good.failed is False
    assert measured.failed is None and measured.trim_mm == ((Part.TOE, 8.0),)


def test_others_of_a_hide_are_good(tmp_path):
    """One row stands for every piece of a hide without a row of its own; a row left empty stays unknown."""
    path = listed(tmp_path, "hide,piece,outcome\nH2,others,good\nH2,3,crack\nH2,4,\nH1,1,good\n")
    found = read_outcomes(two_hides(), path)
    assert sorted((one.hide_id, one.number, str(one.reason)) for one in found) == [
        ("H1", 1, "good"), ("H2", 1, "good"), ("H2", 2, "good"), ("H2", 3, "crack")]
    assert all(one.backed and one.trim_mm == () and one.widening_percent is None and one.day == "" for one in found)


@pytest.mark.parametrize(("column", "most"), [("toe_mm", 100), ("left_mm", 100), ("widening_percent", 30)])
def test_figures_go_to_their_limits(tmp_path, column, most):
    """Trim of 100 mm and a widening of 30 % are read, also below zero; a tenth more is refused with both."""
    plan = box_plan()
    path = listed(tmp_path, f"hide,piece,outcome,{column}\nH1,1,,{most}\nH1,2,,{-most}\n")
    read = read_outcomes(plan, path)
    assert [one.widening_percent or one.trim_mm[0][1] for one in read] == [most, -most]
    for value in (f"{most}.1", f"-{most}.1"):
        path = listed(tmp_path, f"hide,piece,outcome,{column}\nH1,1,good,{value}\n")
        with pytest.raises(InputProblems, match=rf"line 2, {column}: expected a figure from -{most} to {most}, found"):
            read_outcomes(plan, path)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("H9,1,good,", "outcomes.csv, line 2, hide: expected a hide that the plan cuts something from, found 'H9'"),
        ("H1,5,good,", "line 2, piece: expected a number of hide H1, from 1 to 4, found 5"),
        ("H1,0,good,", "line 2, piece: expected the number of a piece from 1"),
        ("H1,1,good,\nH1,1,crack,", "line 3, piece: expected each piece once, found piece 1 of hide H1 again"),
        ("H1,others,good,\nH1,others,,", "line 3, piece: expected others of a hide once"),
        ("H1,others,crack,", "line 2, outcome: expected good for others, found 'crack'"),
        ("H1,others,good,38", "line 2, size: expected an empty cell for others, found '38'"),
        ("H1,1,bad,", "line 2, outcome: expected good, pleats, marks, bonding, crack, short or other, found 'bad'"),
        ("H1,1,good,39", "line 2, size: expected 38, as the plan has piece 1 of hide H1, found '39'"),
        ("", "expected at least one row, found none"),
    ],
)
def test_bad_rows_are_refused_with_one_sentence(tmp_path, rows, words):
    """Unknown and doubled pieces, unknown reasons, and a list of another plan: file, line, what is wrong."""
    with pytest.raises(InputProblems) as refused:
        read_outcomes(box_plan(), listed(tmp_path, f"hide,piece,outcome,size\n{rows}\n"))
    assert len(refused.value.problems) == 1 and words in str(refused.value)


def test_a_piece_that_was_cut_again_has_its_last_place(tmp_path):
    """It keeps its number on its hide; on another hide it has a number of its own there."""
    again = box_plan(layouts=(HideLayout("H1", (Placed("V38", Pose(500.0, 400.0, 5.0)),), (2,)),
                              HideLayout("H2", (Placed("V38", Pose(800.0, 400.0, 0.0)),), (9,))))
    path = listed(tmp_path, "hide,piece,outcome\nH1,2,marks\nH2,9,good\n")
    marks, good = read_outcomes(two_hides(), path, [again])
    assert marks.pose == Pose(500.0, 400.0, 5.0) and marks.pair == 1 and good.number == 9


def test_what_failed_is_cut_again_by_the_same_list(tmp_path):
    """Where a list of what was spoiled is asked for, a list of outcomes serves; both of a pair are lost as a pair."""
    path = listed(tmp_path, "hide,piece,outcome\nH1,1,pleats\nH1,2,marks\nH1,3,short\nH1,4,good\n")
    cut = listed(tmp_path, "material,state\nH1,cut\n", "cut.csv")
    assert is_outcome_list(path) and not is_outcome_list(cut)
    assert is_outcome_list(listed(tmp_path, "hide,piece\n", "bare.csv"))
    assert not is_outcome_list(listed(tmp_path, "hide,outcome\n", "half.csv"))
    begun, _ = read_begun(two_hides(), cut, path)
    assert begun.spoiled == (Spoiled("box", "38", Side.PAIR, 1), Spoiled("box", "38", Side.EITHER, 1))
    left = spoiled_in(read_outcomes(slant_plan(), listed(tmp_path, "hide,piece,outcome\nH1,1,crack\n")))
    assert left == (Spoiled("slant", "38", Side.LEFT, 1),)


def test_outcomes_of_a_hide_that_is_not_cut_are_refused(tmp_path):
    """A piece cannot be pressed before it is cut: the list of what was cut is wrong, or this one."""
    path = listed(tmp_path, "hide,piece,outcome\nH2,1,pleats\n")
    cut = listed(tmp_path, "material,state\nH1,cut\n", "cut.csv")
    with pytest.raises(InputProblems, match=r"outcomes\.csv, hide: expected hides that are cut, found H2, which is no"):
        read_begun(two_hides(), cut, path)


@pytest.mark.parametrize("name", ["list.xlsx", "list.csv"])
def test_an_empty_list_is_written_and_read_back(tmp_path, name):
    """Every vamp has a row; nothing is known of any until a cell is filled, and the workbook offers the reasons."""
    path = tmp_path / name
    write_outcome_list(slant_plan(), path)
    assert read_outcomes(slant_plan(), path) == ()
    if name.endswith("xlsx"):
        book = openpyxl.load_workbook(path)
        sheet = book.active
        assert sheet.data_validations.dataValidation[0].formula1.strip('"').split(",") == list(Reason)
        sheet.cell(3, HEADER.index("outcome") + 1).value = "bonding"
        book.save(path)
        (one,) = read_outcomes(slant_plan(), path)
        assert (one.number, one.piece.piece_id, one.reason) == (2, "R38", Reason.BONDING)
        other = slant_plan(pieces=(replace(vamp("L38", "slant"), size="40"), *slant_plan().pieces[1:]))
        with pytest.raises(InputProblems, match="expected 40, as the plan has piece 1 of hide H1"):
            read_outcomes(other, path)


def test_a_vamp_that_is_lost_takes_its_reinforcement_with_it():
    """Unless it is said that it was kept; nothing else is known of a piece of which nothing is said."""
    piece = box_plan().pieces[0]
    one = Outcome("H1", 1, piece, Pose(0.0, 0.0, 0.0), 0, Reason.CRACK)
    assert (one.backed, one.trim_mm, one.widening_percent, one.day) == (True, (), None, "")
    assert spoiled_in([one]) == (Spoiled("box", "38", Side.EITHER, 1, True),)


def test_the_side_in_a_list_is_that_of_the_plan(tmp_path):
    """Left in any case for a left vamp; right is refused; a vamp for either foot has whatever side the list gives."""
    def read(plan, side):
        return read_outcomes(plan, listed(tmp_path, f"hide,piece,outcome,side\nH1,1,good,{side}\n"))

    assert [len(read(slant_plan(), side)) for side in ("left", "LEFT", "")] == [1, 1, 1]
    assert [len(read(box_plan(), side)) for side in ("left", "right", "either", "")] == [1, 1, 1, 1]
    with pytest.raises(InputProblems, match=r"line 2, side: expected left, as the plan has piece 1 of hide H1, found "):
        read(slant_plan(), "right")
