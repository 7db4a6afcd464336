"""Figures that a trial gives, one function at a time: widening, reject rate, allowances rounded and by size."""

from dataclasses import replace

import pytest
from box_jobs import job, style

from nest.pieces.piece import Part
from nest.pieces.style import Allowances
from nest.trial import TriedPiece, revise
from nest.trial.effective import allowances_by_size, rounded, with_widening
from nest.trial.revise import RejectRate, _reject_percent, _rejects, _widening

GIVEN = Allowances(14.0, 12.3, 10.0, 9.0, 3.0, 2.0)


def piece(**known):
    """A piece about which nothing else is known."""
    return replace(TriedPiece("box", "38", "1", (), None, None, ""), **known)


@pytest.mark.parametrize(("measured", "short", "counted", "said"), [
    ((), False, 2.0, ""), ((4.0,), False, 2.0, ""),
    ((3.0, 5.0), False, 4.0, "Widening: 4.0 % measured on 2 pieces (standard deviation 1.4), 2 % before; 4 % is taken "
                             "off the sides now."),
    ((3.0, 3.0, 3.09), False, 3.0, "3 % is taken off"), ((3.0, 3.0, 3.18), False, 3.1, "3.1 % is taken off"),
    ((49.0, 50.0), False, 49.5, "49.5 % is taken off"), ((60.0, 60.0), False, 50.0, "50 % is taken off"),
    ((-2.0, -1.0), False, 0.0, "Widening: -1.5 % measured"),
    ((1.0, 1.0), True, 2.0, "The widening measured is 1.0 % on 2 pieces; after the shortage at the side 2 % stays."),
    ((1.0, 1.0), False, 1.0, "1 % is taken off"), ((2.0, 2.0), True, 2.0, "2 % is taken off"),
    ((3.0, 3.0), True, 3.0, "3 % is taken off"),
])
def test_the_widening_counted_on(measured, short, counted, said):
    """Widening is the mean of two pieces or more, to a tenth, from 0 to 50 %, and after a short side no less."""
    notes: list[str] = []
    pieces = [piece(widening_percent=one) for one in (*measured, None)]
    assert _widening(style(widening_percent=2.0), pieces, short, notes) == counted
    assert len(notes) == bool(said) and said in "".join(notes)


@pytest.mark.parametrize(("rejects", "rate", "said"), [
    (RejectRate(0, 0, 0.0, 1.0, ()), 3.0, "The table does not say which pieces were rejected; 3 % stays."),
    (RejectRate(8, 1, 0.003, 0.527, (("glue", 1),)), 3.0,
     "Rejected: 1 of 8, 1 for glue: 12.5% (95% interval 0.3% to 52.7%); 3 % is within it and stays."),
    (RejectRate(8, 1, 0.03, 0.5, ()), 3.0, "3 % is within it and stays."),
    (RejectRate(8, 0, 0.0, 0.03, ()), 3.0, "3 % is within it and stays."),
    (RejectRate(8, 1, 0.031, 0.5, ()), 12.5, "12.5 % takes the place of 3 %."),
    (RejectRate(80, 0, 0.0, 0.029, ()), 0.0, "0 % takes the place of 3 %."),
    (RejectRate(7, 5, 0.29, 0.963, ()), 71.4, "71.4 % takes the place of 3 %."),
    (RejectRate(7, 7, 0.59, 1.0, ()), 3.0, "no rate serves when every piece fails, 3 % stays."),
])
@pytest.mark.parametrize("by_quality", [(), ((2, 8.0),)])
def test_the_reject_rate_counted_on(rejects, rate, said, by_quality):
    """The style's rate stays if the trial's interval holds it; if it changes, rates by class stay, and that is said."""
    notes: list[str] = []
    one = style(reject_percent=3.0, reject_percent_by_quality=by_quality)
    assert _reject_percent(one, rejects, notes) == rate
    assert notes[0].endswith(said)
    also = ["The reject rates by class of leather stay as they are."] if by_quality and rate != 3.0 else []
    assert notes[1:] == also


def test_of_rejects_that_nobody_counted_nothing_is_known():
    """Without a stated result the rate may be anything from 0 to 1; pieces without a result do not count."""
    assert _rejects([piece(), piece()]) == RejectRate(0, 0, 0.0, 1.0, ())
    found = _rejects([piece(rejected=True, reason="glue"), piece(rejected=False), piece()])
    assert (found.tried, found.rejected, found.reasons, found.rate) == (2, 1, (("glue", 1),), 0.5)


@pytest.mark.parametrize(("now", "new", "given"), [
    (14.0, 10.2, 10.5), (14.0, 10.5, 10.5), (14.0, 10.51, 11.0), (14.0, 14.0, 14.0), (14.0, 14.1, 14.5),
    (12.3, 12.2, 12.3), (12.3, 12.3, 12.3), (12.3, 12.3 + 5e-10, 12.3), (12.3, 12.4, 12.5), (12.3, 11.9, 12.0),
])
def test_allowances_are_rounded_up_to_half_a_millimetre(now, new, given):
    """An allowance that need not grow stays."""
    assert rounded(now, new) == given


@pytest.mark.parametrize(("widening", "effective", "given"), [
    (2.0, 11.3, 12.3), (2.0, 11.3 + 5e-10, 12.3), (2.0, 11.3 + 2e-6, 12.5), (2.0, 11.4, 12.5), (2.0, 11.0, 12.0),
    (4.0, 11.3, 13.5), (4.0, 11.0, 13.0), (0.0, 11.3, 11.5),
])
def test_a_side_allowance_makes_up_for_the_widening(widening, effective, given):
    """2 % of 50 mm is 1 mm of 12.3: the same widening leaves the allowance; otherwise halves are rounded up."""
    one = style(allowances=GIVEN, widening_percent=2.0)
    assert with_widening(one, "38", widening, effective) == given


def test_sizes_that_differ_have_allowances_of_their_own():
    """The style gets the largest value of each part; a size that the trial does not touch keeps its own."""
    now = replace(GIVEN, by_size=(("35", 9.0, 9.0, 9.0), ("38", 1.0, 1.0, 1.0)))
    new = allowances_by_size(now, {"38": (10.0, 12.0, 9.0), "40": (11.0, 12.0, 9.0), "41": (11.0, 11.0, 9.0)})
    assert (new.toe_mm, new.side_mm, new.back_mm, new.least_toe_mm) == (11.0, 12.0, 9.0, 9.0)
    assert new.by_size == (("38", 10.0, 12.0, 9.0), ("41", 11.0, 11.0, 9.0), ("35", 9.0, 9.0, 9.0))


@pytest.mark.parametrize(("wanted", "said"), [(3.948, True), (3.952, False)])
def test_an_allowance_held_up_by_a_twentieth_is_not_worth_a_word(wanted, said):
    """Of 14 mm 9 mm is kept; it is said that 8.948 mm would do, while 8.952 mm counts as 9."""
    one_job = job(styles=(style(allowances=GIVEN),), order=(("box", "38", 1),))
    pieces = [piece(piece=str(i), trim_mm=((Part.TOE, 9.0),)) for i in range(3)]
    (found,) = revise(one_job, pieces, wanted={Part.TOE: wanted})
    assert any("the press needs 9 mm" in note for note in found.notes) is said
    assert found.revised.allowances.toe_mm == 9.0


def test_a_piece_that_just_reaches_the_line_is_not_short():
    """Trim of 0 is no shortage; anything below 0 is."""
    one_job = job(styles=(style(allowances=GIVEN),), order=(("box", "38", 1),))
    for worst, short in ((0.0, False), (-0.01, True)):
        pieces = [piece(piece=str(i), trim_mm=((Part.TOE, trim),)) for i, trim in enumerate((worst, 9.0))]
        assert [result.short for result in revise(one_job, pieces)[0].results] == [short]
