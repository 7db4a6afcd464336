"""A cutting drawing read back: the pieces, their hide or lay and their rules, from the DXF file.

What comes back is a plan of one hide or one lay, in the hide's own coordinates, to be judged like any other. A
drawing knows no order and no other hide, so those are empty. Before that it must hold what was written and nothing
else: by its own check sums, and by its plan where that is at hand.
"""

import re
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import shapely

from geometry.pose import Pose
from geometry.precision import GeometryError, as_ring
from nest.cutplan.cautions import NOT_VERIFIED_WARNING
from nest.cutplan.checksum import order_kept
from nest.cutplan.compare import SAME_MM, differences
from nest.cutplan.drawn import Drawn, opened
from nest.cutplan.grid import tidy
from nest.cutplan.legend import counts
from nest.cutplan.pathcheck import path_problems
from nest.cutplan.regroup import pieces_drawn, region_groups, region_of
from nest.cutplan.unchanged import changes
from nest.errors import InputProblems, Problem
from nest.job.job import Settings
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.style import Allowances
from nest.plan import HideLayout, Lay, Placed, Plan, PlannedStyle
from nest.rules import Rules
from nest.stock.material import UNKNOWN, Flaw, Hide, Leather, Roll, RollStretch, Zone

MOST_SAID = 20
"""At most this many problems of one drawing are listed; the others are counted."""

_ZONE = re.compile(rf"(?P<name>.*): class (?P<quality>\d+), stretch ({UNKNOWN}|(?P<stretch>\S+) deg)")
_FLAW = re.compile(
    r"(?P<name>[^:]*): (?P<kind>.*), severity (?P<severity>\d+)(?P<tears>, tears)?(?P<cover>, coverable)?"
)
_POINT = re.compile(r"([A-D]) \((\S+), (\S+)\)")
_PIECE = re.compile(r"(?P<size>.+?)(?: (?P<foot>left|right))?(?: pair (?P<pair>\d+))? no\. (?P<number>\d+)")


def read_cut_dxf(path, against: Plan | None = None, warning: str | None = None) -> Plan:
    """The plan of one hide or one lay in the cutting drawing at `path`.

    Notes on what is harmless stand in its `warnings`, and `NOT_VERIFIED_WARNING` where the drawing bears it.

    Parameters
    ----------
    path
        The DXF file.
    against
        The plan the drawing was written from, if it is at hand: then it is compared entity for entity.
    warning
        The warning that a drawing of that plan bears; by default the one found in the drawing.

    Raises
    ------
    PlanProblem
        If it is no cutting drawing of a hide or a lay.
    InputProblems
        If something in it is not as it was written, or not as its plan has it: what was found, `MOST_SAID` at most.
    """
    drawn, problems = opened(path)
    borne = NOT_VERIFIED_WARNING if any(one.text == NOT_VERIFIED_WARNING for one in drawn.labels("legend")) else ""
    if against is not None:
        problems += differences(drawn, against, borne if warning is None else warning)
    changed = changes(drawn)
    read, own = _read(drawn)
    # Its plan says best what is wrong, then what contradicts itself; check sums say least.
    if against is None or not problems:
        problems += own
    if against is None or not problems:
        problems += changed
    if problems or read is None:
        raise InputProblems(_most(problems))
    return read


def _read(drawn: Drawn) -> tuple[Plan | None, list[Problem]]:
    """The plan, or None if the drawing cannot be read on, and what in it contradicts itself."""
    try:
        return _plan(drawn)
    except InputProblems as error:
        return None, list(error.problems)
    except (GeometryError, ValueError, ArithmeticError, shapely.GEOSException) as error:
        return None, [drawn.problem("outlines and numbers that can be used", str(error))]


def _most(problems: list[Problem]) -> list[Problem]:
    more = len(problems) - MOST_SAID
    if more <= 0:
        return problems
    last = problems[MOST_SAID - 1]
    return [*problems[: MOST_SAID - 1], Problem(
        last.where.partition(",")[0], "a drawing as it was written", f"{more + 1} more problems", last.remedy
    )]


def _plan(drawn: Drawn) -> tuple[Plan, list[Problem]]:
    """The plan, and what in the drawing contradicts itself."""
    lay = drawn.fact("lay") is not None
    material = drawn.stated("lay" if lay else "hide")
    rules = {match["style"]: _rules(match) for match in drawn.facts.get("rules", ())}
    role = Role.REINFORCEMENT if lay else Role.VAMP
    pieces, placed, problems = _pieces(drawn, tuple(rules), role)
    distances = drawn.stated("distances")
    gap, margin, one_way = float(distances["gap"]), float(distances["margin"]), distances["one_way"] == "yes"
    none = Allowances(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    leather, roll = ("", material["roll_id"]) if lay else (material["leather"], "")
    styles = tuple(PlannedStyle(name, leather, roll, rule, none, 0.0, 0.0, 0.0, ()) for name, rule in rules.items())
    rings = [one.points for one in drawn.drawing.outlines("material") if one.closed]
    outline = _on_hide(drawn, region_of(rings))
    if not isinstance(outline, shapely.Polygon) or outline.is_empty:
        raise drawn.refusal("one closed outline of the material", "none, or several", "material")
    problems += [*_legend_problems(drawn, pieces, placed), *_registration_problems(drawn, rings)]
    common: dict[str, Any] = {
        "styles": styles, "order": (), "pieces": pieces, "rolls": (), "leathers": (), "hides": (), "layouts": (),
        "lays": (), "settings": Settings(hide_gap_mm=gap, roll_gap_mm=gap, edge_margin_mm=margin),
        "name": f"read back from {drawn.name}", "warnings": tuple(_notes(drawn)),
    }
    if lay:
        stock, spread = _lay(drawn, material, outline, placed, one_way)
        # The styles name no leather: one without a price stands in.
        common |= {"rolls": (stock,), "lays": (spread,), "leathers": (Leather("", Decimal(0), "m2"),)}
        return Plan(**common), problems
    hide = _hide(drawn, material, outline)
    leathers = (Leather(material["leather"], Decimal(0), "m2", one_way=one_way),)
    layouts = (HideLayout(hide.hide_id, placed),)
    return Plan(**common | {"hides": (hide,), "leathers": leathers, "layouts": layouts}), problems


def _on_hide(drawn: Drawn, region):
    """A region of the table in the hide's coordinates, on the grid."""
    shape = shapely.Polygon()
    for ring in shapely.get_rings(region):
        shape = shape.symmetric_difference(shapely.Polygon(tidy(drawn.frame.undo(shapely.get_coordinates(ring)))))
    return shapely.orient_polygons(shape)


def _rules(match: re.Match) -> Rules:
    trim = match["trim"]
    return Rules(
        float(match["tolerance"]), match["bias"] == "yes", int(match["net"]),
        None if trim == "any ground" else int(trim.split()[1]), match["flaws"] == "yes",
        match["one_hide"] == "yes", match["one_class"] == "yes",
    )


def _hide(drawn: Drawn, material: re.Match, outline) -> Hide:
    zones, flaws = [], []
    for region, text in region_groups(drawn, "zones"):
        match = _ZONE.fullmatch(text)
        if match is None:
            raise drawn.refusal("the text of a zone", repr(text), "zones")
        stretch = None
        if match["stretch"] is not None:
            # Undoing a mirrored frame turns a direction as the frame itself does.
            turned = float(match["stretch"]) - drawn.frame.turn_deg
            stretch = (180.0 - turned if drawn.frame.mirrored else turned) % 180.0
        zones.append(Zone(match["name"], int(match["quality"]), stretch, _on_hide(drawn, region)))
    for region, text in region_groups(drawn, "flaws"):
        match = _FLAW.fullmatch(text)
        if match is None:
            raise drawn.refusal("the text of a flaw", repr(text), "flaws")
        tears, cover = match["tears"] is not None, match["cover"] is not None
        flaws.append(Flaw(match["name"], match["kind"], int(match["severity"]), tears, cover, _on_hide(drawn, region)))
    return Hide(
        material["hide_id"], material["leather"], material["lot"], int(material["quality"]),
        float(material["thickness"]), float(material["area"]), outline, tuple(zones), tuple(flaws),
    )


def _lay(drawn: Drawn, material: re.Match, outline, placed, one_way: bool) -> tuple[Roll, Lay]:
    length, width, plies = float(material["length"]), float(material["width"]), int(material["plies"])
    if shapely.hausdorff_distance(outline, shapely.box(0.0, 0.0, length, width)) > SAME_MM:
        raise drawn.refusal(f"a strip of {length:g} x {width:g} mm, as its legend states", "another", "material")
    stretch = RollStretch.WIDTH if float(material["stretch"]) == 90.0 else RollStretch.LENGTH
    roll = Roll(material["roll_id"], width, 0.0, length * plies, stretch, 0.0, Decimal(0), False, one_way, 0.0)
    return roll, Lay(material["lay_id"], material["roll_id"], length, plies, placed)


def _pieces(
    drawn: Drawn, styles: tuple[str, ...], role: Role
) -> tuple[tuple[Piece, ...], tuple[Placed, ...], list[Problem]]:
    """The pieces in the order of their numbers, and those that are not alike though their labels are."""
    found: dict[int, tuple[Piece, Placed]] = {}
    known: dict[str, tuple[Piece, list[np.ndarray], str]] = {}
    problems = []
    parts = pieces_drawn(drawn)
    for one in parts:
        text = one.label.text
        style = max((name for name in styles if text.startswith(f"{name} ")), key=len, default=None)
        match = None if style is None else _PIECE.fullmatch(text[len(style) + 1 :])
        if style is None or match is None or int(match["number"]) in found:
            raise drawn.refusal("the label of one piece", repr(text), "labels", one.label.at)
        heading = drawn.frame.undo(one.heading)
        along = heading[1] - heading[0]
        turned = float(np.degrees(np.arctan2(along[1], along[0])))
        # Points on the coordinate grid tell a heading to about 1e-4 degrees: one at the limit must not pass it.
        pose = Pose(float(heading[0][0]), float(heading[0][1]), round(turned, 3))
        foot = Foot(match["foot"] or Foot.EITHER)
        name = f"{style} {match['size']} {foot}"
        drawn_as = [tidy(drawn.frame.undo(ring)) for ring in (one.wanted, one.net)]
        piece = Piece(name, style, match["size"], foot, role, *(_own(ring, pose) for ring in drawn_as))
        exact = [_own(ring, replace(pose, heading_deg=turned)) for ring in drawn_as]
        # Where the same piece lies elsewhere its outline is the same; one that was changed stands for itself.
        same, as_same, first = known.setdefault(name, (piece, exact, text))
        off = max(map(_apart, as_same, exact))
        if off <= SAME_MM:
            piece = same
        else:
            piece = replace(piece, piece_id=f"{name} no. {match['number']}")
            if "?" not in name:  # R12 writes "?" for letters it has not: several names may read alike
                problems.append(drawn.problem(
                    f"the outline of {first}", f"one {off:.3f} mm off", "cut", one.label.at, text
                ))
        found[int(match["number"])] = piece, Placed(piece.piece_id, pose, int(match["pair"] or 0))
    problems += path_problems(drawn, parts, role)
    pieces = dict.fromkeys(piece for piece, _ in (found[number] for number in sorted(found)))
    return tuple(pieces), tuple(found[number][1] for number in sorted(found)), problems


def _own(ring: np.ndarray, pose: Pose) -> np.ndarray:
    """A ring of the hide in the piece's own frame."""
    return as_ring(Pose(0.0, 0.0, -pose.heading_deg).apply(ring - (pose.x, pose.y)))


def _apart(one: np.ndarray, other: np.ndarray) -> float:
    return 0.0 if one is other else float(
        shapely.hausdorff_distance(shapely.LinearRing(one), shapely.LinearRing(other))
    )


def _legend_problems(drawn: Drawn, pieces, placed) -> Iterable[Problem]:
    """The counts that the legend states, against the labels."""
    known = {piece.piece_id: piece for piece in pieces}
    texts = {label.text for label in drawn.labels("legend")}
    for line in counts([known[one.piece_id] for one in placed]):
        if line not in texts:
            yield drawn.problem(f"the line {line!r}, as its labels count", "another or none", "legend")


def _registration_problems(drawn: Drawn, rings: list[np.ndarray]) -> Iterable[Problem]:
    """The crosses of the registration points against the sentence on them."""
    match = drawn.fact("registration")
    if match is None:
        yield drawn.problem("a sentence on the registration points", "none", "legend")
        return
    lines = [one.points for one in drawn.drawing.outlines("points")]
    corners = np.vstack(rings)
    for name, x, y in _POINT.findall(match["points"]):
        at = np.array((float(x), float(y)))
        crossing = sum(np.abs(line.mean(axis=0) - at).max() <= 0.06 for line in lines)
        if crossing != 2:
            yield drawn.problem(
                f"the cross of registration point {name}", "no cross" if crossing < 2 else "several", "points", at
            )
        elif np.abs(corners - at).max(axis=1).min() > 0.06:
            yield drawn.problem(f"registration point {name} on the edge of the material", "none", "points", at)


def _notes(drawn: Drawn) -> Iterable[str]:
    """What bars nothing, but is to be known."""
    if any(label.text == NOT_VERIFIED_WARNING for label in drawn.labels("legend")):
        yield NOT_VERIFIED_WARNING
    if not order_kept(drawn.drawing):
        yield (
            f"{drawn.name}: its marks and cuts are as written, but follow each other, begin or run otherwise; a piece "
            "may shift: write the drawing again from its plan to cut in the order planned."
        )
