"""Tickets: every vamp in one batch, every value that the job states on paper, a blank for each of the others."""

import re
from collections import Counter
from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from legible import hold_legible, words_of
from tiny_plans import box_plan, in_pairs, spots
from vamp_plans import vamp_plan

from nest.cutplan.cautions import CAUTIONS, STANDARDS
from nest.cutplan.stamp import Stamp
from nest.outcomes import Reason
from nest.pieces.crimping import Crimping, SpraySide
from nest.pieces.piece import Role
from nest.pieces.style import WeightRow
from nest.plan import Begun, CutHide, HideLayout, Placed
from nest.planfile import plan_from_text, plan_text
from nest.tickets import Planned, batches_of
from nest.tickets.ticket import ticket_pages

TIME = "2026-03-02T05:50:00Z"
STATED = Crimping(
    20, 37.5, "plate 17", 131.0, 4.25, 11.5, 1.25, "softener R", SpraySide.FLESH, 1.75, 8.5, 21.0, 96.0, 5.75, 43.0,
    0.75, 15.0, 1.25, 2.25,
)
WEIGHTS = (WeightRow(1.2, 110.0, 160.0), WeightRow(1.7, 80.0, 130.0))
PLAN = vamp_plan(2)


def stated(plan, crimping=STATED, **more):
    """The plan with what its first style states."""
    return replace(plan, styles=(replace(plan.styles[0], crimping=crimping, **more), *plan.styles[1:]))


def pages_of(plan, planned=None, verified=True):
    """Pages of the first ticket, and their words."""
    batch = batches_of(plan)[0]
    pages = ticket_pages(plan, batch, verified, Stamp("0123abcd", TIME), planned or Planned())
    return pages, " ".join(map(words_of, pages))


def many_pairs(count, single=0):
    """The box plan with pairs over several hides, six to each, one of them with its partner on the next hide."""
    plan = box_plan()
    placed = [*in_pairs(["V38"] * 2 * count, spots(2 * count)), *(Placed("V38", spot, 0) for spot in spots(single))]
    if count > 6:
        placed[11], placed[12] = placed[12], placed[11]
    layouts = tuple(HideLayout(f"H{i // 12 + 1}", tuple(placed[i : i + 12])) for i in range(0, len(placed), 12))
    hides = tuple(replace(plan.hides[0], hide_id=layout.hide_id) for layout in layouts)
    return replace(plan, layouts=layouts, hides=hides)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 40), st.integers(0, 5), st.one_of(st.none(), st.integers(1, 50)))
def test_every_vamp_is_in_one_batch(count, single, most):
    """None is left out or doubled, partners stay together, no batch is too large, and there are as few as can be."""
    plan = stated(many_pairs(count, single), Crimping(batch_pairs=most))
    batches = batches_of(plan)
    found = Counter((vamp.hide_id, vamp.number) for batch in batches for vamp in batch.vamps)
    assert found == Counter({(one.hide_id, one.number(i)) for one in plan.layouts for i in range(len(one.placed))})
    for batch in batches:
        pairs = Counter(vamp.pair for vamp in batch.vamps if vamp.pair)
        assert set(pairs.values()) <= {2}
        assert most is None or batch.pairs <= most
    assert [batch.number for batch in batches] == list(range(1, len(batches) + 1))
    assert {batch.count for batch in batches} == {len(batches)}
    vamps = 2 * count + single
    assert len(batches) == (1 if most is None else -(-vamps // (2 * most)))


def test_batches_follow_the_order_of_cutting():
    """The first batch can begin when the first hides are cut; what is cut already has its ticket from before."""
    plan = stated(many_pairs(18), Crimping(batch_pairs=6))
    # Two pairs have one vamp on H1 and one on H2, so they wait for H2.
    assert [batch.hides for batch in batches_of(plan)] == [("H1", "H2"), ("H1", "H2"), ("H3",)]
    begun = replace(plan, begun=Begun(hides=(CutHide("H1"),)))
    assert not {"H1"} & {hide for batch in batches_of(begun) for hide in batch.hides}


def test_a_ticket_says_all_that_the_job_states():
    """Each value of the job stands on it with its unit, and no other blank than those of what was done."""
    _, words = pages_of(stated(PLAN, thickness_mm=1.5, weight_table=WEIGHTS, notes=("Skive the tongue.",)))
    for said in ("37.5 mm", "plate 17", "131 °C", "4.25 bar", "11.5 s", "1.25 h", "softener R", "flesh", "1.75 ml",
                 "8.5 h", "21 h", "96 °C", "5.75 bar", "43 s", "0.75 mm", "15 h", "1.25 mm", "2.25 mm",
                 "Skive the tongue."):
        assert said in words, said
    assert "For an upper of 1.5 mm the weight table wants 80 to 130 g/m²: it fits." in words
    assert len(fields(Crimping)) == 19, "a value that is added here is to be held against the ticket above"


def test_what_the_job_does_not_state_is_a_line_to_write_on():
    """No number but counts, allowances and the inset stands on the ticket of a job without [crimping]."""
    pages, words = pages_of(stated(PLAN, Crimping()))
    for unit in ("°C", "bar", "ml", "h"):
        assert not re.search(rf"\d {unit}\b", words), unit
    assert "the job states none" in words
    units = Counter(box.text for box in pages[0].boxes)
    assert (units["°C"], units["bar"], units["s"], units["h"], units["ml"]) == (2, 2, 2, 4, 1)


@pytest.mark.parametrize(("weight", "said"), [(70.0, "TOO LIGHT"), (140.0, "TOO HEAVY"), (130.0, "it fits")])
def test_the_weight_of_the_reinforcement_is_held_against_the_table(weight, said):
    """By the row of the upper's thickness; a hide that measures otherwise is named with what it wants."""
    plan = stated(replace(PLAN, rolls=(replace(PLAN.rolls[0], weight_g_m2=weight),)), thickness_mm=1.5,
                  weight_table=WEIGHTS)
    thin = replace(plan, hides=tuple(replace(hide, thickness_mm=1.1) for hide in plan.hides))
    assert said in pages_of(plan)[1]
    assert ("measures 1.1 mm and wants 110 to 160 g/m²" in pages_of(thin)[1]) is (weight < 110.0)


@pytest.mark.parametrize("most", [None, 3, 60])
@pytest.mark.parametrize("crimping", [Crimping(), STATED])
def test_pages_are_legible_and_bear_cautions(most, crimping):
    """Texts of 7 pt and more, none on another; all cautions and standards on every page; the gauge line on none."""
    notes = tuple(f"A note of several words, such as a shop writes them by hand, number {i}." for i in range(70))
    plan = stated(PLAN, replace(crimping, batch_pairs=most), notes=notes)
    times = dict.fromkeys(("bond", "soften", "crimp", "check", "trim"), "Mon 2 Mar 06:00 to Tue 3 Mar 11:45, 2 presses")
    pages, words = pages_of(plan, Planned(times, "Tue 3 Mar 06:00", "Tue 3 Mar 14:30"))
    for page in pages:
        hold_legible(page)
        mine = words_of(page).replace("• ", "")
        assert all(caution in mine for caution in CAUTIONS) and all(one in mine for one in STANDARDS)
        assert TIME in mine and "100 mm long" not in mine
    assert all(note in words for note in notes)


def test_long_names_and_many_sizes_stay_legible():
    """A style and hides with the longest names there are, and thirty sizes."""
    plan = stated(PLAN, replace(STATED, batch_pairs=None))
    name, hide_id = "Style " + "W" * 54, "Hide-" + "W" * 40
    sizes = [f"{30 + i / 2:g}" for i in range(30)]
    pieces = tuple(replace(plan.pieces[0], piece_id=f"p{size}", size=size, style=name) for size in sizes)
    placed = tuple(Placed(piece.piece_id, plan.layouts[0].placed[0].pose, i + 1)
                   for i, piece in enumerate(pieces) for _ in range(2))
    plan = replace(
        plan, styles=(replace(plan.styles[0], name=name),), pieces=pieces,
        hides=(replace(plan.hides[0], hide_id=hide_id),), layouts=(HideLayout(hide_id, placed),),
    )
    pages, words = pages_of(plan)
    for page in pages:
        hold_legible(page)
    assert not [size for size in sizes if size not in words.split()]


def test_each_vamp_has_its_row_of_boxes():
    """Hide, number and size of every vamp of a large batch, and the outcomes above every block of rows."""
    plan = stated(PLAN, Crimping())
    batch = batches_of(plan)[0]
    pages, _ = pages_of(plan)
    boxes = [box for page in pages if "Outcome of batch" in words_of(page) for box in page.boxes]
    bold = Counter(box.text for box in boxes if box.text.isdigit() and box.size == 8.5)
    expected = Counter(str(vamp.number) for vamp in batch.vamps)
    assert all(bold[number] >= count for number, count in expected.items())
    assert {box.text for box in boxes} >= {*Reason, *batch.hides}


def test_a_plan_that_is_not_verified_says_so_on_its_tickets():
    """On every page."""
    pages, _ = pages_of(PLAN, verified=False)
    assert all("NOT VERIFIED: do not cut" in words_of(page) for page in pages)


def test_a_plan_keeps_what_its_job_states():
    """Read back from its file all is there; a plan of a job that states nothing has the text that it had before."""
    plan = stated(PLAN, thickness_mm=1.5, weight_table=WEIGHTS)
    assert plan_from_text(plan_text(plan)).styles[0].crimping == STATED
    assert plan_from_text(plan_text(plan)).styles[0].weight_table == WEIGHTS
    assert not re.search('"crimping"|"weight_table"', plan_text(PLAN))


def test_a_style_without_reinforcement_is_not_bonded():
    """Its ticket says so, and has neither a weight nor a column for reinforcements."""
    plan = stated(PLAN)
    plan = replace(plan, styles=(replace(plan.styles[0], roll=""),), lays=(),
                   pieces=tuple(piece for piece in plan.pieces if piece.role is Role.VAMP))
    words = pages_of(plan)[1]
    assert "Not backed" in words and "reinforcements" not in words and "131 °C" not in words
