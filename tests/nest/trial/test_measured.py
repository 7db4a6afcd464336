"""The table of a trial is read as it is written, and every fault in it is said at once."""

from dataclasses import replace

import pytest
from box_jobs import job, style
from tiny_plans import box_plan, slant_plan, vamp

from nest.errors import InputProblems
from nest.pieces.piece import Part
from nest.trial import read_trial, read_trial_outcomes

TABLE = """\
size,piece,toe_mm,left_mm,right_mm,back_mm,widening_percent,rejected,reason
38,1,6.5,3,2.5,-1.5,2.1,no,
38,2,,,,,,yes,pleats at the toe
39 1/2,1,5,,4,,,,
"""


def read(folder, text, one_job=None):
    """Read a table for the job of one style."""
    path = folder / "trial.csv"
    path.write_text(text, encoding="utf-8")
    return read_trial(path, one_job or job())


def test_values(tmp_path):
    """Blank cells are not measured, of two sides the lesser counts, and below 0 is a shortage."""
    (first, second, third), said = read(tmp_path, TABLE)
    assert first.trim_mm == ((Part.TOE, 6.5), (Part.SIDE, 2.5), (Part.BACK, -1.5))
    assert (first.style, first.size, first.piece, first.widening_percent) == ("box", "38", "1", 2.1)
    assert second.rejected and second.reason == "pleats at the toe" and second.trim_mm == ()
    assert third.size == "39.5" and third.trim(Part.SIDE) == 4.0 and third.trim(Part.BACK) is None
    assert not third.rejected and said == ()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("39 1/2,1", "38,1", "a piece of its own"),
        ("39 1/2", "nine", "size"),
        ("6.5", "six", "a measured figure"),
        ("6.5", "650", "from -100 to 100"),
        (",yes,pleats at the toe", ",yes,", "why the piece was rejected"),
        (",no,", ",perhaps,", "yes or no"),
        ("size,piece", "size,nr", "column 'piece'"),
        ("38,2", "38,", "a name or number"),
    ],
)
def test_faults(tmp_path, old, new, words):
    """Each fault is named with its place."""
    assert old in TABLE
    with pytest.raises(InputProblems, match=words):
        read(tmp_path, TABLE.replace(old, new, 1))


def test_all_faults_at_once(tmp_path):
    """Two faults, two sentences; no file, or no row, is one."""
    with pytest.raises(InputProblems) as caught:
        read(tmp_path, TABLE.replace("6.5", "six").replace(",no,", ",perhaps,"))
    assert len(caught.value.problems) == 2
    with pytest.raises(InputProblems, match="no such file"):
        read_trial(tmp_path / "none.csv", job())
    with pytest.raises(InputProblems, match="at least one piece"):
        read(tmp_path, TABLE.splitlines()[0] + "\n")


def test_style_must_be_told_among_several(tmp_path):
    """With two styles the column is needed; a wrong name has a remedy."""
    two = job(styles=(style(), style("case")))
    with pytest.raises(InputProblems, match="a style of the job file"):
        read(tmp_path, TABLE, two)
    text = "style,size,piece,toe_mm\ncase,38,1,5\nbax,38,1,5\n"
    with pytest.raises(InputProblems, match="did you mean 'box'"):
        read(tmp_path, text, two)
    assert read(tmp_path, text.replace("bax", "box"), two)[0][0].style == "case"


def test_a_row_without_figures_is_no_good_piece(tmp_path):
    """A piece of which nothing was noted is left out and said; one said to be good, or only rejected, counts."""
    text = "size,piece,toe_mm,rejected,reason\n38,1,5,,\n38,2,,,\n38,3,,no,\n38,4,,yes,torn\n"
    pieces, said = read(tmp_path, text)
    assert [(piece.piece, piece.rejected) for piece in pieces] == [("1", False), ("3", False), ("4", True)]
    assert len(said) == 1 and "line 3" in said[0] and "piece 2 of size 38 is left out" in said[0]
    with pytest.raises(InputProblems, match="rows without any"):
        read(tmp_path, "size,piece,toe_mm\n38,1,\n38,2,\n")


def test_rejects_are_unknown_where_the_table_says_nothing_of_them(tmp_path):
    """Without a word in the column of a style nothing is known; one word makes its blank cells mean no."""
    two = job(styles=(style(), style("case")))
    text = "style,size,piece,toe_mm,rejected,reason\nbox,38,1,5,,\ncase,38,1,5,,\ncase,38,2,5,x,torn\n"
    pieces, _ = read(tmp_path, text, two)
    assert [piece.rejected for piece in pieces] == [None, False, True]
    assert [piece.rejected for piece in read(tmp_path, "size,piece,toe_mm\n38,1,5\n")[0]] == [None]


def test_a_list_of_outcomes_serves_as_a_trial(tmp_path):
    """What failed was rejected for its reason, what is good was not; trim measured is the trial's."""
    path = tmp_path / "outcomes.csv"
    path.write_text("hide,piece,outcome,toe_mm\nH1,1,pleats,\nH1,2,good,7\nH1,3,,6\n", encoding="utf-8")
    (first, second, third), _ = read_trial_outcomes(path, job(), box_plan())
    assert (first.piece, first.rejected, first.reason, first.trim_mm) == ("H1-1", True, "pleats", ())
    assert second.rejected is False and second.trim(Part.TOE) == 7.0
    assert third.rejected is None and third.trim(Part.TOE) == 6.0
    with pytest.raises(InputProblems, match="a style of the job"):
        read_trial_outcomes(path, job(), slant_plan(layouts=box_plan().layouts, pieces=(
            replace(vamp(), style="slant"),)))


@pytest.mark.parametrize(("word", "meant"), [
    ("", False), ("no", False), ("N", False), ("0", False), ("false", False), ("yes", True), ("Y", True), ("1", True),
    ("True", True), ("x", True),
])
def test_every_word_for_yes_and_no(tmp_path, word, meant):
    """As people tick a list."""
    ((piece,), _) = read(tmp_path, f"size,piece,toe_mm,rejected,reason\n38,1,6,{word},pleats\n")
    assert bool(piece.rejected) is meant
