"""The record of trim: nothing is doubled, nothing is made up, and what is wrong with it is said."""

from dataclasses import replace

import pytest
from box_jobs import job
from hypothesis import given
from hypothesis import strategies as st
from tiny_plans import box_plan

from nest.drift import Measured, drift_of, of_outcomes, of_trial, read_record, with_more
from nest.errors import InputProblems, PlanProblem
from nest.outcomes import read_outcomes
from nest.pieces.piece import Part
from nest.report.drift import write_record
from nest.trial import TriedPiece

ONE = Measured("2026-03-02", "boxes", "ab12", "box", "38", "left", Part.TOE, "calf", "lot 1", "H1", "1", 12.0, 9.5)


def test_a_record_reads_back_as_it_was_written(tmp_path):
    """Every field comes back, also a name that a spreadsheet would take for a formula."""
    rows = (ONE, replace(ONE, part=Part.BACK, style="=box", trim_mm=-0.5, lot=""))
    write_record(rows, tmp_path / "trim.csv")
    assert read_record(tmp_path / "trim.csv") == rows


def test_outcomes_go_in_once(tmp_path):
    """A list read twice adds nothing; the day is the list's, or the one stated, and never made up."""
    plan = box_plan()
    listed = tmp_path / "list.csv"
    rows = "H1,1,good,9.5,8,2026-03-02\nH1,2,,7,,\n"
    listed.write_text(f"hide,piece,outcome,toe_mm,side_mm,date\n{rows}", encoding="utf-8")
    outcomes = read_outcomes(plan, listed)
    with pytest.raises(PlanProblem, match="piece 2 of hide H1: its day of pressing is not known"):
        of_outcomes(plan, outcomes)
    rows = of_outcomes(plan, outcomes, "2026-03-03")
    assert [(one.day, str(one.part), one.trim_mm, one.allowance_mm) for one in rows] == [
        ("2026-03-02", "toe", 9.5, 12.0), ("2026-03-02", "side", 8.0, 12.0), ("2026-03-03", "toe", 7.0, 12.0)]
    whole, added, again = with_more((), rows)
    assert (added, again) == (3, 0) and with_more(whole, rows) == (whole, 0, 3)
    with pytest.raises(PlanProblem, match=r"the record has 9.5 mm at the toe of it .*, the list now says 95 mm"):
        with_more(whole, [replace(rows[0], trim_mm=95.0)])


def test_a_piece_is_the_same_in_the_plan_of_the_rest():
    """A plan made anew beside a hide that is cut names the hide's pieces as the first plan did."""
    plan = box_plan()
    other = replace(plan, warnings=("planned again",), layouts=plan.layouts[:1])
    listed = [one for one in _all_good(plan)]
    assert [one.id for one in of_outcomes(plan, listed, "2026-03-02")] == [
        one.id for one in of_outcomes(other, listed, "2026-03-02")]


def _all_good(plan):
    from nest.outcomes import Outcome, Reason

    pieces = {piece.piece_id: piece for piece in plan.pieces}
    for layout in plan.layouts[:1]:
        for i, placed in enumerate(layout.placed):
            yield Outcome(layout.hide_id, layout.number(i), pieces[placed.piece_id], placed.pose, placed.pair,
                          Reason.GOOD, ((Part.TOE, 9.0),))


def test_a_trial_goes_in_once():
    """Two rows of a trial are of one piece where day, style, size and name are the same."""
    tried = TriedPiece("box", "38", "a", ((Part.TOE, 9.0),), None, None, "", "2026-03-02", "lot 7")
    rows = of_trial(job(), [tried, replace(tried, day="2026-03-09")])
    assert len({one.id for one in rows}) == 2 and rows[0].lot == "lot 7" and rows[0].allowance_mm == 12.0
    assert with_more(rows, of_trial(job(), [tried]))[1:] == (0, 1)


@pytest.mark.parametrize(("column", "value", "said"), [
    ("date", "02/03/2026", "write it as 2026-03-31"), ("trim_mm", "a lot", "write a plain number"),
    ("trim_mm", "950", "from -100 to 100"), ("part", "heel", "toe, side or back"), ("side", "both", "left, right"),
    ("id", "", "a name"),
])
def test_what_is_wrong_with_a_record_is_said(tmp_path, column, value, said):
    """File, line and column, what was expected, and the remedy."""
    write_record((ONE,), tmp_path / "trim.csv")
    header, line = (tmp_path / "trim.csv").read_text(encoding="utf-8").splitlines()
    cells = line.split(",")
    cells[header.split(",").index(column)] = value
    (tmp_path / "trim.csv").write_text(f"{header}\n{','.join(cells)}\n", encoding="utf-8")
    with pytest.raises(InputProblems, match=rf"trim.csv, line 2, {column}.*{said}"):
        read_record(tmp_path / "trim.csv")


def test_a_row_that_is_there_twice_is_refused(tmp_path):
    """The same part of the same piece twice is not counted twice."""
    write_record((ONE, ONE), tmp_path / "trim.csv")
    with pytest.raises(InputProblems, match="each part of a piece once"):
        read_record(tmp_path / "trim.csv")


def test_trim_is_compared_at_the_allowance_of_today():
    """Two mm more of allowance than then are two mm more of trim: a change of allowance is not taken for a drift."""
    rows = [replace(ONE, id=str(i), hide=f"H{i}", trim_mm=9.0 + 0.1 * (i % 5)) for i in range(30)]
    rows = [replace(one, allowance_mm=10.0, trim_mm=one.trim_mm - 2.0) if int(one.id) > 15 else one for one in rows]
    (part,) = drift_of(rows, job()).parts
    assert part.sizes[0].mean.mean == pytest.approx(9.2, abs=0.05) and part.sizes[0].least_mm == pytest.approx(9.0)


def test_rows_of_other_styles_and_leathers_are_left_out_and_said():
    """They are not mixed in."""
    rows = [ONE, replace(ONE, id="x", style="other"), replace(ONE, id="y", leather="goat")]
    found = drift_of(rows, job())
    assert found.parts[0].pieces == 1 and len(found.notes) == 2


@given(st.lists(st.tuples(st.integers(0, 5), st.sampled_from(list(Part)), st.floats(-5, 20)), max_size=12))
def test_adding_in_parts_is_adding_at_once(rows):
    """Whatever is added in whichever portions, the record holds each piece and part once."""
    known = {(i, part): mm for i, part, mm in rows}
    more = [replace(ONE, id=str(i), part=part, trim_mm=mm) for (i, part), mm in known.items()]
    whole, added, _ = with_more((), more)
    half, *_ = with_more((), more[::2])
    assert added == len(known) and set(with_more(half, more)[0]) == set(whole)
