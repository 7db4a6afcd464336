"""The last step of a plan: what is short goes wherever the exact search finds room."""

from dataclasses import replace

import pytest
from box_jobs import job
from shapely.geometry import box
from tiny_plans import hide, style, vamp

from nest.placement.budget import Budget
from nest.plan import CutLine, HideLayout, Placed, Plan
from nest.planning.fill import LeatherTask
from nest.planning.lastroom import complete_exactly
from nest.planning.offer import see_hide
from nest.planning.run import Run, TimeShare
from nest.planning.wants import Want
from nest.planning.watch import Watch
from nest.room.hide import HideLeft
from nest.rules import Rules
from nest.stock.material import Hide
from nest.verify import verify


def want(count, size="38", rules=None, scale=1.0):
    """So many pairs of boxes."""
    piece = vamp(f"V{size}", size=size, net=[(x * scale, y) for x, y in vamp().net_outline])
    return Want("box", size, (piece, piece), count, rules or Rules(), 2 * 224.0 * 124.0 * scale)


def task(wants, hides, cancelled=lambda: False, heard=None):
    """A task without an engine: the last step searches by itself."""
    settings = job().settings
    seen = [see_hide(one, wants, settings, one_way=False) for one in hides]
    run = Run(None, 1, Budget(passes=10, cancelled=cancelled), Watch(heard, sum(2 * one.count for one in wants)))
    return LeatherTask(wants, seen, [100 + k for k in range(len(hides))], settings, run)


def plan_of(made, placed):
    """The units as a plan, for the judge."""
    layouts, pair = [], 0
    for at, units in placed.items():
        mine = []
        for unit in units:
            pair += 1
            pieces = made.wants[unit.want].pieces
            mine += [Placed(piece.piece_id, pose, pair) for piece, pose in zip(pieces, unit.poses, strict=True)]
        layouts.append(HideLayout(made.seen[at].hide.hide_id, tuple(mine)))
    return Plan(
        "last", (style(roll="", rules=made.wants[0].rules),),
        tuple(CutLine(one.style, one.size, one.count, one.count) for one in made.wants),
        tuple(one.pieces[0] for one in made.wants), job().leathers, tuple(one.hide for one in made.seen), (),
        made.settings, tuple(layouts), (),
    )


def small(hide_id):
    """A hide with room for one pair."""
    outline = box(0, 0, 240.0, 280.0)
    whole = hide(hide_id)
    return replace(whole, outline=outline, zones=(replace(whole.zones[0], outline=outline),),
                   measured_area_mm2=outline.area)


def test_all_that_is_short_is_put_and_judged():
    """Two sizes short on two empty hides are put, the opened hide first; the judge passes it and the order is met."""
    made = task([want(2), want(1, "44", scale=1.3)], [hide("H1"), hide("H2")])
    first = complete_exactly(made, {}, [1, 0])
    assert set(first.placed) == {0}
    done = complete_exactly(made, {1: first.placed[0]}, [1, 1])
    assert done.short == (0, 0) and done.complete and set(done.placed) == {1}
    assert done.placed[1][0] == first.placed[0][0]
    verdict = verify(plan_of(made, done.placed))
    assert verdict.ok and verdict.order_met


def test_what_finds_no_room_stays_short_proved():
    """Of three pairs two small hides take one each; one stays short, and it is proved that neither has room for it."""
    made = task([want(3)], [small("H1"), small("H2")])
    done = complete_exactly(made, {}, [3])
    assert done.short == (1,) and done.complete and done.every_heading
    assert verify(plan_of(made, done.placed)).ok


@pytest.mark.parametrize("how", ["cancelled", "out of time"])
def test_cut_short_it_is_not_complete(how):
    """Cancelled or without time nothing is put, and nothing is claimed."""
    made = task([want(1)], [hide("H1")], cancelled=lambda: how == "cancelled")
    share = TimeShare(made.run, 0.0) if how == "out of time" else None
    done = complete_exactly(made, {}, [1], share)
    assert done.short == (1,) and not done.complete and not done.placed


def test_the_listener_hears_of_it():
    """Hides and pieces are told as they are put."""
    heard = []
    made = task([want(1)], [hide("H1")], heard=heard.append)
    made.run.watch.settle(4)
    complete_exactly(made, {}, [1])
    assert [(one.stage, one.material_id, one.done_pieces) for one in heard] == [("room", "H1", 4), ("room", "H1", 6)]


def test_leave_for_bias_is_used_at_last():
    """A hide on which a pair lies at bias only is room with leave, as the rules of the style say, and none without."""
    whole = small("H1")
    turned = replace(whole, zones=(replace(whole.zones[0], stretch_deg=45.0),))
    assert isinstance(turned, Hide)
    for leave, short in ((False, 1), (True, 0)):
        made = task([want(1, rules=Rules(bias_leave=leave))], [turned])
        done = complete_exactly(made, {}, [1])
        assert done.short == (short,) and done.complete


def test_looking_for_room_ends_with_its_time(monkeypatch):
    """Once the share of time is used up no hide and no unit is begun, however many are short; and it says so."""
    asked, looked = [], HideLeft.room_for

    class TwoLooks:
        """A share of time that two looks use up."""

        @property
        def left(self):
            return 1.0 if len(asked) < 2 else 0.0

    def look(room, wanted, **how):
        asked.append(wanted)
        return looked(room, wanted, **how)

    monkeypatch.setattr(HideLeft, "room_for", look)
    wants = [want(1, str(size), scale=1.0 + 0.02 * size) for size in range(4)]
    hides = [small(f"H{number}") for number in range(3)]
    found = complete_exactly(task(wants, hides), {}, [9] * 4, TwoLooks())
    assert len(asked) == 2 and not found.complete and not found.every_heading
    asked.clear()
    assert complete_exactly(task(wants, hides), {}, [9] * 4).complete and len(asked) > 12
