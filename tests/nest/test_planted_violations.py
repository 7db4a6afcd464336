"""Every rule of the judge, broken by a tenth of a millimetre or half a degree, is found; kept by as much, it is not.

Each case is a plan in which one thing was moved across a limit, and the same plan with it moved to the allowed side.
Hides with all that lies on them are turned and moved too: where a hide was digitised, and how it lay, changes nothing.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from mutated_plans import shifted
from shapely.geometry import box
from tiny_plans import (
    HIDE_LENGTH,
    HIDE_WIDTH,
    box_plan,
    flaw,
    hide,
    lopsided,
    moved,
    rectangle,
    roll,
    slant_plan,
    style,
    with_hide,
    with_placed,
    with_rules,
    zone,
)

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.job.job import Settings
from nest.pieces.style import Allowances
from nest.plan import Begun, CutLine, HideLayout, Placed, Plan
from nest.stock.material import Leather
from nest.verify import Rule, verify

# Cut lines of the four vamps: x 8..232, 238..462, 468..692, 698..922, y 8..132; net areas 12 mm within. Gap 1 mm.
MM, DEG = 0.1, 0.5


@dataclass(frozen=True)
class Case:
    """A rule, the plan that breaks it, the plan that just keeps it, and by how much it is broken, if measured."""

    rule: Rule
    broken: Plan
    kept: Plan
    amount: float | None = MM
    others: frozenset[Rule] = frozenset()
    """Rules that are broken along with it of necessity."""


def both(rule: Rule, make, limit: float, step: float = MM, **more) -> Case:
    """A case of `make(x)`, broken beyond `limit`: towards more with a step above 0, else towards less."""
    return Case(rule, make(limit + step), make(limit - step), more.pop("amount", abs(step)), **more)


def split(y: float, upper: int | None, lower: int = 1, **rules) -> Plan:
    """Zones that meet at this y: class `lower` below, `upper` above, or none there."""
    zones = [zone("low", lower, outline=box(0, 0, HIDE_LENGTH, y))]
    if upper is not None:
        zones.append(zone("high", upper, outline=box(0, y, HIDE_LENGTH, HIDE_WIDTH)))
    return with_rules(with_hide(box_plan(), zones=tuple(zones)), **rules)


def flawed(y: float, tears=False, coverable=True, **rules) -> Plan:
    """A flaw above the first vamp that begins at this y."""
    mark = flaw(box(60, y, 180, 150), tears=tears, coverable=coverable)
    return with_rules(with_hide(box_plan(), flaws=(mark,)), **rules)


def turned(turn_deg: float, **changes) -> Plan:
    """The last vamp apart from the others, turned."""
    return moved(box_plan(**changes), 3, dx=-30.0, dy=220.0, turn_deg=turn_deg)


def on_lay(turn_deg: float, dx: float = 0.0, dy: float = 0.0) -> Plan:
    """One reinforcement on four plies, turned and moved; flat it lies x 98..302, y 108..212 of 400 × 320."""
    lay = box_plan().lays[0]
    placed = (Placed("B38", Pose(200.0 + dx, 160.0 + dy, turn_deg)),)
    return box_plan(lays=(replace(lay, plies=4, length_mm=400.0, placed=placed),))


def two_on_lay(gap: float) -> Plan:
    """Two reinforcements this far apart."""
    lay = box_plan().lays[0]
    placed = tuple(Placed("B38", Pose(150.0 + x, 160.0, 0.0)) for x in (0.0, 204.0 + gap))
    return box_plan(lays=(replace(lay, length_mm=600.0, placed=placed),))


def one_way(turn_deg: float) -> Plan:
    """One-way leather, toes to 180°, the last vamp turned from there."""
    heads = tuple(replace(p, pose=replace(p.pose, heading_deg=180.0)) for p in box_plan().layouts[0].placed)
    leathers = (replace(box_plan().leathers[0], one_way=True),)
    plan = box_plan(leathers=leathers, layouts=(HideLayout("H1", heads),))
    return moved(plan, 3, dx=-30.0, dy=220.0, turn_deg=turn_deg)


def unlike(off: float) -> Plan:
    """A right vamp with its outlines this far off the mirror image of the left one."""
    plan = slant_plan()
    left, right = plan.pieces
    net = np.array(right.net_outline)
    net[0] += (0.0, off)
    return replace(plan, pieces=(left, replace(right, net_outline=as_ring(net))))


def narrow(beyond: float) -> Plan:
    """A vamp whose net area reaches so far beyond its cut outline at both ends."""
    plan = box_plan()
    piece = replace(plan.pieces[0], cut_outline=rectangle(200.0 - 2.0 * beyond, 124.0))
    bare = style(roll="", allowances=Allowances(0.0, 0.0, 0.0, 0.0, 0.0, 0.0))
    return replace(plan, pieces=(piece,), styles=(bare,), lays=())


def bare(apart: float) -> Plan:
    """A vamp whose cut outline is this far from its net outline at both ends; the press needs 8 mm."""
    plan = box_plan()
    piece = replace(plan.pieces[0], cut_outline=rectangle(200.0 + 2.0 * apart, 124.0))
    return replace(plan, pieces=(piece,), styles=(style(roll=""),), lays=())


def withdrawn(hide_id: str) -> Plan:
    """The plan with this hide withdrawn."""
    return box_plan(begun=Begun(withdrawn=(hide_id,)))


def holed(y: float) -> Plan:
    """A hole above the first vamp that begins at this y."""
    return box_plan(hides=(hide(holes=[list(box(100, y, 120, 160).exterior.coords)]),))


def twin(apart: float) -> Plan:
    """The last vamp in the place of the first, or so far above it."""
    first = box_plan().layouts[0].placed[0]
    return with_placed(box_plan(), 3, replace(first, pose=replace(first.pose, y=first.pose.y + apart), pair=2))


CASES = {
    "left edge": both(Rule.OUTSIDE, lambda x: moved(box_plan(), 0, dx=-x), 8.0),
    "lower edge": both(Rule.OUTSIDE, lambda y: moved(box_plan(), 2, dy=-y), 8.0),
    "right edge": both(Rule.OUTSIDE, lambda x: moved(box_plan(), 3, dx=x), 78.0),
    "end of lay": both(Rule.OUTSIDE, lambda x: on_lay(0.0, dx=x), 98.0),
    "selvedge": both(Rule.OUTSIDE, lambda y: on_lay(0.0, dy=-y), 108.0),
    "hole": both(Rule.HOLE, holed, 132.0, -MM),
    "margin": both(Rule.MARGIN, lambda x: box_plan(settings=Settings(edge_margin_mm=x)), 8.0),
    "margin of one hide": both(
        Rule.MARGIN,
        lambda x: replace(box_plan(settings=Settings(edge_margin_mm=3.0)), hides=(replace(hide(), margin_mm=x - 3.0),)),
        8.0,
    ),
    "margin of a hole": both(
        Rule.MARGIN, lambda y: replace(holed(y), settings=Settings(edge_margin_mm=5.0)), 137.0, -MM
    ),
    "overlap": both(Rule.OVERLAP, lambda x: moved(box_plan(settings=Settings(hide_gap_mm=0.0)), 1, dx=-x), 6.0),
    "duplicate": Case(Rule.DUPLICATE, twin(0.005), twin(200.0), None),
    "gap": both(Rule.GAP, lambda x: moved(box_plan(), 1, dx=-x), 5.0),
    "gap on a lay": both(Rule.GAP, two_on_lay, 1.0, -MM),
    "heading": both(Rule.DIRECTION, turned, 10.0, DEG),
    "heading, other side": both(Rule.DIRECTION, turned, -10.0, -DEG),
    "heading, half turn": both(Rule.DIRECTION, turned, 190.0, DEG),
    "heading on a lay": both(Rule.DIRECTION, on_lay, 10.0, DEG),
    "bias with leave": both(Rule.DIRECTION, lambda t: with_rules(turned(t), bias_leave=True), 55.0, DEG),
    "bias with leave, other side": both(Rule.DIRECTION, lambda t: with_rules(turned(t), bias_leave=True), 35.0, -DEG),
    "one way": Case(Rule.ONE_WAY, one_way(180.0 + 10.0 - DEG), one_way(10.0 - DEG), 170.0 - DEG - 10.0 + 2 * DEG),
    "net class": both(Rule.NET_CLASS, lambda y: split(y, 2), 120.0, -MM),
    "net unzoned": both(Rule.NET_UNZONED, lambda y: split(y, None), 120.0, -MM),
    "net flaw": both(Rule.NET_FLAW, flawed, 120.0, -MM),
    "trim class": both(Rule.TRIM_CLASS, lambda y: split(y, 3, 2, net_quality=2, trim_quality=2), 132.0, -MM),
    "trim unzoned": both(Rule.TRIM_CLASS, lambda y: split(y, None, trim_quality=2), 132.0, -MM),
    "trim flaw that tears": both(Rule.TRIM_FLAW, lambda y: flawed(y, tears=True), 132.0, -MM),
    "trim flaw not coverable": both(Rule.TRIM_FLAW, lambda y: flawed(y, coverable=False), 132.0, -MM),
    "trim flaw not wanted": both(Rule.TRIM_FLAW, lambda y: flawed(y, flaws_under_trim=False), 132.0, -MM),
    "mirror, left and right": Case(Rule.MIRROR, unlike(MM), unlike(0.005), MM),
    "mirror, either foot": both(Rule.MIRROR, lopsided, 0.21, amount=None, others=frozenset({Rule.PIECE})),
    "roll length": both(Rule.ROLL_LENGTH, lambda x: box_plan(rolls=(roll(length_mm=x),)), 898.0, -MM),
    "net beyond the cut": Case(Rule.SHAPE, narrow(MM), narrow(-MM), None, frozenset({Rule.IDS, Rule.PAIR})),
    "unknown piece": Case(
        Rule.IDS, with_placed(box_plan(), 3, replace(box_plan().layouts[0].placed[3], piece_id="V99")), box_plan(), 1.0,
        frozenset({Rule.PAIR}),
    ),
    "hide twice": Case(Rule.IDS, replace(box_plan(), hides=box_plan().hides * 2), box_plan(), None),
    "other leather": Case(
        Rule.MATERIAL, with_hide(box_plan(leathers=(*box_plan().leathers, Leather("suede", 1, "m2"))), leather="suede"),
        box_plan(), 1.0,
    ),
    "pair of one": Case(
        Rule.PAIR, with_placed(box_plan(), 3, replace(box_plan().layouts[0].placed[3], pair=3)), box_plan(), 1.0
    ),
    "pair of two lefts": Case(
        Rule.PAIR, with_placed(slant_plan(), 1, replace(slant_plan().layouts[0].placed[1], piece_id="L38")),
        slant_plan(), 1.0,
    ),
    "trim allowance": Case(Rule.PIECE, bare(8.0 - 0.4), bare(8.0 - MM), 0.4),
    "margin below 0": Case(
        Rule.FIGURE, box_plan(settings=Settings(edge_margin_mm=-MM)), box_plan(settings=Settings(edge_margin_mm=0.0)),
        1.0,
    ),
    "withdrawn": Case(Rule.WITHDRAWN, withdrawn("H1"), withdrawn("H2"), 4.0),
    "one pair short": Case(Rule.SHORT, box_plan(order=(CutLine("box", "38", 3, 3),)), box_plan(), 2.0),
    "one pair over": Case(Rule.OVER, box_plan(order=(CutLine("box", "38", 1, 1),)), box_plan(), 2.0),
}

ABOUT_THE_ORDER = {Rule.SHORT, Rule.OVER}
MOTIONS = [(0.0, 0.0, 0.0), (37.3, -412.7, 1893.1), (271.9, 123_456.7, -98_765.4)]


def test_every_rule_is_among_the_cases():
    """No rule of the judge is left out."""
    assert {case.rule for case in CASES.values()} == set(Rule)


@pytest.mark.parametrize("motion", MOTIONS, ids=["as drawn", "turned", "far away"])
@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_what_is_planted_is_found(case, motion):
    """The rule is found, by the amount planted, and nothing else is claimed of the layout."""
    findings = verify(shifted(case.broken, *motion)).findings
    mine = [finding for finding in findings if finding.rule is case.rule]
    assert mine, [finding.sentence for finding in findings]
    if case.amount is not None:
        # Far away the coordinates themselves are good to 1e-11 of their size.
        assert max(finding.amount for finding in mine) == pytest.approx(case.amount, abs=1e-3)
    others = {finding.rule for finding in findings} - {case.rule} - case.others
    assert others <= ABOUT_THE_ORDER
    assert verify(case.broken).ok == (case.rule in ABOUT_THE_ORDER)


@pytest.mark.parametrize("motion", MOTIONS, ids=["as drawn", "turned", "far away"])
@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_what_is_just_right_is_not_claimed(case, motion):
    """The same thing on the allowed side of the limit is no finding."""
    verdict = verify(shifted(case.kept, *motion))
    assert verdict.ok and verdict.order_met and not verdict.findings, [one.sentence for one in verdict.findings]
