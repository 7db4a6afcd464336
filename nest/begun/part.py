"""The part of a plan that is cut: hides as they are listed, lays up to the length that was taken off their roll."""

from collections.abc import Sequence
from dataclasses import replace
from math import ceil, fsum, inf

from nest.errors import PlanProblem
from nest.pieces.piece import Piece
from nest.plan import Begun, Lay, Plan, UsedRoll
from nest.stock.material import Roll

LENGTH_SLACK_MM = 5.0
"""Lengths off a roll are read to the centimetre: a piece that ends this far beyond one is cut."""


def cut_part(plan: Plan, begun: Begun) -> Plan:
    """The plan with what is cut of it and nothing else: poses and pair numbers as they were.

    Lays that are cut wholly stay as they are; one that is cut in part ends with the last piece that lies within the
    length used. `begun` of the result names its lays, and the length off every roll: lays planned later are not cut.

    Of a lay of several plies whole plies are cut.

    Raises
    ------
    PlanProblem
        If the length used ends within a ply of a lay of several.
    """
    cut = set(begun.cut_hides)
    used = {one.roll_id: one for one in begun.rolls}
    lays = tuple(lay for roll in plan.rolls for lay in _cut_lays(plan, roll, used.get(roll.roll_id), begun.lays))
    return replace(
        plan,
        layouts=tuple(layout for layout in plan.layouts if layout.hide_id in cut),
        lays=lays,
        begun=replace(
            begun, lays=tuple(lay.lay_id for lay in lays),
            rolls=tuple(_with_length(one, plan, lays) for one in begun.rolls),
        ),
        bounds=tuple(bound for bound in plan.bounds if bound.material_id in cut or any(
            bound.material_id == lay.lay_id and lay in plan.lays for lay in lays
        )),
    )


def _with_length(used: UsedRoll, plan: Plan, lays: tuple[Lay, ...]) -> UsedRoll:
    """The roll with the length that its lays took, where none was measured."""
    if used.length_mm is not None:
        return used
    roll = next(roll for roll in plan.rolls if roll.roll_id == used.roll_id)
    return replace(used, length_mm=off_roll_mm(roll, lays))


def off_roll_mm(roll: Roll, lays: Sequence[Lay]) -> float:
    """Length that these lays take off a roll, end losses of every ply included; lays of other rolls are left out."""
    return fsum(lay.plies * (lay.length_mm + 2.0 * roll.end_loss_mm) for lay in lays if lay.roll_id == roll.roll_id)


def length_used_mm(part: Plan, roll: Roll) -> float:
    """Length off a roll when its cut `part` was cut: as measured, no less than the lays of it need."""
    measured = max((one.length_mm or 0.0 for one in part.begun.rolls if one.roll_id == roll.roll_id), default=0.0)
    return max(measured, off_roll_mm(roll, part.lays))


def lays_within(plan: Plan, roll: Roll, length_mm: float) -> tuple[Lay, ...]:
    """The lays of a plan that a length off their roll holds, the last perhaps in part; raises as `cut_part`."""
    return tuple(_cut_lays(plan, roll, UsedRoll(roll.roll_id, length_mm), plan.begun.lays))


def _cut_lays(plan: Plan, roll: Roll, used: UsedRoll | None, known: tuple[str, ...]) -> list[Lay]:
    """The lays of a roll that are cut, the last of them perhaps in part."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    left = 0.0 if used is None else inf if used.length_mm is None else used.length_mm
    cut = []
    for lay in plan.lays:
        if lay.roll_id != roll.roll_id:
            continue
        whole = off_roll_mm(roll, (lay,))
        # Of a withdrawn roll without a length only what was cut before is; the rest of it is not to be used.
        if lay.lay_id in known or left + LENGTH_SLACK_MM >= whole - roll.end_loss_mm:
            cut.append(lay)
        elif left > 0.0:
            cut += _up_to(roll, lay, left, pieces)
        left = max(0.0, left - whole)
    return cut


def _up_to(roll: Roll, lay: Lay, length_mm: float, pieces: dict[str, Piece]) -> list[Lay]:
    """The lay with the pieces that end within a length off the roll, its first end loss included; none if none do."""
    if lay.plies > 1:
        ply = off_roll_mm(roll, (replace(lay, plies=1),))
        plies = round(length_mm / ply)
        if abs(length_mm - plies * ply) > LENGTH_SLACK_MM + roll.end_loss_mm:
            raise PlanProblem(
                f"roll {roll.roll_id}: the length used ends within a ply of lay {lay.lay_id}, of which each takes "
                f"{ply / 1e3:.3f} m; give the length of whole plies"
            )
        return [replace(lay, plies=plies)] if plies else []
    ends = [float(one.pose.apply(pieces[one.piece_id].cut_outline)[:, 0].max()) for one in lay.placed]
    reach = length_mm - roll.end_loss_mm + LENGTH_SLACK_MM
    kept = [(one, end) for one, end in zip(lay.placed, ends, strict=True) if end <= reach]
    if not kept:
        return []
    end = max(end for _, end in kept)
    length = max(ceil((end + 0.02) * 1e3) / 1e3, length_mm - 2.0 * roll.end_loss_mm)
    return [replace(lay, length_mm=min(length, lay.length_mm), placed=tuple(one for one, _ in kept))]
