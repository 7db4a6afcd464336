"""A cutting drawing read back: the pieces, their hide or lay and their rules, from the DXF file alone.

What comes back is a plan of one hide or one lay, in the hide's own coordinates, to be judged like any other. A
drawing knows no order and no other hide, so those are empty.
"""

import re
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
import shapely

from geometry.pose import Pose
from geometry.precision import GeometryError, as_ring
from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.dxf import read_dxf
from nest.cutplan.frame import Frame, frame_from
from nest.cutplan.grid import rounded, tidy
from nest.cutplan.legend import FACTS, UNIT_WORDS
from nest.errors import PlanProblem
from nest.job.cutting_table import USUAL_LAYERS
from nest.job.job import Allowances, Settings
from nest.pieces.piece import Foot, Piece, Role
from nest.plan import HideLayout, Lay, Placed, Plan, PlannedStyle
from nest.rules import Rules
from nest.stock.material import Flaw, Hide, Leather, Roll, RollStretch, Zone
from nest.units import MM_PER_LENGTH_UNIT

SAME_MM = 0.005
"""Outlines of one piece may differ by this much where they lie: the grid's rounding and no more."""

_ZONE = re.compile(r"(?P<name>.*): class (?P<quality>\d+), stretch (?P<stretch>\S+) deg")
_FLAW = re.compile(
    r"(?P<name>[^:]*): (?P<kind>.*), severity (?P<severity>\d+)(?P<tears>, tears)?(?P<cover>, coverable)?"
)
_PIECE = re.compile(r"(?P<size>.+?)(?: (?P<foot>left|right))?(?: pair (?P<pair>\d+))? no\. (?P<number>\d+)")


def read_cut_dxf(path) -> Plan:
    """The plan of one hide or one lay in the cutting drawing at `path`.

    Raises
    ------
    PlanProblem
        If it is no cutting drawing of a hide or a lay, or one in which something was changed so that its parts do
        not belong together any more; the text says what.
    """
    raw, unit = read_dxf(path)
    facts = _facts(raw)
    for needed in ("layers", "unit", "frame", "distances"):
        if needed not in facts:
            raise PlanProblem(f"{path}: this is no cutting drawing of a hide or a lay (no sentence on its {needed})")
    if "hide" not in facts and "lay" not in facts:
        raise PlanProblem(f"{path}: this is no cutting drawing of a hide or a lay; give one from the folder drawings")
    told = next(u for u, words in UNIT_WORDS.items() if words.startswith(facts["unit"][0]["unit"]))
    if unit is not None and unit != told:
        raise PlanProblem(f"{path}: the header says {unit}, the legend {told}; write the drawing again from its plan")
    uses = dict(pair.split(" = ") for row in facts["layers"] for pair in row["layers"].split(", "))
    if uses.keys() != USUAL_LAYERS.keys():
        raise PlanProblem(f"{path}: its legend does not name every layer; write the drawing again from its plan")
    frame = frame_from(facts["frame"][0][0])
    if frame is None:
        raise PlanProblem(f"{path}: its legend does not say how the hide lies on the table; write it again")
    sheet = _Sheet(str(path), _scaled(raw, uses, MM_PER_LENGTH_UNIT[told]), frame)
    try:
        return _plan(sheet, facts)
    except (GeometryError, ValueError, ArithmeticError, shapely.GEOSException) as error:
        if isinstance(error, PlanProblem):
            raise
        raise PlanProblem(f"{path}: an outline cannot be used ({error}); write it again from its plan") from error


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A drawing in mm by use of its layers, and how it lies."""

    name: str
    drawing: Drawing
    frame: Frame

    def problem(self, what: str) -> PlanProblem:
        return PlanProblem(f"{self.name}: {what}; write the drawing again from its plan")

    def on(self, use: str) -> list[Outline | Label]:
        return [entity for entity in self.drawing.entities if entity.use == use]

    def rings(self, use: str) -> list[np.ndarray]:
        """Closed outlines of one use in the hide's coordinates."""
        return [tidy(self.frame.undo(outline.points)) for outline in self.drawing.outlines(use) if outline.closed]

    def groups(self, use: str):
        """Regions, each with the text that follows its rings."""
        waiting: list[Outline] = []
        for entity in self.on(use):
            if isinstance(entity, Outline):
                waiting += [entity] if entity.closed else []
                continue
            if not waiting:
                raise self.problem(f"the text {entity.text!r} has no outline")
            yield self.region(waiting), entity.text
            waiting = []
        if waiting:
            raise self.problem(f"an outline of the {use} has no text")

    def region(self, outlines: list[Outline]):
        """What an odd number of rings enclose, in the hide's coordinates."""
        shape = shapely.Polygon()
        for outline in outlines:
            shape = shape.symmetric_difference(shapely.Polygon(tidy(self.frame.undo(outline.points))))
        return shapely.orient_polygons(shape)


def _facts(drawing: Drawing) -> dict[str, list[re.Match]]:
    """Every sentence of the legend that says a fact."""
    found: dict[str, list[re.Match]] = {}
    for entity in drawing.entities:
        if isinstance(entity, Label):
            for name, form in FACTS.items():
                if match := form.fullmatch(entity.text):
                    found.setdefault(name, []).append(match)
    return found


def _scaled(raw: Drawing, uses: dict[str, str], mm: float) -> Drawing:
    """The drawing in mm, layers by what they are for; other layers are left out."""
    use_of = {name.casefold(): use for use, name in uses.items()}
    entities = []
    for entity in raw.entities:
        use = use_of.get(entity.use.casefold())
        if use is None:
            continue
        if isinstance(entity, Outline):
            entities.append(Outline(use, entity.points * mm, entity.closed))
        else:
            entities.append(Label(use, entity.text, (entity.at[0] * mm, entity.at[1] * mm), entity.height_mm * mm))
    return Drawing(tuple(entities))


def _plan(sheet: _Sheet, facts: dict[str, list[re.Match]]) -> Plan:
    lay = "lay" in facts
    material = facts["lay" if lay else "hide"][0]
    rules = {match["style"]: _rules(match) for match in facts.get("rules", ())}
    role = Role.REINFORCEMENT if lay else Role.VAMP
    pieces, placed = _pieces(sheet, tuple(rules), role)
    distances = facts["distances"][0]
    gap, margin, one_way = float(distances["gap"]), float(distances["margin"]), distances["one_way"] == "yes"
    none = Allowances(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    leather, roll = ("", material["roll_id"]) if lay else (material["leather"], "")
    styles = tuple(PlannedStyle(name, leather, roll, rule, none, 0.0, 0.0, 0.0, ()) for name, rule in rules.items())
    outline = sheet.region([one for one in sheet.drawing.outlines("material") if one.closed])
    if not isinstance(outline, shapely.Polygon) or outline.is_empty:
        raise sheet.problem("the outline of its material is not one closed outline")
    common = {
        "styles": styles, "order": (), "pieces": pieces, "rolls": (), "leathers": (), "hides": (), "layouts": (),
        "lays": (), "settings": Settings(hide_gap_mm=gap, roll_gap_mm=gap, edge_margin_mm=margin),
        "name": f"read back from {sheet.name}",
    }
    if lay:
        stock, spread = _lay(sheet, material, outline, placed, one_way)
        # The styles name no leather: one without a price stands in.
        return Plan(**common | {"rolls": (stock,), "lays": (spread,), "leathers": (Leather("", Decimal(0), "m2"),)})
    hide = _hide(sheet, material, outline)
    leathers = (Leather(material["leather"], Decimal(0), "m2", one_way=one_way),)
    layouts = (HideLayout(hide.hide_id, placed),)
    return Plan(**common | {"hides": (hide,), "leathers": leathers, "layouts": layouts})


def _rules(match: re.Match) -> Rules:
    trim = match["trim"]
    return Rules(
        float(match["tolerance"]), match["bias"] == "yes", int(match["net"]),
        None if trim == "any ground" else int(trim.split()[1]), match["flaws"] == "yes",
        match["one_hide"] == "yes", match["one_class"] == "yes",
    )


def _hide(sheet: _Sheet, material: re.Match, outline) -> Hide:
    zones, flaws = [], []
    for region, text in sheet.groups("zones"):
        match = _ZONE.fullmatch(text)
        if match is None:
            raise sheet.problem(f"the text {text!r} is not that of a zone")
        # Undoing a mirrored frame turns a direction as the frame itself does.
        turned = float(match["stretch"]) - sheet.frame.turn_deg
        stretch = (180.0 - turned if sheet.frame.mirrored else turned) % 180.0
        zones.append(Zone(match["name"], int(match["quality"]), stretch, region))
    for region, text in sheet.groups("flaws"):
        match = _FLAW.fullmatch(text)
        if match is None:
            raise sheet.problem(f"the text {text!r} is not that of a flaw")
        tears, cover = match["tears"] is not None, match["cover"] is not None
        flaws.append(Flaw(match["name"], match["kind"], int(match["severity"]), tears, cover, region))
    return Hide(
        material["hide_id"], material["leather"], material["lot"], int(material["quality"]),
        float(material["thickness"]), float(material["area"]), outline, tuple(zones), tuple(flaws),
    )


def _lay(sheet: _Sheet, material: re.Match, outline, placed, one_way: bool) -> tuple[Roll, Lay]:
    length, width, plies = float(material["length"]), float(material["width"]), int(material["plies"])
    if shapely.hausdorff_distance(outline, shapely.box(0.0, 0.0, length, width)) > SAME_MM:
        raise sheet.problem("the strip drawn is not the one that its legend states")
    stretch = RollStretch.WIDTH if float(material["stretch"]) == 90.0 else RollStretch.LENGTH
    roll = Roll(material["roll_id"], width, 0.0, length * plies, stretch, 0.0, Decimal(0), False, one_way, 0.0)
    return roll, Lay(material["lay_id"], material["roll_id"], length, plies, placed)


def _pieces(sheet: _Sheet, styles: tuple[str, ...], role: Role) -> tuple[tuple[Piece, ...], tuple[Placed, ...]]:
    """The pieces in the order of their numbers: outline wanted, net outline, heading and label belong together."""
    cuts, nets = sheet.rings("cut"), sheet.rings("net")
    wanted = sheet.rings("rough") or cuts
    headings = [rounded(sheet.frame.undo(one.points)) for one in sheet.drawing.outlines("heading")]
    labels = [entity for entity in sheet.on("labels") if isinstance(entity, Label)]
    numbers = {len(cuts), len(nets), len(wanted), len(headings), len(labels)}
    if any(not outline.closed for outline in sheet.drawing.outlines("cut")):
        raise sheet.problem("an outline on the cut layer is open")
    if len(numbers) > 1:
        raise sheet.problem(
            f"it holds {len(cuts)} cut and {len(nets)} net outlines, {len(headings)} headings and {len(labels)} labels"
        )
    found: dict[int, tuple[Piece, Placed]] = {}
    known: dict[str, Piece] = {}
    for cut, net, outline, heading, label in zip(cuts, nets, wanted, headings, labels, strict=True):
        _check_parts(sheet, cut, net, outline, label)
        style = max((name for name in styles if label.text.startswith(f"{name} ")), key=len, default=None)
        match = None if style is None else _PIECE.fullmatch(label.text[len(style) + 1 :])
        if match is None or int(match["number"]) in found:
            raise sheet.problem(f"the label {label.text!r} is not that of one piece")
        along = heading[1] - heading[0]
        # Points on the coordinate grid tell a heading to about 1e-4 degrees: one at the limit must not pass it.
        turned = round(float(np.degrees(np.arctan2(along[1], along[0]))), 3)
        pose = Pose(*map(float, heading[0]), turned)
        foot = Foot(match["foot"] or Foot.EITHER)
        name, own = f"{style} {match['size']} {foot}", (_own(outline, pose), _own(net, pose))
        piece = Piece(name, style, match["size"], foot, role, *own)
        # Where the same piece lies elsewhere its outline is the same; one that was changed stands for itself.
        same = known.setdefault(piece.piece_id, piece)
        if same is not piece and not _alike(same, piece):
            same = replace(piece, piece_id=f"{name} no. {match['number']}")
            known[same.piece_id] = same
        found[int(match["number"])] = same, Placed(same.piece_id, pose, int(match["pair"] or 0))
    return tuple(known.values()), tuple(found[number][1] for number in sorted(found))


def _own(ring: np.ndarray, pose: Pose) -> np.ndarray:
    """A ring in the piece's own frame."""
    return as_ring(Pose(0.0, 0.0, -pose.heading_deg).apply(ring - (pose.x, pose.y)))


def _alike(one: Piece, other: Piece) -> bool:
    return all(
        shapely.hausdorff_distance(shapely.LinearRing(a), shapely.LinearRing(b)) <= SAME_MM
        for a, b in ((one.cut_outline, other.cut_outline), (one.net_outline, other.net_outline))
    )


def _check_parts(sheet: _Sheet, cut: np.ndarray, net: np.ndarray, wanted: np.ndarray, label: Label) -> None:
    """The label lies in the net outline, and the cut line never within the outline wanted."""
    at = shapely.Point(sheet.frame.undo((label.at,))[0])
    if not shapely.Polygon(net).buffer(SAME_MM).covers(at):
        raise sheet.problem(f"the label {label.text!r} does not lie in its piece")
    if cut is not wanted and not shapely.Polygon(cut).buffer(SAME_MM).covers(shapely.Polygon(wanted)):
        raise sheet.problem(f"the cut line of {label.text!r} runs within the outline wanted")
