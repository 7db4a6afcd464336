"""The five-part account, yields and consumption of rectangles, every figure worked out by hand."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box
from tiny_plans import (
    BACKING,
    NET,
    ROUGH,
    box_plan,
    hide,
    in_pairs,
    rectangle,
    rectangle_lattice,
    roll,
    spots,
    style,
    two_sizes,
    vamp,
)

from geometry.lattice import densest_double_lattice
from geometry.pose import Pose
from nest.accounts import account, yields
from nest.errors import PlanProblem
from nest.job.job import Settings
from nest.pieces.piece import Role
from nest.plan import CutLine, HideLayout, Placed
from nest.rules import Rules

NET_MM2 = 200.0 * 100.0


@pytest.fixture(scope="module")
def box_accounts():
    """Accounts of the rectangular plan."""
    return account(box_plan(), lattice=rectangle_lattice)


def test_hide_in_five_parts(box_accounts):
    """Four rectangles on 1000 × 500 mm: net, trim-off, interlock for the gap of 1 mm, no faults, the rest edge."""
    assert (ROUGH, NET, BACKING) == ((224.0, 124.0), (200.0, 100.0), (204.0, 104.0))
    use = box_accounts.uses[0]
    assert (use.material_id, use.role, use.paid_mm2) == ("H1", Role.VAMP, 500_000.0)
    part = use.account
    assert part.material_mm2 == pytest.approx(500_000.0)
    assert part.net_mm2 == pytest.approx(4 * NET_MM2)
    assert part.trim_off_mm2 == pytest.approx(4 * (27_776.0 - 20_000.0))
    # A rectangle with its gap takes 225 × 125 = 28 125 mm² of the lattice, 349 more than itself.
    assert part.interlock_mm2 == pytest.approx(4 * 349.0)
    assert part.fault_mm2 == 0.0
    assert part.edge_mm2 == pytest.approx(500_000.0 - 4 * 28_125.0)
    assert box_accounts.leather == part


def test_lay_in_five_parts(box_accounts):
    """Two plies of 409 mm plus twice 20 mm, 340 mm wide: selvedges and ends are edge waste."""
    use = box_accounts.uses[1]
    assert (use.material_id, use.role, use.length_mm) == ("L1", Role.REINFORCEMENT, 898.0)
    part = use.account
    assert part.material_mm2 == pytest.approx(898.0 * 340.0)
    assert part.net_mm2 == pytest.approx(4 * NET_MM2)
    assert part.trim_off_mm2 == pytest.approx(4 * (21_216.0 - 20_000.0))
    # 205 × 105 = 21 525 in the lattice, 309 more than 204 × 104.
    assert part.interlock_mm2 == pytest.approx(4 * 309.0)
    assert part.selvedge_mm2 == pytest.approx(898.0 * 20.0)
    assert part.ends_mm2 == pytest.approx(2 * 40.0 * 320.0)
    assert part.edge_mm2 == pytest.approx(898.0 * 340.0 - 4 * 21_525.0)


def test_yields(box_accounts):
    """Cutting yield counts the rough area, net yield the net area; for the order they are those of the sums."""
    found = yields(box_accounts.uses[0].account)
    assert found.cutting == pytest.approx(4 * 27_776 / 500_000) and found.net == pytest.approx(0.16)
    lay = yields(box_accounts.reinforcement)
    assert lay.cutting == pytest.approx(4 * 21_216 / 305_320)
    assert yields(account(box_plan(layouts=()), lattice=rectangle_lattice).leather).cutting == 0.0


def test_consumption_per_pair(box_accounts):
    """Two pairs from half a square metre take 25 dm² each, 2.6910 ft²; 449 mm of the roll each."""
    size, by_style, order = box_accounts.leather_consumption
    assert [(row.style, row.size) for row in (size, by_style, order)] == [("box", "38"), ("box", ""), ("", "")]
    pair = size.per_pair()
    assert pair.pairs == 1.0
    assert pair.gross_mm2 / 1e4 == pytest.approx(25.0)
    # 1 ft² = 9.290304 dm² exactly.
    assert pair.gross_mm2 / 1e4 / 9.290304 == pytest.approx(2.6909776)
    assert pair.net_mm2 == pytest.approx(40_000.0) and pair.rough_mm2 == pytest.approx(55_552.0)
    assert order.pairs == 2.0 and order.gross_mm2 == pytest.approx(500_000.0)
    backing = box_accounts.reinforcement_consumption[0].per_pair()
    assert backing.length_mm == pytest.approx(449.0) and backing.gross_mm2 == pytest.approx(449.0 * 340.0)


def test_paid_area_is_the_measured_one():
    """A hide measured larger than its outline is paid for as measured; the difference is a line of its own."""
    plan = box_plan(hides=(hide(measured=520_000.0),))
    found = account(plan, lattice=rectangle_lattice)
    pair = found.leather_consumption[-1].per_pair()
    assert pair.gross_mm2 == pytest.approx(260_000.0) and pair.measure_mm2 == pytest.approx(10_000.0)
    assert found.leather.material_mm2 == pytest.approx(500_000.0)
    assert any("+4.0%" in note for note in found.notes)


def test_waste_is_shared_by_rough_area():
    """A size with twice the rough area bears twice the waste of a hide, of every kind."""
    small, large, *_ = account(two_sizes(), lattice=rectangle_lattice).leather_consumption
    assert (small.size, large.size) == ("38", "44")
    assert large.rough_mm2 == pytest.approx(2 * small.rough_mm2)
    for part in ("interlock_mm2", "edge_mm2", "gross_mm2"):
        assert getattr(large, part) == pytest.approx(2 * getattr(small, part))
    assert large.gross_mm2 + small.gross_mm2 == pytest.approx(500_000.0)


def test_interlock_is_capped_by_what_is_left():
    """Where cuts fill a hide better than one size's best lattice, nothing goes below zero and the cap is said."""
    tight = hide(zones=[])
    outline = box(0, 0, 2 * 224.0 + 1.0, 124.0)
    plan = box_plan(
        hides=(replace(tight, outline=outline, measured_area_mm2=outline.area),), lays=(), styles=(style(roll=""),),
        layouts=(HideLayout("H1", in_pairs(["V38"] * 2, [(112.0, 62.0), (337.0, 62.0)])),),
    )
    found = account(plan, lattice=rectangle_lattice)
    part = found.uses[0].account
    # Only the slit of 1 × 124 mm is left; the lattice would leave 349 mm² a piece.
    assert part.interlock_mm2 == pytest.approx(124.0) and part.edge_mm2 == pytest.approx(0.0, abs=1e-6)
    assert part.interlock_capped_mm2 == pytest.approx(2 * 349.0 - 124.0)
    assert any("capped" in note for note in found.notes)


def test_parts_on_their_own_agree_with_geometry(box_accounts):
    """Waste, worked out as hide less everything cut by polygon difference, is the sum of its three parts."""
    plan = box_plan()
    cuts = shapely.union_all([Polygon(one.pose.apply(plan.piece("V38").cut_outline)) for one in plan.layouts[0].placed])
    assert box_accounts.uses[0].account.waste_mm2 == pytest.approx(plan.hides[0].outline.difference(cuts).area)


def test_the_real_lattice_gives_the_same():
    """With the lattice of the program itself, a rectangle under a gap leaves what elementary tiling leaves."""
    real = account(box_plan(), lattice=densest_double_lattice)
    # The gap may come out half a percent too wide: 1.005 mm takes 350.7 and 310.5 mm².
    assert 4 * 349.0 - 1e-3 <= real.uses[0].account.interlock_mm2 <= 4 * 350.8
    assert 4 * 309.0 - 1e-3 <= real.uses[1].account.interlock_mm2 <= 4 * 310.6


def test_one_way_goods_interlock_without_half_turns():
    """An outline that fills nine tenths with half turns and half without: on goods with a way the half counts."""
    plan = box_plan()
    leathers = tuple(replace(one, one_way=True) for one in plan.leathers)
    rolls = tuple(replace(one, one_way=True) for one in plan.rolls)
    found, pairs = {}, {}
    for name, changes in {"free": {}, "leather": {"leathers": leathers}, "roll": {"rolls": rolls}}.items():
        accounts = account(
            box_plan(**changes), lattice=lambda ring, gap: SimpleNamespace(density=0.9),
            straight=lambda ring, gap: SimpleNamespace(density=0.5),
        )
        found[name] = [round(use.account.interlock_mm2 / use.account.rough_mm2, 6) for use in accounts.uses]
        pairs[name] = accounts.standard.estimate.takes["box", "38"]
    assert found["free"] == [pytest.approx(1 / 0.9 - 1, abs=1e-6)] * 2
    assert found["leather"] == [1.0, found["free"][1]]
    assert found["roll"][0] == found["free"][0] and found["roll"][1] > 3.0 * found["free"][1]
    # So does the standard cost: two vamps of 27 776 mm² and two backings of 21 216 mm² at the density that holds.
    for name, vamps, backings in (("free", 0.9, 0.9), ("leather", 0.5, 0.9), ("roll", 0.9, 0.5)):
        assert pairs[name].use.parallelogram_mm2 == pytest.approx(2 * 27_776.0 / vamps)
        assert pairs[name].backing_mm2 == pytest.approx(2 * 21_216.0 / backings)


def test_empty_layouts_are_left_out():
    """Hides and lays with nothing on them have no account, and an empty plan costs nothing."""
    plan = box_plan(layouts=(HideLayout("H1", ()),), lays=(replace(box_plan().lays[0], placed=()),))
    found = account(plan, lattice=rectangle_lattice)
    assert found.uses == () and found.cost.total == 0 and found.leather_consumption == () and found.trim == ()


def test_unknown_ids_are_a_plan_problem():
    """A plan that names what it does not hold is refused in one sentence."""
    with pytest.raises(PlanProblem, match="verify the plan"):
        account(box_plan(layouts=(HideLayout("H7", in_pairs(["V38"], spots(1))),)), lattice=rectangle_lattice)


def opened(ground, ring):
    """A quick stand-in for the inner-fit test: the ground moved inwards by 60 mm, whatever the ring."""
    return ground.buffer(-60.0)


@st.composite
def random_plans(draw):
    """Rectangles of two sizes anywhere on two or three hides of random size, some flawed; not a valid plan."""
    sizes = {size: (draw(st.floats(100, 300)), draw(st.floats(60, 150))) for size in ("37", "38", "39")}
    pieces = tuple(vamp(f"V{size}", size=size, net=rectangle(*net)) for size, net in sizes.items())
    hides, layouts = [], []
    for i in range(draw(st.integers(1, 3))):
        length, width = draw(st.floats(2000, 3000)), draw(st.floats(900, 1300))
        outline = box(0, 0, length, width)
        paid = outline.area * draw(st.floats(0.95, 1.05))
        hides.append(replace(hide(f"H{i}"), outline=outline, measured_area_mm2=paid))
        ids = draw(st.lists(st.sampled_from(sorted(sizes)), min_size=1, max_size=12))
        places = [(230.0 + 340.0 * (n % 5), 150.0 + 190.0 * (n // 5)) for n in range(len(ids))]
        placed = tuple(Placed(f"V{size}", Pose(x, y, 0.0)) for size, (x, y) in zip(ids, places, strict=True))
        layouts.append(HideLayout(f"H{i}", placed))
    order = tuple(CutLine("box", size, 9, 10) for size in sizes)
    lays = draw(st.sampled_from([(), box_plan().lays]))
    return box_plan(pieces=(*pieces, *box_plan().pieces[1:]), hides=tuple(hides), layouts=tuple(layouts), order=order,
                    lays=lays, settings=Settings(hide_gap_mm=draw(st.floats(0, 5))),
                    rolls=(roll(end_loss_mm=draw(st.floats(0, 50))),), styles=(style(rules=Rules()),))


@settings(max_examples=30, deadline=None)
@given(random_plans())
def test_everything_adds_up(plan):
    """Parts add up to the material, sizes to the materials, pairs and money to their totals; nothing is below zero."""
    found = account(plan, lattice=rectangle_lattice, inner_fit=opened)
    for use in found.uses:
        part = use.account
        assert part.rough_mm2 + part.waste_mm2 == pytest.approx(part.material_mm2, rel=1e-6)
        assert min(part.net_mm2, part.trim_off_mm2, part.interlock_mm2, part.fault_mm2) >= 0.0
        assert part.edge_mm2 >= -1e-6 and part.selvedge_mm2 + part.ends_mm2 <= part.edge_mm2 + 1e-6
        assert sum(one.share for one in use.sizes) == pytest.approx(1.0)
    for rows, role in ((found.leather_consumption, Role.VAMP), (found.reinforcement_consumption, Role.REINFORCEMENT)):
        uses = [use for use in found.uses if use.role is role]
        if rows:
            *by_size, _, order = rows
            for name in ("gross_mm2", "net_mm2", "edge_mm2", "pairs", "length_mm"):
                total = sum(getattr(row, name) for row in by_size)
                assert total == pytest.approx(getattr(order, name), rel=1e-9, abs=1e-6)
            assert order.gross_mm2 == pytest.approx(sum(use.paid_mm2 for use in uses), rel=1e-9)
    cost = found.cost
    assert sum(row.amount for row in cost.materials) == sum(cost.by_kind.values()) == cost.total
    assert sum(row.total for row in cost.sizes) == sum(row.total for row in cost.styles) == cost.total
    for kind, amount in cost.by_kind.items():
        assert sum(row.amount for row in cost.materials if row.kind is kind) == amount
    for row in cost.rows:
        assert row.per_pair is None or sum(row.per_pair) == row.good_pair
    *lines, whole = found.trim
    assert sum(line.leather_share for line in lines) == whole.leather_share <= cost.by_kind["leather"]
    assert sum(line.avoidable for line in lines) == whole.avoidable <= whole.leather_share
