"""Rolls: direction of the stretch, sections, joints, goods too short or too narrow."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from box_jobs import ROWS, job, roll, style
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.pieces.piece import Foot, Piece, Role
from nest.planning.make import make_plan
from nest.planning.rolls import LARGE_REST, MOST_KINDS, MOST_PIECES, Section, joined, push, sections
from nest.rules import Rules, deviation_deg
from nest.stock.material import RollStretch
from nest.verify import Rule, verify


def laid(pairs=4, *, lean=0.0, across=100.0, rules=None, **roll_changes):
    """A plan of reinforcements alone."""
    styles = [style(roll="knit", lean=lean, width=across, rules=rules or Rules())]
    asked = job(styles=styles, order=[("box", "38", pairs)], hides=[], rolls=[roll(**roll_changes)])
    return make_plan(asked, passes=1, engine=ROWS)


def wrong(plan):
    """What the judge finds wrong with the layout; missing leather is no matter here."""
    return [finding.sentence for finding in verify(plan).wrong]


def some_piece(name, ring):
    """A reinforcement of any outline."""
    return Piece(name, "s", "38", Foot.EITHER, Role.REINFORCEMENT, as_ring(ring), as_ring(ring))


def test_every_reinforcement_is_laid_once():
    """Four pairs: eight pieces on one ply, and nothing wrong."""
    plan = laid(4)
    (lay,) = plan.lays
    assert (len(lay.placed), lay.plies) == (8, 1)
    assert not wrong(plan)
    assert not any(f.rule is Rule.SHORT and "reinforcement" in f.sentence for f in verify(plan).findings)


def test_left_and_right_are_laid_mirrored_in_equal_number():
    """A style with left and right: as many of each, both the same face up."""
    plan = laid(3, lean=20.0)
    feet = [plan.piece(placed.piece_id).foot for placed in plan.lays[0].placed]
    assert sorted(feet) == [Foot.LEFT] * 3 + [Foot.RIGHT] * 3
    assert not wrong(plan)


def test_turning_the_stretch_by_90_turns_the_pieces_by_90():
    """Stretch over the width: toes along the roll; stretch along the roll: toes over its width."""
    over, along = laid(), laid(stretch=RollStretch.LENGTH)
    for plan, target in ((over, 0.0), (along, 90.0)):
        assert all(deviation_deg(placed.pose.heading_deg, target) <= 10.0 + 1e-6 for placed in plan.lays[0].placed)
        assert not wrong(plan)


@settings(deadline=None, max_examples=15)
@given(st.sampled_from(list(RollStretch)), st.floats(0.0, 30.0), st.booleans())
def test_toes_never_lie_along_the_stretch(stretch, tolerance, bias):
    """Whatever the tolerance and leave, no piece lies along the stretch, and bias needs leave."""
    plan = laid(2, rules=Rules(tolerance_deg=round(tolerance, 1), bias_leave=bias), stretch=stretch)
    rolled = plan.rolls[0]
    for placed in plan.lays[0].placed:
        off = deviation_deg(placed.pose.heading_deg, rolled.stretch_deg)
        assert off > 14.0
        assert bias or abs(off - 90.0) <= tolerance + 0.1


def test_bias_is_a_way_out_only():
    """With leave a piece still lies across where it fits; on goods too narrow for that it lies at bias.

    204 × 44 mm at 45° needs (204 + 44) / √2 = 175 mm of width, less than the 204 mm it needs at 90°.
    """
    leave = Rules(tolerance_deg=2.0, bias_leave=True)
    along, over = RollStretch.LENGTH, RollStretch.WIDTH
    for width, stretch, offs in ((500.0, along, {90}), (210.0, along, {45}), (210.0, over, {90})):
        plan = laid(2, across=40.0, rules=leave, width_mm=width, stretch=stretch)
        offs_found = {round(deviation_deg(p.pose.heading_deg, plan.rolls[0].stretch_deg) / 45.0) * 45
                      for p in plan.lays[0].placed}
        assert offs_found == offs
    strict = replace(leave, bias_leave=False)
    assert not laid(2, across=40.0, rules=strict, width_mm=210.0, stretch=along).lays


def test_one_way_goods_have_all_toes_one_way():
    """No half turns on one-way goods."""
    plan = laid(one_way=True)
    assert all(deviation_deg(p.pose.heading_deg, 180.0, one_way=True) <= 10.0 + 1e-6 for p in plan.lays[0].placed)
    assert not wrong(plan)


def test_a_roll_too_short_gives_what_it_can_and_says_how_much_is_missing():
    """On 600 mm with 20 mm lost at each end four pieces of 204 mm, two abreast, find place; the plan stays right."""
    needs = laid(4).lays[0].length_mm + 40.0
    plan = laid(4, length_mm=400.0, width_mm=240.0)
    assert len(plan.lays[0].placed) < 8
    assert not wrong(plan)
    (said,) = [warning for warning in plan.warnings if "are short" in warning]
    assert "0.40 m" in said and needs > 0.0
    longer = laid(4, width_mm=240.0)
    missing = longer.lays[0].length_mm + 40.0 - 400.0
    assert f"{missing / 1000.0:.2f} m are short" in said


def test_a_roll_too_narrow_is_said():
    """A reinforcement of 104 mm does not lie on 80 mm."""
    plan = laid(width_mm=100.0)
    assert not plan.lays
    assert any("wider roll" in warning for warning in plan.warnings)


@given(st.lists(st.integers(1, 400), min_size=1, max_size=12))
def test_sections_hold_the_order_and_stay_small(numbers):
    """All sections together hold what is needed; what is solved at once stays near the limit."""
    pieces = [some_piece(str(i), [(0, 0), (1, 0), (1, 1)]) for i in range(len(numbers))]
    needed = dict(zip(pieces, numbers, strict=True))
    parts = sections(needed)
    for piece, number in needed.items():
        assert sum(counts.get(piece, 0) * times for counts, times in parts) == number
    assert len(parts) <= 4 * (len(numbers) // MOST_KINDS + 1)
    assert all(sum(counts.values()) <= 1.5 * MOST_PIECES + LARGE_REST for counts, _ in parts)


def test_many_sizes_are_laid_in_groups_of_neighbours():
    """Fourteen kinds of seven sizes: two groups, no size parted, sizes in sequence."""
    ring = [(0, 0), (1, 0), (1, 1)]
    pieces = [replace(some_piece(f"{size}{foot}", ring), size=str(size)) for size in range(36, 43) for foot in "LR"]
    parts = sections({piece: 4 for piece in pieces})
    found = [sorted({piece.size for piece in counts}) for counts, _ in parts]
    assert found == [["36", "37", "38", "39"], ["40", "41", "42"]]


def test_a_small_order_is_one_section():
    """Up to the limit the strip is solved in one go."""
    piece = some_piece("a", [(0, 0), (1, 0), (1, 1)])
    assert sections({piece: MOST_PIECES}) == [({piece: MOST_PIECES}, 1)]


def test_push_of_triangles_interlocks():
    """Two right triangles with their slopes towards each other: the second is pushed back along the slope.

    At the height of both, (100, 0)-(0, 100) against its half-turned copy with the slope at the same place: they touch
    without any push.
    """
    lower = some_piece("a", [(0, 0), (100, 0), (0, 100)])
    upper = some_piece("b", [(100, 0), (100, 100), (0, 100)])
    at = Pose(0.0, 0.0, 0.0)
    assert push([(lower, at)], [(upper, at)], 0.0) == pytest.approx(0.0, abs=1e-9)
    assert push([(lower, at)], [(lower, at)], 0.0) == pytest.approx(100.0)
    gap = push([(lower, at)], [(upper, at)], 2.0)
    # Round corners of a gap are drawn up to 0.5 % too far out, never too near.
    assert 2.0 * np.sqrt(2.0) - 1e-9 <= gap <= 1.005 * 2.0 * np.sqrt(2.0)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.integers(1, 3), st.sampled_from([0.0, 0.5, 1.0, 3.0]))
def test_joined_sections_keep_the_gap(seed, times, gap):
    """However ragged the ends, pieces of different sections stand at least the gap apart; none is lost."""
    rng = np.random.default_rng(seed)
    parts = []
    for s in range(2):
        placed = []
        for i in range(3):
            angles = np.sort(rng.uniform(0, 2 * np.pi, 6))
            ring = shapely.convex_hull(shapely.multipoints(np.c_[np.cos(angles), np.sin(angles)] * 40.0))
            if ring.geom_type != "Polygon" or ring.area < 200.0:
                continue
            piece = some_piece(f"{s}{i}", shapely.get_coordinates(ring)[:-1])
            placed.append((piece, Pose(50.0 + float(rng.uniform(0, 60)), 50.0 + 100.0 * i, 0.0)))
        if placed:
            parts.append(Section(tuple(placed), times))
    if not parts:
        return
    together = joined(parts, gap)
    assert len(together) == sum(len(part.placed) * part.times for part in parts)
    shapes = [shapely.Polygon(pose.apply(piece.cut_outline)) for piece, pose in together]
    for a, b in combinations(shapes, 2):
        assert shapely.distance(a, b) >= gap - 0.002
        assert shapely.intersection(a, b).area < 0.05


def test_two_styles_share_a_roll():
    """Two styles on one roll lie on one lay, each by its own rules."""
    styles = [style("box", roll="knit"), style("loaf", roll="knit", lean=20.0, rules=Rules(tolerance_deg=0.0))]
    asked = job(styles=styles, order=[("box", "38", 2), ("loaf", "38", 2)], hides=[], rolls=[roll()])
    plan = make_plan(asked, passes=1, engine=ROWS)
    (lay,) = plan.lays
    assert len(lay.placed) == 8
    assert not wrong(plan)
    for placed in lay.placed:
        if plan.piece(placed.piece_id).style == "loaf":
            assert deviation_deg(placed.pose.heading_deg, 0.0) == pytest.approx(0.0)


def test_a_large_order_is_laid_in_sections_without_loss():
    """A hundred pairs, 200 pieces: more than one section, all laid, none nearer than the gap."""
    plan = laid(100)
    assert len(plan.lays[0].placed) == 200
    assert not wrong(plan)
    small = replace(plan.rolls[0], width_mm=500.0)
    assert plan.lays[0].length_mm * small.usable_width_mm > 200 * 204 * 104

