"""A plan with everything a plan states of itself, made by the program's own pieces and laid in rows; data are invented.

Two sizes of a backed style with left and right vamps, and one size of a style whose outline serves both feet; two
hides of which one is cut, a lay that is cut and one that is not, something spoiled, bounds and what the hides cost.
"""

from decimal import Decimal

import numpy as np
import shapely
from vamp_plans import vamp_net

from geometry.pose import Pose
from nest.job.job import Settings
from nest.pieces.grading import template_of_size
from nest.pieces.make import make_pieces
from nest.pieces.piece import Part, Piece, Role, Template
from nest.pieces.style import Allowances, Grading, Style
from nest.plan import (
    Begun,
    Bound,
    CutHide,
    CutLine,
    GreedyIssue,
    HideIssue,
    HideLayout,
    Lay,
    Placed,
    Plan,
    PlannedStyle,
    Side,
    Spoiled,
    UsedRoll,
)
from nest.rules import Rules
from nest.stock.material import Flaw, Hide, Leather, Roll, RollStretch, Zone

PITCH_MM = (250.0, 290.0)
"""Rows and columns this far apart keep the largest piece clear of its neighbours."""


def made_style(name: str, lean: float, roll: str, **changes) -> Style:
    """A style with one template of size 39; `lean` makes left and right differ."""
    outline = vamp_net("39", lean=lean)
    middles = 0.5 * (outline + np.roll(outline, -1, axis=0))
    parts = tuple(Part.TOE if x > 60 else Part.BACK if x < -60 else Part.SIDE for x, _ in middles)
    allowances = Allowances(14.0, 12.0, 10.0, 8.0, 6.0, 8.0, 25.0, (("40", 15.0, 12.0, 10.0),))
    plain = dict(
        name=name, leather="calf", roll=roll, templates=(Template(name, "39", outline, parts),),
        grading=Grading("paris", "39", 6.7, 4.0), allowances=allowances, widening_percent=3.0,
        reinforcement_inset_mm=9.0, reject_percent=5.0, reject_percent_by_quality=(), thickness_mm=1.4, rules=Rules(),
    )
    return Style(**plain | changes)


def planned(style: Style, sizes) -> PlannedStyle:
    """What a plan keeps of the style."""
    templates = tuple(template_of_size(style.templates, size, style.grading) for size in sizes)
    return PlannedStyle(
        style.name, style.leather, style.roll, style.rules, style.allowances, style.reject_percent,
        style.widening_percent, style.reinforcement_inset_mm, (), templates,
    )


def in_rows(pieces: list[Piece], first_pair: int = 0) -> tuple[Placed, ...]:
    """Pieces in rows of eight from the lower left corner; each two in a row are a pair if pairs are numbered."""
    return tuple(
        Placed(
            piece.piece_id, Pose(150.0 + PITCH_MM[0] * (i % 8), 160.0 + PITCH_MM[1] * (i // 8), 0.0),
            first_pair and first_pair + i // 2,
        )
        for i, piece in enumerate(pieces)
    )


def stated_hide(hide_id: str) -> Hide:
    """A rectangle with two zones of one class and a flaw in a corner."""
    outline = shapely.box(0, 0, 2200, 950)
    butt, side = shapely.box(0, 0, 1200, 950), shapely.box(1200, 0, 2200, 950)
    zones = (Zone("butt", 1, 90.0, butt), Zone("side", 1, 92.0, side))
    flaw = Flaw("F1", "brand", 2, True, False, shapely.box(2150, 900, 2190, 940))
    return Hide(hide_id, "calf", "lot 1", 1, 1.4, outline.area, outline, zones, (flaw,))


def stated_plan() -> Plan:
    """The plan; nothing is wrong with it."""
    river, brook = made_style("river", 12.0, "knit"), made_style("brook", 0.0, "")
    pieces = (*make_pieces(river, ("39", "40"))[0], *make_pieces(brook, ("39",))[0])
    of = {(p.style, p.size, p.role, str(p.foot)): p for p in pieces}
    pair39, pair40 = ([of["river", size, Role.VAMP, foot] for foot in ("left", "right")] for size in ("39", "40"))
    either = [of["brook", "39", Role.VAMP, "either"]] * 2
    backs = [[of["river", size, Role.REINFORCEMENT, foot] for foot in ("left", "right")] for size in ("39", "40")]
    # One pair of size 39 was spoiled with its backing, and is cut again.
    first = in_rows([*pair39 * 2, *pair40, *either], first_pair=1)
    second = in_rows([*pair39, *pair40], first_pair=5)
    roll = Roll("knit", 950.0, 20.0, 20_000.0, RollStretch.WIDTH, 90.0, Decimal("3.20"))
    area = {p.piece_id: shapely.Polygon(p.cut_outline).area for p in pieces}
    whole = stated_hide("H1").outline.area
    bounds = tuple(
        Bound(name, sum(area[one.piece_id] for one in placed) / whole + 0.1, 0.7)
        for name, placed in (("H1", first), ("H2", second))
    )
    return Plan(
        name="river and brook", styles=(planned(river, ("39", "40")), planned(brook, ("39",))),
        order=(CutLine("river", "39", 2, 2), CutLine("river", "40", 1, 2), CutLine("brook", "39", 1, 1)),
        pieces=pieces, leathers=(Leather("calf", Decimal("40.00"), "m2"),),
        hides=(stated_hide("H1"), stated_hide("H2"), stated_hide("H3")), rolls=(roll,), settings=Settings(),
        layouts=(HideLayout("H1", first), HideLayout("H2", second)),
        lays=(
            Lay("knit, lay 1", "knit", 2200.0, 2, in_rows(backs[0])),
            Lay("knit, lay 2", "knit", 2200.0, 1, in_rows([*backs[0], *backs[1] * 2])),
        ),
        bounds=bounds,
        begun=Begun(
            hides=(CutHide("H1", whole),), rolls=(UsedRoll("knit", 4480.0),), lays=("knit, lay 1",),
            spoiled=(Spoiled("river", "39", Side.PAIR, 1),), withdrawn=("H3",),
        ),
        issues=(
            HideIssue("calf", 2, Decimal("167.20"), (GreedyIssue("in stock order", 2, Decimal("167.20"), 0.0),),
                      Decimal("167.20"), Decimal("80.00"), Decimal("90.00")),
        ),
    )
