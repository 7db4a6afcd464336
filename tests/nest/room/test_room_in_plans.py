"""Room for what a whole plan is short of: what is short, where it fits, what may not be used, and the command."""

import json
from dataclasses import replace

import pytest
from shapely.geometry import box
from tiny_plans import ROUGH, SLANT, box_plan, hide, in_pairs, slant_plan, spots, style, vamp, zone

from geometry.pose import Pose
from nest.cli import main
from nest.cli.codes import Exit
from nest.pieces.piece import Foot
from nest.plan import Begun, CutHide, CutLine, DueRow, HideLayout, Placed, Side, Spoiled
from nest.planfile import write_plan
from nest.room.plan import room_in_plan
from nest.room.shorts import shorts
from nest.rules import Rules
from nest.verify import verify

APART = Rules(pairs_from_one_hide=False)
FREE = Rules(pairs_from_one_hide=False, pairs_same_class=False)


def unbacked(**changes):
    """Two pairs of boxes on one hide of two, without reinforcements."""
    plan = box_plan(styles=(style(roll=""),), pieces=(vamp(),), lays=(), rolls=(), hides=(hide("H1"), hide("H2")))
    return replace(plan, **changes)


def without(plan, *pairs):
    """The plan without these pairs."""
    return replace(plan, layouts=tuple(
        replace(one, placed=tuple(piece for piece in one.placed if piece.pair not in pairs)) for one in plan.layouts
    ))


def judged_short(plan):
    """Pieces of vamps that the judge finds missing."""
    return sum(finding.amount for finding in verify(plan).short)


@pytest.mark.parametrize("make", [box_plan, slant_plan])
def test_pairs_taken_away_are_put_back(make):
    """A plan made short by taking its pairs away gets as many back; it passes the judge and meets the order."""
    plan = make()
    plan = replace(plan, styles=(replace(plan.styles[0], roll=""),), lays=())
    for gone in ((1,), (2,), (1, 2)):
        short = without(plan, *gone)
        assert judged_short(short) == 2 * len(gone)
        room = room_in_plan(short)
        assert room.fits == len(gone) and room.complete and not room.lines[0].left_short
        verdict = verify(room.plan)
        assert verdict.ok and verdict.order_met and verdict.checks.pairs == 2


def test_what_is_placed_stays():
    """Nothing that lay on a hide is moved, and the pairs keep their numbers."""
    plan = without(unbacked(), 1)
    after = room_in_plan(plan).plan
    assert after.layouts[0].placed[:2] == plan.layouts[0].placed
    assert {one.pair for one in after.layouts[0].placed} == {2, 3}


def full(hide_id):
    """A hide that holds one pair of boxes and no more."""
    small = box(0, 0, ROUGH[0], 2 * ROUGH[1] + 20.0)
    return replace(hide(hide_id), outline=small, zones=(zone(outline=small),), measured_area_mm2=small.area)


def test_many_are_put_one_after_the_other_and_the_rest_is_said():
    """Of five pairs short two small hides take one each; for the other three it is proved that neither has room."""
    plan = unbacked(order=(CutLine("box", "38", 5, 5),), hides=(full("H1"), full("H2")), layouts=())
    room = room_in_plan(plan)
    (line,) = room.lines
    assert [spots[0].hide_id for spots in line.units] == ["H1", "H2"] and line.left_short == 3
    assert line.complete and line.every_heading and set(line.answers) == {"H1", "H2"}
    assert verify(room.plan).ok and judged_short(room.plan) == 6


def test_opened_hides_come_first():
    """A pair goes on a hide that the plan cuts anyhow, though a whole one stands before it."""
    plan = without(unbacked(), 1)
    plan = replace(plan, hides=plan.hides[::-1])
    assert room_in_plan(plan).lines[0].units[0][0].hide_id == "H1"


def test_hides_cut_or_withdrawn_are_not_used():
    """What is cut already and what is withdrawn is not looked at: with both hides so there is no room."""
    plan = without(unbacked(), 1)
    begun = Begun(hides=(CutHide("H1"),))
    assert room_in_plan(replace(plan, begun=begun)).looked_at == ("H2",)
    room = room_in_plan(replace(plan, begun=replace(begun, withdrawn=("H2",))))
    assert not room.looked_at and room.lines[0].left_short == 1 and not room.fits


def test_other_leathers_are_not_used():
    """A hide of another leather has no room for the style."""
    plan = without(unbacked(), 1)
    plan = replace(plan, hides=(plan.hides[0], replace(plan.hides[1], leather="suede")))
    assert room_in_plan(replace(plan, begun=Begun(hides=(CutHide("H1"),)))).looked_at == ()


def test_nothing_short():
    """A plan that meets its order is looked at no further."""
    plan = unbacked()
    room = room_in_plan(plan)
    assert not room.lines and not room.looked_at and room.complete and room.plan == plan


def test_spoiled_vamps_are_single():
    """One left vamp spoiled is one left vamp short, put without a partner: the judge agrees."""
    plan = slant_plan(begun=Begun(spoiled=(Spoiled("slant", "38", Side.LEFT, 1),)))
    (short,) = shorts(plan)
    assert (short.unit, short.count) == ("left vamp", 1)
    room = room_in_plan(plan)
    verdict = verify(room.plan)
    assert room.fits == 1 and verdict.ok and verdict.order_met


def apart(rules, hides, placed=(), order=1):
    """Leaning vamps whose pairs may come from two hides."""
    pieces = vamp("L38", "slant", foot=Foot.LEFT, net=SLANT), vamp("R38", "slant", foot=Foot.RIGHT, net=SLANT)
    return slant_plan(
        styles=(style("slant", roll="", rules=rules),), pieces=pieces, hides=tuple(hides),
        layouts=(HideLayout(hides[0].hide_id, tuple(placed)),), order=(CutLine("slant", "38", order, order),),
    )


def narrow(hide_id, quality=1):
    """A hide for a single vamp."""
    small = box(0, 0, ROUGH[0] + 4.0, ROUGH[1] + 4.0)
    return replace(hide(hide_id), outline=small, zones=(zone("z", quality, 90.0, small),), measured_area_mm2=small.area)


@pytest.mark.parametrize(
    ("rules", "second", "fits"),
    [(APART, 1, True), (APART, 2, False), (FREE, 2, True), (Rules(), 1, False)],
)
def test_pairs_over_two_hides(rules, second, fits):
    """Two hides for one vamp each: a pair if it may come from both, and of one class where that is asked for."""
    plan = apart(replace(rules, net_quality=2), [narrow("H1"), narrow("H2", second)])
    room = room_in_plan(plan)
    assert all(line.left_short == 0 for line in room.lines) is fits and room.complete
    verdict = verify(room.plan)
    assert verdict.ok and verdict.order_met is fits


def test_partner_of_a_vamp_that_lies_alone():
    """A left vamp without a partner gets a right one on another hide of its class, and both one number."""
    plan = apart(APART, [narrow("H1"), narrow("H2")], [Placed("L38", Pose(114.0, 64.0, 0.0))])
    assert judged_short(plan) == 2
    room = room_in_plan(plan)
    verdict = verify(room.plan)
    assert verdict.ok and verdict.order_met and verdict.checks.pairs == 1 and verdict.checks.unpaired == 0


def test_a_stop_keeps_what_is_found():
    """Stopped sooner or later, what is short still is not called complete, and what is put by then is right."""
    plan = without(unbacked(), 1, 2)
    kept = set()
    for heeded in range(0, 12, 2):
        calls = iter(range(1_000))
        room = room_in_plan(plan, cancelled=lambda calls=calls, last=heeded: next(calls) > last)
        kept.add(room.fits)
        assert verify(room.plan).ok
        if room.lines[0].left_short:
            assert not room.complete and "stopped" in room.lines[0].why_not_complete
    assert {0, 1} <= kept


def test_progress_is_told():
    """The listener hears of every hide, in the sequence they are looked at."""
    told = []
    room_in_plan(without(unbacked(), 1), tell=lambda *heard: told.append(heard))
    assert told == [("H1", 0, 2), ("H2", 1, 2)]


def saved(plan, tmp_path):
    """The plan as a file."""
    write_plan(plan, tmp_path / "plan.json")
    return str(tmp_path / "plan.json")


def test_the_command_says_what_would_fit(tmp_path, capsys):
    """Short with room left: code 3, the hide and the number in the table, poses in the JSON."""
    path = saved(without(unbacked(), 1), tmp_path)
    assert main(["verify", "--room", path]) == Exit.SHORT
    out = capsys.readouterr().out
    assert "1 pair of box 38" in out and "Room: of 1 pair of box 38 short, 1 would still fit." in out
    assert main(["verify", "--room", "--json", path]) == Exit.SHORT
    room = json.loads(capsys.readouterr().out)["room"]
    assert room["fits"] == 1 and room["complete"]
    assert [one["piece"] for one in room["lines"][0]["units"][0]] == ["V38", "V38"]
    assert {one["hide"] for one in room["lines"][0]["units"][0]} == {"H1"}


def test_the_command_ends_well_where_nothing_more_fits(tmp_path, capsys):
    """Short, and no hide has room, proved: code 0; without --room it is 3 as ever. Nothing short is said, too."""
    plan = unbacked(order=(CutLine("box", "38", 2, 2),), hides=(full("H1"),), layouts=(
        HideLayout("H1", in_pairs(["V38"] * 2, [(112.0, 62.0), (112.0, 200.0)])),
    ))
    path = saved(plan, tmp_path)
    assert main(["verify", path]) == Exit.SHORT
    assert main(["verify", "--room", path]) == Exit.DONE
    assert "for it no hide of 1 has room at any heading" in capsys.readouterr().out
    assert main(["verify", "--room", saved(unbacked(), tmp_path)]) == Exit.DONE
    assert "nothing is short" in capsys.readouterr().out


def test_a_wrong_plan_is_not_looked_at(tmp_path, capsys):
    """Where the checks find something wrong that is what is said: code 1."""
    plan = without(unbacked(layouts=(HideLayout("H1", in_pairs(["V38"] * 4, spots(4, pitch=(100.0, 130.0)))),)), 1)
    assert main(["verify", "--room", saved(plan, tmp_path)]) == Exit.WRONG
    assert "room is not looked for" in capsys.readouterr().out


def test_the_most_urgent_come_first():
    """Room for one pair, two styles alike short of one: the style of the row with a priority gets it, not the first.

    A row without a priority comes after one with (common practice, no source).
    """
    strip = box(0, 0, 500, 130)
    plan = unbacked(hides=(replace(hide("H1"), outline=strip, zones=(zone(outline=strip),)),))
    other = replace(vamp("W38"), style="other")
    asked = replace(
        plan, styles=(style(roll=""), style("other", roll="")), pieces=(vamp(), other), layouts=(),
        order=(CutLine("box", "38", 1, 1), CutLine("other", "38", 1, 1, (DueRow("", 1, 1),))),
    )
    found = room_in_plan(asked)
    assert [(line.short.style, len(line.units)) for line in found.lines] == [("box", 0), ("other", 1)]
    same = replace(asked, order=tuple(replace(line, rows=()) for line in asked.order))
    assert [len(line.units) for line in room_in_plan(same).lines] == [1, 0]
