"""Allowances that follow from a trial: by hand, on planted losses, and never less after a shortage."""

from dataclasses import replace
from math import ceil

import numpy as np
import pytest
from box_jobs import job, style
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.pieces.piece import Part, Template
from nest.pieces.style import Allowances
from nest.statistics import tolerance_factor
from nest.trial import Safety, TriedPiece, revise, revised_job
from nest.trial.effective import allowance_left, effective_allowance, reach_of, side_reach_mm
from nest.trial.revise import jobs_to_compare
from nest.trial.untried import neighbours

GIVEN = Allowances(14.0, 12.0, 10.0, 3.0, 3.0, 2.0)
"""Of the net rectangle 200 × 100 mm; the trim wanted is 3, 3 and 2 mm."""

ORDER = (("box", "36", 1), ("box", "38", 1), ("box", "40", 1))


def box(order=ORDER, **changes):
    """The job of the rectangle with these allowances."""
    return job(styles=(style(**({"allowances": GIVEN} | changes)),), order=order)


def tried(size="38", count=3, rejected=False, reason="", widening=None, **trim):
    """Pieces of one size; trim by part as a list, a value a piece."""
    pieces = []
    for i in range(count):
        known = tuple((Part(part), float(values[i])) for part, values in trim.items())
        pieces.append(TriedPiece("box", size, f"{size}-{i}", known, widening, rejected, reason))
    return pieces


def revised(pieces, one_job=None, **options):
    """The one revision."""
    return revise(one_job or box(), pieces, **options)[0]


def test_by_hand():
    """Trim 8, 9, 10: mean 9, sd 1; 9 − 2 is 4 mm more than the 3 mm wanted: 14 becomes 10."""
    found = revised(tried(toe=[8, 9, 10], side=[2, 3, 4], back=[6, 6, 6]))
    by_part = {result.part: result for result in found.results}
    assert by_part[Part.TOE].new_mm == 10.0 and not by_part[Part.TOE].lean
    # The side was left 3 − 2 = 1 mm, 2 mm too little; the back 6 mm for 2 mm wanted.
    assert by_part[Part.SIDE].new_mm == 14.0 and by_part[Part.SIDE].lean and not by_part[Part.SIDE].short
    assert by_part[Part.BACK].new_mm == 6.0
    new = found.revised.allowances
    assert (new.toe_mm, new.side_mm, new.back_mm, new.by_size) == (10.0, 14.0, 6.0, ())
    assert found.shortages == () and found.sizes == ("38",) and found.others == ("36", "40")
    said = "Not tried, change of the allowance at the toe, side and back: 36, 40 taken over from size 38."
    assert said in found.notes and not any("interpolated" in note for note in found.notes)


def test_other_trim_wanted_and_other_safety():
    """The trim wanted and k may be given; half a millimetre is the grain, upwards."""
    found = revised(tried(toe=[8, 9, 10]), wanted={Part.TOE: 5.2}, safety=Safety(k=1.0))
    assert found.revised.allowances.toe_mm == 11.5  # 14 − (9 − 1 − 5.2) = 11.2


def test_tolerance_factor_in_place_of_k():
    """With few pieces the factor for 95 % of pieces with 90 % confidence asks for much more."""
    safety = Safety(k=None)
    found = revised(tried(toe=[8, 9, 10]), safety=safety).results[0]
    assert found.factor == pytest.approx(tolerance_factor(0.95, 0.9, 3)) and found.factor > 5.0
    assert found.new_mm == min(14.0, ceil((14 - (9 - found.factor - 3)) * 2) / 2)


def test_a_shortage_comes_first_and_never_means_less():
    """One piece of four 2 mm short: even at k = 0, and with a mean to spare, the allowance grows by 2 mm."""
    found = revised(tried(count=4, back=[-2, 9, 9, 9]), safety=Safety(k=0.0))
    result = found.results[0]
    assert found.shortages == (result,) and result.worst_mm == -2.0
    assert result.mean_mm > result.wanted_mm and result.new_mm == 12.0
    new = found.revised.allowances
    assert all(new.for_size(size).back_mm >= 10.0 for size in ("36", "38", "40"))


def test_one_piece_tells_no_spread():
    """An allowance does not shrink on the word of one piece; it grows."""
    found = revised(tried(count=1, toe=[9], back=[1]))
    assert found.revised.allowances.toe_mm == 14.0 and found.revised.allowances.back_mm == 11.0
    assert any("One piece a size" in note for note in found.notes)


def test_sizes_between_and_beyond():
    """Between two sizes tried the change is in proportion; beyond them as in the nearest; each size has its own."""
    order = tuple(("box", size, 1) for size in ("35", "36", "37", "38", "40", "41"))
    pieces = tried("36", toe=[13, 13, 13]) + tried("40", toe=[5, 5, 5])  # 10 and 2 mm too much
    found = revised(pieces, box(order))
    toes = {size: found.revised.allowances.for_size(size).toe_mm for _, size, _ in order}
    assert toes == {"35": 4.0, "36": 4.0, "37": 6.0, "38": 8.0, "40": 12.0, "41": 12.0}
    assert found.revised.allowances.toe_mm == 12.0  # the largest, for any size that is not named
    assert found.others == ("35", "37", "38", "41")


def test_no_interpolated_size_shrinks_beside_a_shortage():
    """Between a size with too much and one that was short nothing shrinks."""
    pieces = tried("36", toe=[13, 13, 13]) + tried("40", toe=[-1, -1, -1])
    found = revised(pieces)
    new = found.revised.allowances
    assert new.for_size("36").toe_mm == 4.0 and new.for_size("40").toe_mm == 18.0
    assert new.for_size("38").toe_mm >= 14.0


def test_widening_takes_its_place():
    """4 % of 50 mm are 2 mm at the widest place of the rectangle; the side allowance makes up for the change."""
    one_job = box(widening_percent=2.0)
    assert side_reach_mm(one_job.styles[0], "38") == pytest.approx(50.0)
    assert effective_allowance(one_job.styles[0], "38", Part.SIDE, 2.0) == pytest.approx(11.0)
    found = revised(tried(side=[3, 3, 3], widening=4.0), box((("box", "38", 1),), widening_percent=2.0))
    assert found.revised.widening_percent == 4.0
    assert found.revised.allowances.side_mm == 13.0  # 11 mm at the widest place, as before, and 2 mm to be taken off
    # Short at the side, less widening than before is not believed.
    short = revised(tried(side=[-1, 3, 3], widening=1.0), one_job)
    assert short.revised.widening_percent == 2.0 and short.revised.allowances.side_mm > 12.0


def test_a_shortage_in_one_size_keeps_the_widening():
    """6 % is counted on and 4 % measured: less is counted on, unless the side of any size was short."""
    def counted(*worst):
        pieces = [piece for size, least in zip(("36", "38"), worst, strict=True)
                  for piece in tried(size, side=[least, 6, 7], toe=[-1, 2, 3], widening=4.0)]
        return revised(pieces, box(widening_percent=6.0)).revised.widening_percent

    assert [counted(5, 5), counted(-1, 5), counted(5, -1), counted(-1, -1)] == [4.0, 6.0, 6.0, 6.0]


def test_reject_rate():
    """1 of 8 is 12.5 %, 0.3 to 52.7 % (Clopper & Pearson): 3 % is within and stays; with 5 of 8 it is not."""
    few = tried(count=7, toe=[9] * 7) + tried("39", 1, True, "pleats")
    found = revised(few, box(reject_percent=3.0))
    assert (found.rejects.tried, found.rejects.rejected, found.rejects.reasons) == (8, 1, (("pleats", 1),))
    assert (found.rejects.low, found.rejects.high) == pytest.approx((0.0032, 0.5265), abs=5e-5)
    assert found.revised.reject_percent == 3.0
    many = tried(count=3, toe=[9] * 3) + tried("39", 5, True, "pleats")
    found = revised(many, box(reject_percent=3.0))
    assert found.revised.reject_percent == 62.5
    kept = revised_job(box(reject_percent=3.0), [found], rejects=False).styles[0]
    assert kept.reject_percent == 3.0 and kept.allowances == found.revised.allowances
    assert revised(tried(rejected=True, reason="glue"), box(reject_percent=3.0)).revised.reject_percent == 3.0


def test_a_reject_rate_has_one_decimal():
    """5 of 7 are 71.4286 %: 71.4 takes the place of 3, and the note says all of it."""
    found = revised(tried(count=2) + tried("39", 5, True, "pleats"), box(reject_percent=3.0))
    assert found.revised.reject_percent == 71.4
    assert [note for note in found.notes if note.startswith("Rejected")] == [
        "Rejected: 5 of 7, 5 for pleats: 71.4% (95% interval 29.0% to 96.3%); 71.4 % takes the place of 3 %."]


def test_a_widening_alone_changes_the_sides_alone():
    """4 % in place of 2 takes 2 mm off at the widest place, 1 before: of sides that were not measured 13 mm leave 11.
    """
    found = revised(tried(widening=4.0), box((("box", "38", 1),), widening_percent=2.0))
    new = found.revised.allowances
    assert (new.toe_mm, new.side_mm, new.back_mm) == (14.0, 13.0, 10.0) and found.results == ()


@pytest.mark.parametrize(("safety", "words"), [
    (Safety(), "mean − 2 standard deviations leave the trim wanted"),
    (Safety(k=1.5), "mean − 1.5 standard deviations leave the trim wanted"),
    (Safety(k=None), "95% of all pieces keep the trim wanted, with 90% confidence"),
])
def test_the_rule_is_said(safety, words):
    """With its figures."""
    assert safety.words() == words


def test_jobs_are_compared_before_and_after():
    """New allowances alone, and with the new reject rate where that changes."""
    one_job = box(reject_percent=3.0)
    kept = [revised(tried(toe=[8, 9, 10]), one_job)]
    assert [*jobs_to_compare(one_job, kept)] == ["before", "new allowances"]
    changed = [revised(tried(count=2, toe=[8, 9]) + tried("39", 5, True, "pleats"), one_job)]
    jobs = jobs_to_compare(one_job, changed)
    assert [(name, job.styles[0].reject_percent) for name, job in jobs.items()] == [
        ("before", 3.0), ("new allowances", 3.0), ("new allowances and reject rate", 71.4)]
    assert jobs["before"] is one_job and jobs["new allowances"].styles[0].allowances != GIVEN


def test_nothing_measured_nothing_changed():
    """A part without a measurement keeps its allowance, and that is said."""
    found = revised(tried(toe=[5, 5, 5]))
    assert found.revised.allowances.side_mm == 12.0 and found.revised.allowances.back_mm == 10.0
    assert sum("Nothing was measured" in note for note in found.notes) == 2
    assert revise(box(), []) == ()


@settings(deadline=None)
@given(
    losses=st.tuples(st.floats(1, 9), st.floats(1, 9), st.floats(1, 9)), sd=st.floats(0.05, 1.0),
    seed=st.integers(0, 2**31), count=st.integers(4, 12),
)
def test_planted_losses_are_recovered(losses, sd, seed, count):
    """Where crimping takes so many mm ± sd, the new allowance is that loss + trim wanted + 2 sd, within the spread.

    The mean of n is within 5 sd/√n, twice the pooled sd of 3 (n − 1) degrees of freedom within a few of its errors.
    """
    random = np.random.default_rng(seed)
    pieces = []
    for size in ("36", "38", "40"):
        trim = {
            part.value: random.normal(GIVEN.of(part) - loss, sd, count) for part, loss in zip(Part, losses, strict=True)
        }
        pieces += tried(size, count, **trim)
    found = revised(pieces)
    margin = 5.0 * sd * (count**-0.5 + 2.0 * (6.0 * (count - 1)) ** -0.5)
    for result in found.results:
        part = result.part
        loss = losses[list(Part).index(part)]
        truth = max(GIVEN.least_of(part), loss + GIVEN.least_of(part) + 2.0 * sd)
        assert truth - margin <= result.new_mm <= max(truth + margin, GIVEN.least_of(part)) + 0.5 + 1e-9


trims = st.lists(st.integers(-200, 200).map(lambda tenths: tenths / 10), min_size=1, max_size=5)


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from(["36", "37", "38", "40"]), st.tuples(trims, trims, trims), min_size=1),
       st.floats(0, 4), st.floats(0, 4))
def test_less_allowance_never_answers_a_shortage(sizes, k, widening):
    """Whatever is measured: no part falls below its least; where a piece was short, in no size does it shrink there."""
    pieces = []
    for size, columns in sizes.items():
        for i in range(max(map(len, columns))):
            known = tuple((part, column[i]) for part, column in zip(Part, columns, strict=True) if i < len(column))
            pieces.append(TriedPiece("box", size, f"{i}", known, widening if i else None, False, ""))
    one_job = box(widening_percent=2.0)
    found = revised(pieces, one_job, safety=Safety(k=k))
    after = found.revised
    for result in found.results:
        before = effective_allowance(one_job.styles[0], result.size, result.part, 2.0)
        now = effective_allowance(after, result.size, result.part, after.widening_percent)
        assert now >= GIVEN.least_of(result.part) - 1e-9
        assert now >= result.new_mm - 1e-9
        if result.short:
            assert now >= before - result.worst_mm - 1e-6
            assert after.allowances.for_size(result.size).of(result.part) >= GIVEN.of(result.part) - 1e-9


def test_a_size_with_its_own_allowance_changes_from_there():
    """The change is added to what the size has now."""
    own = replace(GIVEN, by_size=(("40", 16.0, 12.0, 10.0),))
    found = revised(tried("40", toe=[8, 8, 8]), box((("box", "38", 1), ("box", "40", 1)), allowances=own))
    new = found.revised.allowances
    assert new.for_size("40").toe_mm == 11.0 and new.for_size("38").toe_mm == 9.0


def test_an_allowance_held_up_by_the_press_is_said():
    """6 mm would leave the 1 mm wanted at the toe, the press needs 9: 9 stand, and it is said what is in the way."""
    job_of = box(allowances=replace(GIVEN, least_toe_mm=9.0))
    found = revised(tried(toe=[9, 9, 9]), job_of, wanted={Part.TOE: 1.0})
    assert found.results[0].asked_mm == 6.0 and found.results[0].new_mm == found.revised.allowances.toe_mm == 9.0
    (said,) = [note for note in found.notes if "the press needs" in note]
    assert "6.0 mm in size 38 would leave the 1 mm wanted" in said and "9 mm" in said and "least_toe_mm" in said
    free = revised(tried(toe=[9, 9, 9]), wanted={Part.TOE: 1.0})
    assert free.revised.allowances.toe_mm == 6.0 and not any("the press needs" in note for note in free.notes)


def test_where_sizes_not_tried_come_from_is_said():
    """Between two sizes tried interpolated, beyond them taken over; by part where parts were measured apart."""
    order = tuple(("box", size, 1) for size in ("35", "36", "37", "38", "40", "41"))
    pieces = tried("36", toe=[9, 9, 9], back=[6, 6, 6]) + tried("40", toe=[9, 9, 9])
    said = [note for note in revised(pieces, box(order)).notes if note.startswith("Not tried")]
    assert said == [
        "Not tried, change of the allowance at the toe: 35 taken over from size 36; 37, 38 interpolated between sizes "
        "36 and 40; 41 taken over from size 40.",
        "Not tried, change of the allowance at the back: 35, 37, 38, 40, 41 taken over from size 36.",
    ]


def test_the_nearest_sizes_measured():
    """One on either side, the last one alone beyond them, and a size itself where it was measured."""
    of = {size: neighbours(style(), size, ["40", "36", "38"]) for size in ("35", "36", "37", "38", "39", "40", "41")}
    assert of == {"35": ("36",), "36": ("36",), "37": ("36", "38"), "38": ("38",), "39": ("38", "40"), "40": ("40",),
                  "41": ("40",)}


def test_a_size_that_is_not_ordered_is_said():
    """Its allowances are revised all the same."""
    found = revised(tried("44", toe=[9, 9, 9]))
    assert "Tried, but not ordered: 44." in found.notes
    assert not any("not ordered" in note for note in revised(tried(toe=[9, 9, 9])).notes)


def test_rejects_of_which_nothing_is_said_are_not_none():
    """Forty pieces without a word on rejects leave the rate; forty said to be good bring it down."""
    pieces = tried(count=40, toe=[9] * 40)
    silent = revised([replace(piece, rejected=None) for piece in pieces], box(reject_percent=12.0))
    assert silent.revised.reject_percent == 12.0 and silent.rejects.rate is None and silent.rejects.tried == 0
    assert "The table does not say which pieces were rejected; 12 % stays." in silent.notes
    assert revised(pieces, box(reject_percent=12.0)).revised.reject_percent == 0.0


def test_the_widening_counts_across_a_slanting_side():
    """A side that rises by 30 mm in 100, to 60 mm from the axis: 60 × 100 / √(100² + 30²) mm count in full square."""
    ring = np.array([(0.0, -30.0), (100.0, -60.0), (100.0, 60.0), (0.0, 30.0)])
    template = Template("box", "38", ring, (Part.SIDE, Part.TOE, Part.SIDE, Part.BACK))
    assert reach_of(template) == pytest.approx(60.0 * 100.0 / np.hypot(100.0, 30.0), rel=1e-9)


def test_the_widening_counts_where_the_side_is_and_no_further():
    """A side that is level 40 mm from the axis counts 40 mm, though the toe behind it bulges to 55 mm and more."""
    ring = np.array([(0.0, -40.0), (100.0, -40.0), (120.0, -55.0), (160.0, 0.0), (120.0, 55.0), (100.0, 40.0),
                     (0.0, 40.0)])
    parts = (Part.SIDE, *[Part.TOE] * 4, Part.SIDE, Part.BACK)
    assert reach_of(Template("box", "38", ring, parts)) == pytest.approx(40.0, rel=1e-9)


def test_the_widening_takes_no_more_than_leaves_the_press_its_least():
    """Of 12 mm with 11 mm at least, a widening of 20 mm takes 1 mm; of 40 mm all 20."""
    def left(side, least):
        return allowance_left(Allowances(12.0, side, 12.0, 8.0, least, 8.0), Part.SIDE, 50.0, 40.0)

    assert left(12.0, 11.0) == 11.0 and left(40.0, 11.0) == 20.0 and left(12.0, -1.0) == 0.0


def test_a_spread_of_two_pieces_is_known():
    """Two pieces of one size have a standard deviation, one has none."""
    found = revised([*tried(count=1, toe=[4.0]), *tried("40", count=2, toe=[5.0, 7.0])])
    by_size = {one.size: one.own_sd_mm for one in found.results if one.part is Part.TOE}
    assert by_size["38"] is None and by_size["40"] == pytest.approx(2.0**0.5)
