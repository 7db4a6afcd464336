"""The judgement of a whole plan, one material after the other."""

import math
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from geometry.precision import Region
from nest.pieces.piece import Piece, Role
from nest.plan import HideLayout, Lay, Placed, Plan, PlannedStyle
from nest.stock.material import Hide, Roll
from nest.verify import counts, cuts, figures, ground, stated
from nest.verify.sheet import Sheet, lay_out
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, Checks, Finding, Rule, Verdict, in_plan

_BETWEEN = {Rule.OVERLAP, Rule.DUPLICATE, Rule.GAP, Rule.MARGIN, Rule.OUTSIDE, Rule.HOLE}
"""Findings that say nothing of the ground under a piece."""


def verify(plan: Plan) -> Verdict:
    """Judge `plan` from its own data: every rule on every piece, then pairs, order and rolls.

    Nothing is raised for a bad plan: what cannot be judged is a finding, and the rest is still judged.
    The tolerances are those of `nest.verify.verdict` and `geometry.precision.OVERLAP_DEPTH_MM`.
    """
    judge = _Judge(plan)
    findings = [*judge.stock(), *judge.materials(), *judge.whole()]
    judge.tally["pieces"] = len(judge.cut)
    ok = all(finding.rule in (Rule.SHORT, Rule.OVER) for finding in findings)
    return Verdict(ok, tuple(findings), Checks(**judge.tally))


def broken(plan: Plan) -> Iterator[Finding]:
    """What makes a plan useless for any other purpose too: ids that lead nowhere or to two things, bad outlines."""
    judge = _Judge(plan)
    yield from counts.id_findings(plan)
    yield from counts.unit_findings(plan)
    yield from judge.usable()
    for group in plan.groups:
        for name in sorted({one.piece_id for one in group.placed} - judge.pieces.keys()):
            text = f"{group.material_id}: {name} is no usable piece of the plan."
            yield Finding(group.material_id, Rule.IDS, (name,), (), 1.0, "pieces", text)


@dataclass(slots=True)
class _Judge:
    """One pass over one plan; counts what it checks on the way."""

    plan: Plan
    tally: dict[str, int] = field(default_factory=dict)
    cut: list[counts.Cut] = field(default_factory=list)
    styles: dict[str, PlannedStyle] = field(default_factory=dict)
    pieces: dict[str, Piece] = field(default_factory=dict)
    hides: dict[str, Hide] = field(default_factory=dict)
    rolls: dict[str, Roll] = field(default_factory=dict)

    def stock(self) -> Iterator[Finding]:
        """The plan against itself: ids, outlines, figures."""
        yield from counts.id_findings(self.plan)
        yield from counts.unit_findings(self.plan)
        yield from self.usable()
        yield from counts.mirror_findings(self.pieces.values())
        yield from self._counted("templates", stated.stated_findings(self.plan, self.pieces))
        yield from figures.figure_findings(self.plan)

    def usable(self) -> Iterator[Finding]:
        """Outlines that cannot be used; what can is kept for the other checks."""
        plan = self.plan
        self.styles = {style.name: style for style in plan.styles}
        for piece in plan.pieces:
            why = _why_unusable_piece(piece)
            if why:
                yield in_plan(Rule.SHAPE, f"piece {piece.piece_id} {why}.", (piece.piece_id,))
            elif piece.style in self.styles:
                self.pieces[piece.piece_id] = piece
        for hide in plan.hides:
            outlines = [hide.outline, *(zone.outline for zone in hide.zones), *(flaw.outline for flaw in hide.flaws)]
            if all(outline.is_valid and not outline.is_empty for outline in outlines):
                self.hides[hide.hide_id] = hide
            else:
                yield in_plan(Rule.SHAPE, f"hide {hide.hide_id} has an outline, zone or flaw that is not valid.")
        self.rolls = {roll.roll_id: roll for roll in plan.rolls}

    def materials(self) -> Iterator[Finding]:
        """Every hide and every lay with something on it."""
        for layout in self.plan.layouts:
            if layout.hide_id in self.hides:
                yield from self._hide(layout, self.hides[layout.hide_id])
        for lay in self.plan.lays:
            if lay.roll_id in self.rolls:
                yield from self._lay(lay, self.rolls[lay.roll_id])

    def whole(self) -> Iterator[Finding]:
        """Pairs, order, rolls."""
        rules = {name: style.rules for name, style in self.styles.items()}
        yield from self._counted("pairs", counts.pair_findings(self.cut, rules))
        self.tally["unpaired"] = sum(not cut.pair and cut.piece.role is Role.VAMP for cut in self.cut)
        self.tally["order_lines"] = len(self.plan.order)
        yield from counts.order_findings(self.plan, self.cut)
        yield from counts.roll_findings(self.plan)

    def _hide(self, layout: HideLayout, hide: Hide) -> Iterator[Finding]:
        sheet = yield from self._sheet(hide.hide_id, layout.placed, Role.VAMP, hide.leather)
        settings = self.plan.settings
        rules = [self.styles[piece.style].rules for piece in sheet.pieces]
        one_way = any(leather.one_way for leather in self.plan.leathers if leather.name == hide.leather)
        under = ground.ground_under(sheet, hide)
        stretches = [zone.stretch_deg for zone in hide.zones]
        found = [
            *self._cuts(
                sheet, hide.outline, _sane(settings.edge_room_mm + hide.margin_mm), _sane(settings.hide_apart_mm)
            ),
            *ground.class_findings(sheet, hide, under, rules), *ground.flaw_findings(sheet, hide, rules),
        ]
        directions = ground.direction_findings(sheet, stretches, under.shares, rules, one_way)
        yield from self._counted("bias", directions)
        yield from found
        told = {spot for finding in found for spot in finding.spots if finding.rule not in _BETWEEN}
        mine = {index for index, spot in enumerate(sheet.spots) if spot in told}
        yield from ground.scrap_findings(sheet, hide, rules, mine)
        self._count(hides=1, grounds=len(sheet.placed), flaws=len(hide.flaws))
        self._keep(sheet, 1, under.classes)

    def _lay(self, lay: Lay, roll: Roll) -> Iterator[Finding]:
        sizes = (lay.length_mm, roll.usable_width_mm, lay.plies)
        if not all(math.isfinite(size) and size > 0 for size in sizes):
            text = "lay {}: length {:g} mm, usable width {:g} mm and {} plies make no lay.".format(lay.lay_id, *sizes)
            yield Finding(lay.lay_id, Rule.SHAPE, (), (), 1.0, "pieces", text)
            return
        sheet = yield from self._sheet(lay.lay_id, lay.placed, Role.REINFORCEMENT, roll.roll_id)
        rules = [self.styles[piece.style].rules for piece in sheet.pieces]
        strip = shapely.box(0.0, 0.0, lay.length_mm, roll.usable_width_mm)
        settings = self.plan.settings
        yield from self._cuts(sheet, strip, _sane(settings.strip_room_mm), _sane(settings.roll_apart_mm))
        everywhere = np.ones((len(sheet.placed), 1))
        directions = ground.direction_findings(sheet, [roll.stretch_deg], everywhere, rules, roll.one_way)
        yield from self._counted("bias", directions)
        self._count(lays=1)
        self._keep(sheet, lay.plies, (None,) * len(sheet.placed))

    def _sheet(
        self, where: str, placed: tuple[Placed, ...], role: Role, material: str
    ) -> Generator[Finding, None, Sheet]:
        """Findings about pieces that cannot be judged or do not belong here; returns the sheet of the others."""
        spots = []
        for spot, one in enumerate(placed):
            name, pose = f"{where}: {one.piece_id} (no. {spot + 1})", one.pose
            piece = self.pieces.get(one.piece_id)
            rule: Rule | None = None
            text = ""
            if piece is None:
                rule, text = Rule.IDS, "is no usable piece of the plan"
            elif not all(map(math.isfinite, (pose.x, pose.y, pose.heading_deg))):
                rule, text = Rule.SHAPE, "has a pose that is not a number"
            else:
                spots.append(spot)
                style = self.styles[piece.style]
                if piece.role is not role:
                    rule, text = Rule.MATERIAL, f"is a {piece.role} and does not belong here"
                elif material != (style.leather if role is Role.VAMP else style.roll):
                    rule, text = Rule.MATERIAL, f"lies on {material}, which style {style.name} does not use"
            if rule is not None:
                yield Finding(where, rule, (one.piece_id,), (spot,), 1.0, "pieces", f"{name} {text}.")
        return lay_out(where, tuple(placed[spot] for spot in spots), tuple(spots), self.pieces)

    def _cuts(self, sheet: Sheet, outline: Region, margin: float, gap: float) -> Iterator[Finding]:
        yield from cuts.edge_findings(sheet, outline, margin)
        pairs = cuts.neighbours(sheet, gap)
        self._count(neighbours=len(pairs))
        yield from cuts.between_findings(sheet, gap, pairs)

    def _keep(self, sheet: Sheet, plies: int, qualities: Sequence[int | None]) -> None:
        for spot, placed, piece, quality in zip(sheet.spots, sheet.placed, sheet.pieces, qualities, strict=True):
            self.cut.append(counts.Cut(sheet.where, spot, piece, placed.pair, plies, quality))

    def _count(self, **more: int) -> None:
        for name, number in more.items():
            self.tally[name] = self.tally.get(name, 0) + number

    def _counted(self, name: str, mixed: Iterator[Finding | int]) -> Iterator[Finding]:
        """Pass findings on; count everything else under `name`."""
        for one in mixed:
            if isinstance(one, Finding):
                yield one
            else:
                self._count(**{name: 1})


def _sane(distance: float) -> float:
    """A gap or margin to judge by; one that makes no sense is a finding of its own, and 0 takes its place."""
    return distance if 0.0 <= distance < math.inf else 0.0


def _why_unusable_piece(piece: Piece) -> str:
    rings = (piece.cut_outline, piece.net_outline)
    if not all(np.isfinite(ring).all() and len(ring) >= 3 for ring in rings):
        return "has an outline that is not finite"
    cut, net = map(shapely.polygons, rings)
    if not (cut.is_valid and net.is_valid and cut.area > 0.0 and net.area > 0.0):
        return "has an outline that crosses itself"
    if not cut.buffer(DISTANCE_TOLERANCE_MM).covers(net):
        return "has net area outside its cut outline"
    return ""
