"""Where leather does not suffice the least urgent rows are short: by due date, by priority, across styles."""

from dataclasses import replace

import pytest
from box_jobs import ROWS, hide, job, roll, style
from hypothesis import given
from hypothesis import strategies as st
from test_last_room import small, task, want

from nest.begun.rows import rows_met
from nest.pieces.style import OrderLine
from nest.plan import Begun, CutHide
from nest.planfile import plan_from_text, plan_text
from nest.planning.lastroom import complete_exactly
from nest.planning.make import make_plan
from nest.planning.ranks import missed, short_by_rank, without_least
from nest.planning.replan import replan
from nest.planning.wants import Want
from nest.rules import Rules
from nest.selection.layouts import Container, OfferedLayout, choose_layouts
from nest.urgency import good_pairs, last_of, met_by_row, rank_of_next, ranks, tiers, urgency
from nest.verify import Rule, verify

EARLY, LATE, LATEST = "2026-03-06", "2026-03-20", "2026-04-03"


def four_pairs(number):
    """A hide with room for four pairs."""
    return hide(f"H{number}", 500, 510)


def planned(order, hides=4, **changes):
    """A plan of boxes; the styles are those of the order."""
    styles = [style(name, width=100.0 - at) for at, name in enumerate(dict.fromkeys(line[0] for line in order))]
    asked = job(styles=styles, order=order, hides=[four_pairs(n) for n in range(hides)], **changes)
    plan = make_plan(asked, passes=1, engine=ROWS)
    assert verify(plan).ok
    return plan


def met(plan):
    """Pairs met by style, size and due date or priority."""
    return {(row.style, row.size, row.due or row.priority): row.met for row in rows_met(plan)}


@pytest.mark.parametrize("first", ["late", "early"])
def test_the_style_due_first_is_cut(first):
    """Sixteen pairs fit of twice twelve: the twelve due first are all cut, whichever stands first in the order; without
    due dates the style that stands first was cut and the other short."""
    order = [("late", "38", 12, LATE), ("early", "38", 12, EARLY)]
    plan = planned(order if first == "late" else order[::-1])
    assert met(plan) == {("early", "38", EARLY): 12, ("late", "38", LATE): 4}


def test_priority_comes_before_the_due_date_and_rows_split_a_size():
    """A row of priority 1 is met before an earlier one of priority 2; rows of one style and size part company."""
    plan = planned([
        ("mixed", "38", 9, LATE, 1), ("mixed", "38", 3, EARLY, 2), ("other", "38", 12, EARLY, 1), ("none", "38", 6),
    ])
    assert {(row.style, row.due): row.met for row in rows_met(plan)} == {
        ("mixed", LATE): 4, ("mixed", EARLY): 0, ("other", EARLY): 12, ("none", ""): 0,
    }
    said = " ".join(one.sentence for one in verify(plan).short)
    assert f"5 of 9 due {LATE} (priority 1), 3 of 3 due {EARLY} (priority 2)" in said


def test_a_smaller_urgent_size_takes_the_place_of_a_larger_one():
    """Sizes of one style: the urgent smaller size is met, though the larger ones make more area."""
    plan = planned([("box", "39", 16, LATE), ("box", "37", 14, EARLY)])
    assert met(plan)["box", "37", EARLY] == 14


def test_where_all_is_met_due_dates_change_nothing():
    """The layouts are those of the same order without due dates."""
    bare = planned([("a", "38", 6), ("b", "38", 6)])
    dated = planned([("a", "38", 2, LATE), ("a", "38", 4, EARLY), ("b", "38", 6, LATE, 1)])
    assert bare.layouts == dated.layouts and bare.lays == dated.lays
    assert all(row.short == 0 for row in rows_met(dated))


def test_a_dated_plan_survives_its_file_and_an_old_one_still_loads():
    """Rows come back as they were; a plan without the key loads, and its lines have no rows."""
    plan = planned([("a", "38", 2, LATE, 3), ("a", "38", 4, EARLY)])
    again = plan_from_text(plan_text(plan))
    assert again.order == plan.order and len(again.order[0].rows) == 2
    bare = planned([("a", "38", 6)])
    old = plan_text(bare).replace(', "rows": []', "")
    assert '"rows"' not in old and plan_from_text(old).order == bare.order


def test_a_replan_hands_what_is_cut_to_the_most_urgent():
    """With one hide cut the rest of the plan goes on by urgency."""
    order = [("late", "38", 12, LATE), ("early", "38", 12, EARLY)]
    plan = planned(order, hides=3)
    styles = [style("late", width=100.0), style("early", width=99.0)]
    asked = job(styles=styles, order=order, hides=[four_pairs(n) for n in range(5)])
    after = replan(asked, plan, Begun((CutHide("H0"),)), passes=1, engine=ROWS)
    assert verify(after).ok
    assert met(after) == {("early", "38", EARLY): 12, ("late", "38", LATE): 8}


def test_reinforcements_count_too():
    """A roll too short for all pairs leaves the late rows short, though the vamps are there."""
    backed = style("box", roll="knit")
    order = [("box", "38", 4, LATE), ("box", "38", 4, EARLY)]
    asked = job(styles=[backed], order=order, hides=[four_pairs(n) for n in range(3)], rolls=[roll(length_mm=700.0)])
    plan = make_plan(asked, passes=1, engine=ROWS)
    placed = sum(len(lay.placed) for lay in plan.lays)
    assert 0 < placed < 16
    rows = rows_met(plan)
    assert sum(row.met for row in rows) == placed // 2
    assert rows[1].met == min(4, placed // 2)


@pytest.mark.parametrize(("change", "words"), [
    (lambda rows: rows[:1], "add up to 2 pairs, 6 are wanted"),
    (lambda rows: (rows[0], rows[0]), "2 rows have the due date"),
    (lambda rows: (rows[0], type(rows[0])("6 March", 0, 4)), "no date"),
    (lambda rows: (rows[0], type(rows[0])("", -1, 4)), "priority -1"),
    (lambda rows: (*rows, type(rows[0])("", 9, 0)), "a row of 0 pairs"),
])
def test_the_judge_finds_rows_that_make_no_sense(change, words):
    """Rows must add up to the pairs of their line; dates and priorities must be some."""
    plan = planned([("a", "38", 2, LATE, 3), ("a", "38", 4, EARLY)])
    line = plan.order[0]
    verdict = verify(replace(plan, order=(replace(line, rows=change(line.rows)),)))
    assert any(one.rule is Rule.FIGURE and words in one.sentence for one in verdict.wrong)


ROW = st.builds(
    OrderLine, st.just("s"), st.just("38"), st.integers(1, 9), st.sampled_from(["", EARLY, LATE, LATEST]),
    st.integers(0, 3),
)


@given(st.lists(ROW, min_size=1, max_size=6, unique_by=urgency), st.integers(0, 60), st.integers(0, 20))
def test_rows_add_up(rows, pairs, more):
    """What is handed out is all there is or all that is wanted; no row has pairs while a more urgent one is short; and
    cutting all pairs as far as a rank meets the rows as far as that."""
    given_out = met_by_row(pairs, rows)
    wanted = sum(row.pairs for row in rows)
    assert sum(given_out) == min(pairs, wanted)
    for row, some in zip(rows, given_out, strict=True):
        assert 0 <= some <= row.pairs
        if some < row.pairs:
            assert all(n == 0 for n, other in zip(given_out, rows, strict=True) if urgency(other) > urgency(row))
    found, cut, due = tiers(rows, wanted + more, ranks(rows)), 0, 0
    assert sum(number for _, number in found) == wanted + more
    for row in sorted(rows, key=urgency):
        cut += dict(found).get(ranks(rows)[urgency(row)], 0)
        due += row.pairs
        assert good_pairs(cut, wanted, wanted + more) >= due


@given(st.lists(st.integers(1, 5), min_size=1, max_size=4), st.integers(0, 25))
def test_what_is_missing_is_the_least_urgent(numbers, missing):
    """Units missing by rank add up, come from the end, and the next to be put is the first of them."""
    mine = tuple(enumerate(numbers))
    asked = Want("s", "38", (), sum(numbers), Rules(), 2.0, mine)
    missing = min(missing, asked.count)
    by_rank = short_by_rank(asked, missing)
    assert sum(by_rank.values()) == missing
    flat = [rank for rank, number in mine for _ in range(number)]
    assert sorted(rank for rank, n in by_rank.items() for _ in range(n)) == flat[asked.count - missing:]
    if missing:
        assert rank_of_next(asked.tiers, missing) == flat[asked.count - missing]
        assert missed([asked], [missing]) == tuple(2.0 * by_rank.get(rank, 0) for rank in range(len(numbers)))
    assert [rank for rank, number in last_of(mine, missing) for _ in range(number)] == flat[asked.count - missing:]
    left = without_least([asked], [asked.count], 2.0 * missing)
    assert left == [asked.count - missing]


def test_the_choice_misses_the_least_urgent():
    """One container with two layouts: four of a large late kind, or three of a small urgent one; urgency decides."""
    box, layouts = [Container(10, 10)], [OfferedLayout(0, ((0,),) * 4), OfferedLayout(0, ((1,),) * 3)]
    assert choose_layouts(box, layouts, [4, 3], [5, 1]).chosen == (0,)
    found = choose_layouts(box, layouts, [4, 3], [5, 1], ranks=[{1: 4}, {0: 3}])
    assert found.chosen == (1,) and found.short == (4, 0)
    part = choose_layouts(box, layouts, [4, 3], [5, 1], ranks=[{1: 1, 0: 3}, {2: 3}])
    assert part.chosen == (0,)


def test_the_last_room_goes_to_the_most_urgent():
    """A hide with room for one pair: the urgent small one takes it, not the larger one that is due later."""
    large, little = replace(want(1, scale=1.01), tiers=((1, 1),)), replace(want(1, "37"), tiers=((0, 1),))
    made = task([large, little], [small("H1")])
    assert complete_exactly(made, {}, [1, 1]).short == (1, 0)
    alike = task([replace(large, tiers=()), replace(little, tiers=())], [small("H1")])
    assert complete_exactly(alike, {}, [1, 1]).short == (0, 1)
