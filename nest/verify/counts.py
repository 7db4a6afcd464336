"""What is counted: ids, pairs, the order, the length of the rolls."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import fsum

import numpy as np
import shapely
from shapely.affinity import scale

from geometry.precision import CHORD_ERROR_MM
from nest.pieces.piece import Foot, Piece, Role
from nest.plan import Plan, Side
from nest.rules import Rules
from nest.units import MM2_PER_AREA_UNIT, MM_PER_LENGTH_UNIT
from nest.verify.rows import rows_short
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, MIRROR_TOLERANCE_MM, Finding, Rule, in_plan


@dataclass(frozen=True, slots=True)
class Cut:
    """One placed piece as the counts see it; `quality` is the class of its ground on a hide, else None."""

    where: str
    spot: int
    piece: Piece
    pair: int
    plies: int
    quality: int | None


def id_findings(plan: Plan) -> Iterator[Finding]:
    """Ids given twice, and ids that nothing in the plan bears."""
    styles = {style.name for style in plan.styles}
    named = {
        "style": [style.name for style in plan.styles],
        "piece": [piece.piece_id for piece in plan.pieces],
        "leather": [leather.name for leather in plan.leathers],
        "hide": [hide.hide_id for hide in plan.hides],
        "roll": [roll.roll_id for roll in plan.rolls],
        "layout of hide": [layout.hide_id for layout in plan.layouts],
        "lay": [lay.lay_id for lay in plan.lays],
        "order line": [f"{line.style} {line.size}" for line in plan.order],
    }
    for hide in plan.hides:
        named[f"zone of hide {hide.hide_id}:"] = [zone.zone_id for zone in hide.zones]
        named[f"flaw of hide {hide.hide_id}:"] = [flaw.flaw_id for flaw in hide.flaws]
    for kind in ("style", "piece", "hide", "roll", "lay"):
        if any(not name.strip() for name in named[kind]):
            yield in_plan(Rule.IDS, f"a {kind} has no name.")
    for kind, ids in named.items():
        for name, times in Counter(ids).items():
            if times > 1:
                yield in_plan(Rule.IDS, f"{kind} {name} is given {times} times.", amount=times)
    wanted = [
        *(("style", piece.style, styles, f"piece {piece.piece_id}") for piece in plan.pieces),
        *(("style", line.style, styles, f"order line {line.style} {line.size}") for line in plan.order),
        *(("leather", style.leather, named["leather"], f"style {style.name}") for style in plan.styles),
        *(("roll", style.roll, named["roll"], f"style {style.name}") for style in plan.styles if style.roll),
        *(("hide", layout.hide_id, named["hide"], "a layout") for layout in plan.layouts),
        *(("roll", lay.roll_id, named["roll"], f"lay {lay.lay_id}") for lay in plan.lays),
    ]
    for kind, name, known, who in wanted:
        if name not in known:
            yield in_plan(Rule.IDS, f"{who} names the {kind} {name!r}, which is not in the plan.")


def unit_findings(plan: Plan) -> Iterator[Finding]:
    """Units that nobody knows: nothing can be costed or drawn in them."""
    for leather in plan.leathers:
        if leather.price_unit not in MM2_PER_AREA_UNIT:
            known = ", ".join(MM2_PER_AREA_UNIT)
            yield in_plan(
                Rule.FIGURE, f"leather {leather.name}: the price unit {leather.price_unit!r} is none of {known}."
            )
    if plan.settings.table.unit not in MM_PER_LENGTH_UNIT:
        known, unit = ", ".join(MM_PER_LENGTH_UNIT), plan.settings.table.unit
        yield in_plan(Rule.FIGURE, f"cutting table: the unit {unit!r} is none of {known}.")


def mirror_findings(pieces: Iterable[Piece]) -> Iterator[Finding]:
    """Right outlines are left ones mirrored; outlines for either foot are their own mirror image."""
    by_size: dict[tuple[str, str, Role], dict[Foot, Piece]] = defaultdict(dict)
    for piece in pieces:
        by_size[piece.style, piece.size, piece.role][piece.foot] = piece
    for feet in by_size.values():
        if Foot.EITHER in feet:
            piece = feet[Foot.EITHER]
            # The net outline may be a template thinned by a chord error on one side only.
            off = max(
                _mirror_distance(piece.cut_outline, piece.cut_outline),
                _mirror_distance(piece.net_outline, piece.net_outline) - CHORD_ERROR_MM,
            )
            if off > MIRROR_TOLERANCE_MM + DISTANCE_TOLERANCE_MM:
                text = f"piece {piece.piece_id} is for either foot, but is {off:.3f} mm off its own mirror image."
                yield in_plan(Rule.MIRROR, text, (piece.piece_id,), off, "mm")
        if {Foot.LEFT, Foot.RIGHT} <= feet.keys():
            left, right = feet[Foot.LEFT], feet[Foot.RIGHT]
            off = max(
                _mirror_distance(left.net_outline, right.net_outline),
                _mirror_distance(left.cut_outline, right.cut_outline),
            )
            if off > DISTANCE_TOLERANCE_MM:
                text = f"piece {right.piece_id} is {off:.3f} mm off the mirror image of {left.piece_id}."
                yield in_plan(Rule.MIRROR, text, (left.piece_id, right.piece_id), off, "mm")


def _mirror_distance(ring: np.ndarray, other: np.ndarray) -> float:
    image = scale(shapely.LinearRing(ring), 1.0, -1.0, origin=(0.0, 0.0))
    return float(shapely.hausdorff_distance(image, shapely.LinearRing(other)))


def pair_findings(cuts: Iterable[Cut], rules: dict[str, Rules]) -> Iterator[Finding | int]:
    """One finding for each pair that is none, else the pair's number."""
    by_pair = defaultdict(list)
    for cut in cuts:
        if cut.pair:
            by_pair[cut.pair].append(cut)
    for number, members in sorted(by_pair.items()):
        why, amount = _why_no_pair(members, rules)
        if why:
            ids = tuple(cut.piece.piece_id for cut in members)
            spots = tuple(cut.spot for cut in members)
            places = {cut.where: None for cut in members}
            text = f"{' and '.join(places)}: pair {number} ({' and '.join(ids)}) {why}."
            yield Finding(members[0].where, Rule.PAIR, ids, spots, float(amount), "pieces", text)
        else:
            yield number


def _why_no_pair(members: list[Cut], rules: dict[str, Rules]) -> tuple[str, int]:
    if len(members) != 2:
        return f"has {len(members)} piece{'s' * (len(members) != 1)}, a pair has two", abs(len(members) - 2)
    first, second = members
    a, b = first.piece, second.piece
    if (a.style, a.size, a.role) != (b.style, b.size, b.role):
        return "is not of one style, size and role", 1
    if {a.foot, b.foot} not in ({Foot.LEFT, Foot.RIGHT}, {Foot.EITHER}):
        return f"has the feet {a.foot} and {b.foot}", 1
    rule = rules[a.style]
    if a.role is Role.VAMP:
        if rule.pairs_from_one_hide and first.where != second.where:
            return "is not cut from one hide", 1
        if rule.pairs_same_class and None not in (first.quality, second.quality) and first.quality != second.quality:
            return f"comes from ground of classes {first.quality} and {second.quality}", 1
    elif first.plies != second.plies:
        return f"lies on {first.plies} plies and {second.plies}", 1
    return "", 0


def order_findings(plan: Plan, cuts: Iterable[Cut]) -> Iterator[Finding]:
    """Sizes that are short or over, vamps and reinforcements.

    Where a style's pairs must share a hide or a class, only vamps that belong to a pair meet the order.
    """
    styles = {style.name: style for style in plan.styles}
    lost = _lost(plan)
    lines = {(line.style, line.size): line for line in plan.order}
    needs: dict[tuple[str, str, Role], int] = {}
    spare: dict[tuple[str, str, Role], int] = {}
    for line in plan.order:
        if line.style in styles:
            for role in (Role.VAMP, Role.REINFORCEMENT) if styles[line.style].roll else (Role.VAMP,):
                needs[line.style, line.size, role] = line.pairs_to_cut
                if plan.begun.rejects_cover:
                    spare[line.style, line.size, role] = line.pairs_to_cut - line.pairs_wanted
    placed: dict[tuple[str, str, Role], Counter[Foot]] = defaultdict(Counter)
    usable: dict[tuple[str, str, Role], Counter[Foot]] = defaultdict(Counter)
    alone: dict[tuple[str, str, Role], Counter[Foot]] = defaultdict(Counter)
    for cut in cuts:
        key = (cut.piece.style, cut.piece.size, cut.piece.role)
        rule = styles[cut.piece.style].rules
        placed[key][cut.piece.foot] += cut.plies
        if cut.pair or cut.piece.role is not Role.VAMP or not (rule.pairs_from_one_hide or rule.pairs_same_class):
            usable[key][cut.piece.foot] += cut.plies
        else:
            alone[key][cut.piece.foot] += cut.plies
    for key in sorted(needs.keys() | placed.keys()):
        pairs, again = needs.get(key, 0), _again(lost[key], spare.get(key, 0))
        # One that takes the place of a spoiled one may be alone: its partner is there already.
        good = usable[key] + (alone[key] & again)
        missing = _missing(good, pairs, again)
        surplus = placed[key].total() - 2 * pairs - again.total() + _missing(placed[key], pairs, again)
        name = f"{key[2]} {key[0]} {key[1]}"
        needed = f"{pairs} pair{'s' * (pairs != 1)}" + (f" and {again.total()} spoiled" if again.total() else "")
        if missing:
            text = f"order: {name} is {missing} piece{'s' * (missing != 1)} short of {needed}."
            if key[:2] in lines:
                text += rows_short(lines[key[:2]], _pairs_missing(good, pairs, again))
            yield Finding("order", Rule.SHORT, (), (), float(missing), "pieces", text)
        if surplus:
            text = f"order: {name} has {surplus} piece{'s' * (surplus != 1)} more than {needed} need."
            yield Finding("order", Rule.OVER, (), (), float(surplus), "pieces", text)


def _lost(plan: Plan) -> dict[tuple[str, str, Role], Counter[Foot]]:
    """Spoiled pieces by foot, of each style, size and role."""
    lost: dict[tuple[str, str, Role], Counter[Foot]] = defaultdict(Counter)
    either = {(piece.style, piece.size) for piece in plan.pieces if piece.foot is Foot.EITHER}
    for one in plan.begun.spoiled:
        feet = {Foot(one.side): 1} if one.side is not Side.PAIR else (
            {Foot.EITHER: 2} if (one.style, one.size) in either else {Foot.LEFT: 1, Foot.RIGHT: 1}
        )
        for role in (Role.VAMP, Role.REINFORCEMENT) if one.backed else (Role.VAMP,):
            lost[one.style, one.size, role].update({foot: times * one.count for foot, times in feet.items()})
    return lost


def _again(lost: Counter[Foot], spare_pairs: int) -> Counter[Foot]:
    """Pieces to be cut again: those lost, less what spare pairs cover of them."""
    covered = {Foot.LEFT: spare_pairs, Foot.RIGHT: spare_pairs, Foot.EITHER: 2 * spare_pairs}
    return +Counter({foot: number - covered[foot] for foot, number in lost.items()})


def _missing(feet: Counter[Foot], pairs: int, again: Counter[Foot]) -> int:
    """Pieces missing from `pairs` pairs and those cut again; a piece for either foot fills in for both."""
    lacking = sum(max(0, pairs + again[foot] - feet[foot]) for foot in (Foot.LEFT, Foot.RIGHT))
    return max(0, lacking + again[Foot.EITHER] - feet[Foot.EITHER])


def _pairs_missing(feet: Counter[Foot], pairs: int, again: Counter[Foot]) -> int:
    """Pairs that lack a piece."""
    if feet[Foot.EITHER] or again[Foot.EITHER]:
        return (max(0, 2 * pairs + again[Foot.EITHER] - feet[Foot.EITHER]) + 1) // 2
    return max(0, *(pairs + again[foot] - feet[foot] for foot in (Foot.LEFT, Foot.RIGHT)))


def roll_findings(plan: Plan) -> Iterator[Finding]:
    """Rolls that are shorter than their lays, end losses of every ply included.

    Where more was taken off a roll than its cut lays need, that counts.
    """
    used = {one.roll_id: one.length_mm or 0.0 for one in plan.begun.rolls}
    for roll in plan.rolls:
        lays = [lay for lay in plan.lays if lay.roll_id == roll.roll_id]
        needs = {lay.lay_id: lay.plies * (lay.length_mm + 2.0 * roll.end_loss_mm) for lay in lays}
        cut = fsum(need for name, need in needs.items() if name in plan.begun.lays)
        needed = max(cut, used.get(roll.roll_id, 0.0)) + fsum(needs.values()) - cut
        if needed > roll.length_mm + DISTANCE_TOLERANCE_MM:
            over = needed - roll.length_mm
            text = f"roll {roll.roll_id}: its lays need {needed:.0f} mm with end losses, {over:.0f} mm too much."
            yield Finding(roll.roll_id, Rule.ROLL_LENGTH, (), (), over, "mm", text)
