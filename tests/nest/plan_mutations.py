"""Ways to make a plan contradict itself, each with the rule of the judge that finds it and words of its sentence.

Each changes one thing of the plan of `stated_plans`, as a hand in the file or a slip in a program would.
"""

import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
from tiny_plans import with_rules

from geometry.pose import Pose
from geometry.precision import on_grid
from nest.pieces.crimping import Crimping
from nest.pieces.piece import Foot, Part, Role
from nest.pieces.style import WeightRow
from nest.plan import CutHide, Plan, Side, Spoiled, UsedRoll
from nest.verify import Rule


def style(plan: Plan, at: int = 0, **changes) -> Plan:
    """The plan with fields of one style replaced."""
    return replace(plan, styles=_with(plan.styles, at, **changes))


def allowance(plan: Plan, **changes) -> Plan:
    """The plan with allowances of its first style replaced."""
    return style(plan, allowances=replace(plan.styles[0].allowances, **changes))


def crimping(plan: Plan, **stated) -> Plan:
    """The plan with what is stated of the crimping of its first style."""
    return style(plan, crimping=Crimping(**stated))


def settings(plan: Plan, **changes) -> Plan:
    """The plan with some of its settings replaced."""
    return replace(plan, settings=replace(plan.settings, **changes))


def line(plan: Plan, at: int, **changes) -> Plan:
    """The plan with an order line replaced in part."""
    return replace(plan, order=_with(plan.order, at, **changes))


def roll(plan: Plan, **changes) -> Plan:
    """The plan with its roll replaced in part."""
    return replace(plan, rolls=_with(plan.rolls, 0, **changes))


def lay(plan: Plan, **changes) -> Plan:
    """The plan with the lay that is still to cut replaced in part."""
    return replace(plan, lays=_with(plan.lays, 1, **changes))


def hide(plan: Plan, **changes) -> Plan:
    """The plan with the hide that is still to cut replaced in part."""
    return replace(plan, hides=_with(plan.hides, 1, **changes))


def ground(plan: Plan, **changes) -> Plan:
    """The plan with a zone of the hide that is still to cut replaced in part."""
    return hide(plan, zones=_with(plan.hides[1].zones, 0, **changes))


def issue(plan: Plan, **changes) -> Plan:
    """The plan with the figures of the choice of hides replaced in part."""
    return replace(plan, issues=_with(plan.issues, 0, **changes))


def piece(plan: Plan, piece_id: str, **changes) -> Plan:
    """The plan with fields of one piece replaced."""
    at = [one.piece_id for one in plan.pieces].index(piece_id)
    return replace(plan, pieces=_with(plan.pieces, at, **changes))


def _with(items: tuple, at: int, **changes) -> tuple:
    return (*items[:at], replace(items[at], **changes), *items[at + 1 :])


def placed(plan: Plan, at: int, layout: int = 1, **changes) -> Plan:
    """The plan with one placement on a hide replaced, by default on the one that is still to cut."""
    changed = _with(plan.layouts[layout].placed, at, **changes)
    return replace(plan, layouts=_with(plan.layouts, layout, placed=changed))


def exchanged(plan: Plan, one: str, other: str, *names: str) -> Plan:
    """The plan with fields of two pieces exchanged."""
    a, b = plan.piece(one), plan.piece(other)
    plan = piece(plan, one, **{name: getattr(b, name) for name in names})
    return piece(plan, other, **{name: getattr(a, name) for name in names})


def scaled(ring, by: float):
    """A ring a little larger or smaller about the origin."""
    return on_grid(np.asarray(ring) * by)


def template(plan: Plan, at: int = 0, **changes) -> Plan:
    """The plan with fields of one template of its first style replaced."""
    return style(plan, templates=_with(plan.styles[0].templates, at, **changes))


def begun(plan: Plan, **changes) -> Plan:
    """The plan with what is cut replaced in part."""
    return replace(plan, begun=replace(plan.begun, **changes))


def bound(plan: Plan, **changes) -> Plan:
    """The plan with its first bound replaced in part."""
    return replace(plan, bounds=_with(plan.bounds, 0, **changes))


def one_way(plan: Plan) -> Plan:
    """The goods one-way: toes lie along 0°, and should lie along 180°."""
    return replace(plan, leathers=_with(plan.leathers, 0, one_way=True))


L39, R39, B39 = "river-39-L", "river-39-R", "river-39-L-reinf"
RINGS = ("cut_outline", "net_outline")

MUTATIONS = {
    # pieces
    "cut is net": (lambda p: piece(p, L39, cut_outline=p.piece(L39).net_outline), Rule.PIECE, "allowance of 0.00 mm"),
    "cut smaller": (lambda p: piece(p, L39, cut_outline=scaled(p.piece(L39).cut_outline, 0.99)), Rule.PIECE, "trim"),
    "cut larger": (lambda p: piece(p, L39, cut_outline=scaled(p.piece(L39).cut_outline, 1.01)), Rule.PIECE, "beyond"),
    "net smaller": (lambda p: piece(p, L39, net_outline=scaled(p.piece(L39).net_outline, 0.99)), Rule.PIECE, "off the"),
    "size named otherwise": (lambda p: piece(p, L39, size="40"), Rule.PIECE, "template of size 40"),
    "size unknown": (lambda p: piece(p, L39, size="47"), Rule.PIECE, "no template"),
    "sizes exchanged": (lambda p: exchanged(p, L39, "river-40-L", "size"), Rule.PIECE, "off the template"),
    "outlines exchanged": (lambda p: exchanged(p, L39, "river-40-L", *RINGS), Rule.PIECE, "off the template"),
    "feet exchanged": (lambda p: exchanged(p, L39, R39, "foot"), Rule.PIECE, "off the template"),
    "both feet turned over": (lambda p: exchanged(p, L39, R39, *RINGS), Rule.PIECE, "off the template"),
    "either foot said": (lambda p: piece(p, L39, foot=Foot.EITHER), Rule.MIRROR, "mirror image"),
    "foot said of either": (lambda p: piece(p, "brook-39", foot=Foot.LEFT), Rule.PAIR, "feet left and left"),
    "role said otherwise": (lambda p: piece(p, L39, role=Role.REINFORCEMENT), Rule.MATERIAL, "does not belong"),
    "style said otherwise": (lambda p: piece(p, L39, style="brook"), Rule.PIECE, "off the template"),
    "style unknown": (lambda p: piece(p, L39, style="lake"), Rule.IDS, "lake"),
    "piece twice": (lambda p: replace(p, pieces=(*p.pieces, p.pieces[0])), Rule.IDS, "given 2 times"),
    "piece twice by another id": (
        lambda p: replace(p, pieces=(*p.pieces, replace(p.pieces[0], piece_id="again"))), Rule.PIECE, "second vamp"
    ),
    "piece id unknown": (lambda p: placed(p, 0, piece_id="lost"), Rule.IDS, "no usable piece"),
    "backing smaller": (
        lambda p: piece(p, B39, cut_outline=scaled(p.piece(B39).cut_outline, 0.99),
                        net_outline=scaled(p.piece(B39).net_outline, 0.98)), Rule.PIECE, "inwards",
    ),
    "backing as large as the vamp": (
        lambda p: piece(p, B39, cut_outline=p.piece(L39).cut_outline), Rule.PIECE, "inwards"
    ),
    "backing with another net": (
        lambda p: piece(p, B39, net_outline=scaled(p.piece(B39).net_outline, 0.98)), Rule.PIECE, "net outline"
    ),
    "backing of another size": (lambda p: exchanged(p, B39, "river-40-L-reinf", *RINGS), Rule.PIECE, "inwards"),
    # what a style states
    "toe allowance up": (lambda p: allowance(p, toe_mm=16.0), Rule.PIECE, "trim allowance"),
    "side allowance up": (lambda p: allowance(p, side_mm=13.0), Rule.PIECE, "trim allowance"),
    "back allowance down": (lambda p: allowance(p, back_mm=8.5), Rule.PIECE, "beyond"),
    "allowance of a size gone": (lambda p: allowance(p, by_size=()), Rule.PIECE, "beyond"),
    "least allowance above it": (lambda p: allowance(p, least_toe_mm=20.0), Rule.FIGURE, "toe allowance"),
    "allowance below 0": (lambda p: allowance(p, back_mm=-1.0), Rule.FIGURE, "back allowance"),
    "allowance no number": (lambda p: allowance(p, side_mm=math.nan), Rule.FIGURE, "side allowance"),
    "widening up": (lambda p: style(p, widening_percent=6.0), Rule.PIECE, "beyond"),
    "widening gone": (lambda p: style(p, widening_percent=0.0), Rule.PIECE, "trim allowance"),
    "inset up": (lambda p: style(p, reinforcement_inset_mm=10.0), Rule.PIECE, "inwards by 10 mm"),
    "inset beyond the piece": (lambda p: style(p, reinforcement_inset_mm=400.0), Rule.PIECE, "no place"),
    "thickness below nothing": (lambda p: style(p, thickness_mm=-1.0), Rule.FIGURE, "thickness_mm"),
    "weights exchanged": (
        lambda p: style(p, weight_table=(WeightRow(1.5, 120.0, 80.0),)), Rule.FIGURE, "least_g_m2 is 120"
    ),
    "batches of no pairs": (lambda p: crimping(p, batch_pairs=0), Rule.FIGURE, "batch_pairs"),
    "plates too hot": (lambda p: crimping(p, crimp_celsius=900.0), Rule.FIGURE, "crimp_celsius"),
    "bond below nothing": (lambda p: crimping(p, bond_s=-1.0), Rule.FIGURE, "bond_s"),
    "bag closed longer than allowed": (
        lambda p: crimping(p, bag_least_h=20.0, bag_most_h=8.0), Rule.FIGURE, "bag_least_h"
    ),
    "rejects of every pair": (lambda p: style(p, reject_percent=100.0), Rule.FIGURE, "reject_percent"),
    "tolerance below 0": (lambda p: with_rules(p, tolerance_deg=-1.0), Rule.FIGURE, "tolerance_deg"),
    "tolerance of a turn": (lambda p: with_rules(p, tolerance_deg=400.0), Rule.FIGURE, "tolerance_deg"),
    "class 0": (lambda p: with_rules(p, net_quality=0), Rule.FIGURE, "net_quality"),
    "another leather": (lambda p: style(p, leather="suede"), Rule.IDS, "suede"),
    "another roll": (lambda p: style(p, roll="felt"), Rule.IDS, "felt"),
    # templates
    "template larger": (
        lambda p: template(p, outline=scaled(p.styles[0].templates[0].outline, 1.01)), Rule.PIECE, "off the template"
    ),
    "template gone": (lambda p: style(p, templates=p.styles[0].templates[1:]), Rule.PIECE, "no template"),
    "templates of a style gone": (lambda p: style(p, templates=()), Rule.PIECE, "no template"),
    "template twice": (lambda p: style(p, templates=p.styles[0].templates * 2), Rule.PIECE, "more than once"),
    "parts left out": (lambda p: template(p, parts=p.styles[0].templates[0].parts[:-1]), Rule.PIECE, "names the parts"),
    "parts exchanged": (
        lambda p: template(p, parts=tuple(Part.SIDE if x is Part.TOE else x for x in p.styles[0].templates[0].parts)),
        Rule.PIECE, "beyond",
    ),
    # order
    "fewer to cut than wanted": (lambda p: line(p, 0, pairs_wanted=5), Rule.FIGURE, "fewer"),
    "none to cut": (lambda p: line(p, 2, pairs_wanted=5, pairs_to_cut=0), Rule.FIGURE, "fewer"),
    "pairs below 0": (lambda p: line(p, 0, pairs_wanted=-2), Rule.FIGURE, "pairs_wanted"),
    "line twice": (lambda p: replace(p, order=(*p.order, p.order[0])), Rule.IDS, "given 2 times"),
    "line of an unknown style": (lambda p: line(p, 0, style="lake"), Rule.IDS, "lake"),
    # settings
    "margin of one hide below 0": (lambda p: hide(p, margin_mm=-5.0), Rule.FIGURE, "margin"),
    "margin below 0": (lambda p: settings(p, edge_margin_mm=-5.0), Rule.FIGURE, "margin"),
    "gap below 0": (lambda p: settings(p, hide_gap_mm=-1.0), Rule.FIGURE, "hide_gap_mm"),
    "gap no number": (lambda p: settings(p, roll_gap_mm=math.nan), Rule.FIGURE, "roll_gap"),
    "gap without end": (lambda p: settings(p, hide_gap_mm=math.inf), Rule.FIGURE, "gap"),
    "tool radius below 0": (
        lambda p: settings(p, table=replace(p.settings.table, tool_radius_mm=-1.0)), Rule.FIGURE, "tool_radius_mm",
    ),
    "tool radius of a metre": (
        lambda p: settings(p, table=replace(p.settings.table, tool_radius_mm=1000.0)), Rule.FIGURE, "tool_radius_mm"
    ),
    "unit of the table unknown": (
        lambda p: settings(p, table=replace(p.settings.table, unit="ell")), Rule.FIGURE, "unit 'ell'"
    ),
    "gap of a metre": (lambda p: settings(p, hide_gap_mm=1000.0), Rule.FIGURE, "hide_gap_mm"),
    "price unit unknown": (
        lambda p: replace(p, leathers=_with(p.leathers, 0, price_unit="ell")), Rule.FIGURE, "price unit 'ell'"
    ),
    "wage below 0": (
        lambda p: settings(p, costing=replace(p.settings.costing, labour_per_hour=Decimal(-9))),
        Rule.FIGURE, "labour_per_hour",
    ),
    # stock
    "hide twice": (lambda p: replace(p, hides=(*p.hides, p.hides[0])), Rule.IDS, "hide H1 is given 2 times"),
    "area of nothing": (lambda p: hide(p, measured_area_mm2=0.0), Rule.FIGURE, "measured"),
    "area in the wrong unit": (lambda p: hide(p, measured_area_mm2=2.09e8), Rule.FIGURE, "measured"),
    "price no number": (lambda p: hide(p, price=Decimal("NaN")), Rule.FIGURE, "price"),
    "stretch no number": (lambda p: ground(p, stretch_deg=math.inf), Rule.FIGURE, "stretch_deg"),
    "stretch of many turns": (lambda p: ground(p, stretch_deg=1e14), Rule.FIGURE, "stretch_deg"),
    "roll without end": (lambda p: roll(p, length_mm=1e14), Rule.FIGURE, "length_mm"),
    "class of a zone 0": (lambda p: ground(p, quality=0), Rule.FIGURE, "quality"),
    "selvedges beyond the width": (lambda p: roll(p, selvedge_mm=500.0), Rule.FIGURE, "usable"),
    "roll too short": (lambda p: roll(p, length_mm=6500.0), Rule.ROLL_LENGTH, "too much"),
    "splice beyond the roll": (lambda p: roll(p, splices_mm=(9e9,)), Rule.FIGURE, "splice"),
    # layouts
    "layout twice": (lambda p: replace(p, layouts=(*p.layouts, p.layouts[1])), Rule.IDS, "layout of hide"),
    "layout on an unknown hide": (lambda p: replace(p, layouts=_with(p.layouts, 1, hide_id="H9")), Rule.IDS, "H9"),
    "layout on a withdrawn hide": (
        lambda p: replace(p, layouts=_with(p.layouts, 1, hide_id="H3"), bounds=p.bounds[:1]), Rule.WITHDRAWN, "H3 is"
    ),
    "hide withdrawn": (lambda p: begun(p, withdrawn=("H2",)), Rule.WITHDRAWN, "hide H2 is withdrawn"),
    "place no number": (lambda p: placed(p, 0, pose=Pose(math.nan, 0.0, 0.0)), Rule.SHAPE, "pose"),
    "heading without end": (lambda p: placed(p, 0, pose=Pose(150.0, 160.0, math.inf)), Rule.SHAPE, "pose"),
    "piece laid twice": (
        lambda p: replace(p, layouts=_with(p.layouts, 1, placed=p.layouts[1].placed + p.layouts[1].placed[:1])),
        Rule.DUPLICATE, "same place",
    ),
    "toes the wrong way": (one_way, Rule.ONE_WAY, "one-way"),
    "pair of one": (lambda p: placed(p, 0, pair=99), Rule.PAIR, "1 piece"),
    "pair below 0": (lambda p: placed(placed(p, 0, pair=-5), 1, pair=-5), Rule.FIGURE, "pair number -5"),
    "pair number taken": (lambda p: placed(placed(p, 0, pair=1), 1, pair=1), Rule.PAIR, "4 pieces"),
    "no plies": (lambda p: lay(p, plies=0), Rule.FIGURE, "plies"),
    "lay twice": (lambda p: replace(p, lays=(*p.lays, p.lays[1])), Rule.IDS, "lay knit, lay 2"),
    "lay of an unknown roll": (lambda p: lay(p, roll_id="felt"), Rule.IDS, "felt"),
    "lay without length": (lambda p: lay(p, length_mm=0.0), Rule.FIGURE, "length_mm"),
    # what is cut
    "unknown hide cut": (lambda p: begun(p, hides=(*p.begun.hides, CutHide("H9"))), Rule.IDS, "H9"),
    "hide cut twice": (lambda p: begun(p, hides=p.begun.hides * 2), Rule.IDS, "named 2 times"),
    "hide cut that holds nothing": (
        lambda p: begun(p, hides=(*p.begun.hides, CutHide("H3")), withdrawn=()), Rule.FIGURE, "cuts nothing from"
    ),
    "hide cut and withdrawn": (lambda p: begun(p, withdrawn=("H1",)), Rule.FIGURE, "cut and withdrawn"),
    "area cut below 0": (lambda p: begun(p, hides=(CutHide("H1", -1.0),)), Rule.FIGURE, "measured"),
    "unknown lay cut": (lambda p: begun(p, lays=("knit, lay 1", "knit, lay 7")), Rule.IDS, "knit, lay 7"),
    "unknown roll cut": (lambda p: begun(p, rolls=(UsedRoll("felt", 1.0),)), Rule.IDS, "felt"),
    "more off a roll than it holds": (lambda p: begun(p, rolls=(UsedRoll("knit", 9e6),)), Rule.FIGURE, "holds 20000"),
    "nothing left for the lay": (lambda p: begun(p, rolls=(UsedRoll("knit", 19_000.0),)), Rule.ROLL_LENGTH, "too much"),
    "roll withdrawn": (lambda p: begun(p, rolls=(UsedRoll("knit", 4480.0, True),)), Rule.WITHDRAWN, "withdrawn"),
    "more spoiled than cut": (
        lambda p: begun(p, spoiled=(Spoiled("river", "39", Side.LEFT, 5),)), Rule.FIGURE, "more than the 4"
    ),
    "spoiled below 0": (lambda p: begun(p, spoiled=(Spoiled("river", "39", Side.PAIR, -1),)), Rule.FIGURE, "-1 pieces"),
    "spoiled of an unknown size": (
        lambda p: begun(p, spoiled=(*p.begun.spoiled, Spoiled("river", "47", Side.PAIR, 1))), Rule.FIGURE, "river 47"
    ),
    # bounds and choice of hides
    "bound below what is placed": (lambda p: bound(p, cutting_yield_at_most=0.05), Rule.FIGURE, "are placed"),
    "bound above 1": (lambda p: bound(p, cutting_yield_at_most=1.5), Rule.FIGURE, "make no sense"),
    "bound no number": (lambda p: bound(p, cutting_yield_at_most=math.nan), Rule.FIGURE, "make no sense"),
    "reference below 0": (lambda p: bound(p, reference_yield=-0.1), Rule.FIGURE, "make no sense"),
    "bound of an unknown hide": (lambda p: bound(p, material_id="H9"), Rule.IDS, "H9"),
    "bound twice": (lambda p: replace(p, bounds=p.bounds * 2), Rule.IDS, "bound of H1"),
    "more hides named than used": (lambda p: issue(p, hides=1), Rule.FIGURE, "2 are used"),
    "cost below the proved least": (lambda p: issue(p, cost=Decimal(1)), Rule.FIGURE, "below the proved least"),
    "hides of an unknown leather": (lambda p: issue(p, leather="suede"), Rule.IDS, "suede"),
}
