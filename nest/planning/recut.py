"""Pieces cut again: badly cut pieces placed anew in what is left of their hides, or of others.

Of all places it can have a piece takes the one with most room around it (`nest.room.roomiest`), for a hide that comes
back to the table never lies exactly as it did. Where several would not all find room that way they are placed close.
Both vamps of a pair that are cut again lie on one hide and on ground of one class, as the rules say; one alone lies on
the class of ground that its partner came from.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import fsum

import shapely

from nest.errors import NoRoom, PlanProblem
from nest.pieces.piece import Piece
from nest.plan import Begun, HideLayout, Placed, Plan, PlannedStyle, Side, Spoiled
from nest.planning.grounds import class_under
from nest.planning.leftover import Leftover
from nest.room.hide import HideLeft, Wanted
from nest.room.roomiest import Roomy, roomiest, why_no_room
from nest.stock.material import Hide

__all__ = ["Leave", "Lost", "again", "lost_piece", "ways_out"]


@dataclass(frozen=True, slots=True)
class Lost:
    """A piece that is to be cut again: the hide it came from, its number there, and its pair, 0 for none.

    partner_quality : class of ground that its partner lies on; 0 where pairs need not share one, or it has none.
    """

    hide: Hide
    number: int
    style: PlannedStyle
    piece: Piece
    pair: int
    partner_quality: int

    @property
    def words(self) -> str:
        """Which piece it is."""
        return f"piece no. {self.number} of hide {self.hide.hide_id} ({self.style.name} {self.piece.size})"


@dataclass(frozen=True, slots=True)
class Leave:
    """What is let pass by name: another hide (`on` its id, or any that has room), another class than the partner's."""

    on: str = ""
    any_hide: bool = False
    any_class: bool = False


@dataclass(frozen=True, slots=True)
class _Spot:
    lost: Lost
    hide_id: str
    roomy: Roomy


def lost_piece(plan: Plan, hide_id: str, number: int) -> Lost:
    """Piece `number` of a hide, as on the label of its drawing.

    Raises
    ------
    PlanProblem
        If there is no such hide or piece.
    """
    layout = next((one for one in plan.layouts if one.hide_id == hide_id), None)
    hide = next((one for one in plan.hides if one.hide_id == hide_id), None)
    if layout is None or hide is None or not layout.placed:
        raise PlanProblem(f"the plan cuts nothing from a hide named {hide_id}; see the hides in its report")
    numbers = {layout.number(index): index for index in range(len(layout.placed))}
    if number not in numbers:
        there = f"pieces no. 1 to {len(numbers)}" if max(numbers) == len(numbers) else \
            "pieces no. " + ", ".join(map(str, sorted(numbers)))
        raise PlanProblem(f"hide {hide_id} holds the {there}, not {number}; see its drawing")
    old = layout.placed[numbers[number]]
    _check_names(plan)
    piece = plan.piece(old.piece_id)
    style = next(style for style in plan.styles if style.name == piece.style)
    quality = 0
    if style.rules.pairs_same_class and old.pair:
        quality = class_under(hide)(old.pose.apply(piece.net_outline))
    return Lost(hide, number, style, piece, old.pair, quality)


def _check_names(plan: Plan) -> None:
    """Every piece placed on a hide, and its style, is in the plan."""
    pieces, styles = {piece.piece_id: piece for piece in plan.pieces}, {style.name for style in plan.styles}
    for one in (one for layout in plan.layouts for one in layout.placed):
        if one.piece_id not in pieces or pieces[one.piece_id].style not in styles:
            raise PlanProblem(f"the plan does not hold the piece {one.piece_id!r} or its style; verify the plan first")


def again(plan: Plan, lost: Sequence[Lost], leave: Leave = Leave(), earlier: Sequence[Plan] = ()) -> Plan:
    """A plan of the pieces placed anew and nothing else, each on its own hide unless there is leave.

    What the plan cuts is ground that tears, and so is what was cut again before. A piece keeps its number on its own
    hide and has the next one on another. It is wanted for one that was spoiled, and for no line of an order.

    earlier : plans that this made of the same plan before, whose pieces are cut.

    Raises
    ------
    PlanProblem
        If a hide cannot be used for them, or a piece is named twice.
    NoRoom
        If some of them fit nowhere; the text says of each why.
    """
    if len({(one.hide.hide_id, one.number) for one in lost}) < len(lost):
        raise PlanProblem("a piece is named twice; name each once")
    stock = Leftover(plan, tuple(earlier))
    found, failed = _placed(stock, lost, leave, close=False)
    if failed and len(lost) > 1:
        found, failed = _placed(stock, lost, leave, close=True)
    if failed:
        raise NoRoom("; ".join(failed))
    return _made(plan, stock, sorted(found, key=lambda spot: list(lost).index(spot.lost)))


def ways_out(
    plan: Plan, lost: Sequence[Lost], leave: Leave, earlier: Sequence[Plan] = ()
) -> Iterator[tuple[Leave, Plan]]:
    """Leaves with which all the pieces can be cut after all, and the plans that come of it; the least first."""
    stock = Leftover(plan, tuple(earlier))
    first = leave.on or lost[0].hide.hide_id
    tries = [replace(leave, on=name, any_hide=False) for name in stock.others(lost[0].style.leather, first)]
    if len(lost) > 1:
        tries.insert(0, replace(leave, on="", any_hide=True))
    if any(one.partner_quality for one in lost) and not leave.any_class:
        tries.append(replace(leave, any_class=True))
    other = False
    for wider in tries:
        if other and (wider.on or wider.any_hide) and wider.any_class == leave.any_class:
            continue  # one other hide is enough
        try:
            made = again(plan, lost, wider, earlier)
        except (NoRoom, PlanProblem):
            continue
        other |= wider.any_class == leave.any_class
        yield wider, made


def _placed(stock: Leftover, lost: Sequence[Lost], leave: Leave, *, close: bool) -> tuple[list[_Spot], list[str]]:
    """Places of the pieces, larger ones first, and a sentence for each that has none.

    close : at one end of what is left, in place of where there is most room.
    """
    rooms: dict[str, HideLeft] = {}
    found: list[_Spot] = []
    failed: list[str] = []
    for unit in _units(lost):
        leather = unit[0].style.leather
        own = stock.fit(leave.on, unit[0].style).hide_id if leave.on else unit[0].hide.hide_id
        for name in (own, *(stock.others(leather, own) if leave.any_hide else ())):
            if name not in rooms:
                rooms[name] = stock.room(name)
            spots = _on(rooms[name], name, unit, any_class=leave.any_class, close=close)
            if spots:
                found += spots
                rooms[name] = rooms[name].put([one.roomy.pose.apply(one.lost.piece.cut_outline) for one in spots])
                break
        else:
            where = "any hide of the plan" if leave.any_hide else f"hide {own}"
            why = _why(rooms[own], unit, any_class=leave.any_class)
            failed.append(f"{_words(unit)} nowhere in what is left of {where}: {why}")
    return found, failed


def _units(lost: Sequence[Lost]) -> list[tuple[Lost, ...]]:
    """Pieces by themselves, and both of a pair that must come from one hide together; the larger first."""
    groups: dict[tuple, list[Lost]] = {}
    for spot, one in enumerate(lost):
        paired = one.pair and one.style.rules.pairs_from_one_hide
        groups.setdefault((one.hide.hide_id, one.pair, 0) if paired else ("", 0, spot), []).append(one)
    units = [tuple(group) for group in groups.values()]
    return sorted(units, key=lambda unit: -fsum(shapely.Polygon(one.piece.cut_outline).area for one in unit))


def _on(room: HideLeft, name: str, unit: tuple[Lost, ...], *, any_class: bool, close: bool) -> list[_Spot]:
    """Places of the pieces of a unit on one hide; none where not all have one."""
    rules = unit[0].style.rules
    if len(unit) > 1 and close:
        answer = room.room_for(Wanted(tuple(one.piece for one in unit), rules))
        return [_Spot(one, name, Roomy(pose, 0.0)) for one, pose in zip(unit, answer.poses, strict=False)]
    classes: Sequence[int | None] = (None if any_class else unit[0].partner_quality or None,)
    if len(unit) > 1:
        several = rules.pairs_same_class and len(room.ground(rules).classes) > 1
        classes = room.ground(rules).classes[::-1] if several else (None,)
    for quality in classes:
        now, spots = room, []
        for one in unit:
            roomy = _close(now, one, quality) if close else roomiest(now, one.piece, rules, quality)
            if roomy is None:
                break
            spots.append(_Spot(one, name, roomy))
            now = now.put([roomy.pose.apply(one.piece.cut_outline)])
        if len(spots) == len(unit):
            return spots
    return []


def _close(room: HideLeft, one: Lost, quality: int | None) -> Roomy | None:
    answer = room.room_for(Wanted((one.piece,), one.style.rules, quality))
    return Roomy(answer.poses[0], 0.0) if answer.found else None


def _words(unit: tuple[Lost, ...]) -> str:
    if len(unit) == 1:
        return f"{unit[0].words} fits"
    return f"{unit[0].words} and its partner no. {unit[1].number} fit"


def _why(room: HideLeft, unit: tuple[Lost, ...], *, any_class: bool) -> str:
    """Why a unit has no place on a hide as it is left beside what was placed before."""
    rules = unit[0].style.rules
    for one in unit:
        quality = None if any_class or len(unit) > 1 else one.partner_quality or None
        if _close(room, one, quality) is None:
            return why_no_room(room, one.piece, rules, quality)
    return "each has room by itself, but not both together"


def _made(plan: Plan, stock: Leftover, spots: Sequence[_Spot]) -> Plan:
    """The plan of the pieces placed."""
    names = list(dict.fromkeys(spot.hide_id for spot in spots))
    left = {name: stock.left(name) for name in names}
    counts = Counter((one.lost.hide.hide_id, one.lost.pair) for one in spots if one.lost.pair)
    pairs = {key: number for number, key in enumerate((k for k, n in counts.items() if n > 1), start=1)}
    layouts: list[HideLayout] = []
    warnings: list[str] = []
    spoiled: Counter[tuple[str, str, Side]] = Counter()
    for name in names:
        placed, numbers, following = [], [], stock.next_number(name)
        for spot in (one for one in spots if one.hide_id == name):
            lost, pose = spot.lost, spot.roomy.pose
            pair = pairs.get((lost.hide.hide_id, lost.pair), 0)
            other = name != lost.hide.hide_id
            placed.append(Placed(lost.piece.piece_id, pose, pair))
            numbers.append(following if other else lost.number)
            following += other
            spoiled[lost.style.name, lost.piece.size, Side.PAIR if pair else Side(lost.piece.foot)] += 1
            quality = class_under(left[name])(pose.apply(lost.piece.net_outline))
            warnings += _warnings(spot, numbers[-1], quality, alone=not pair)
        layouts.append(HideLayout(name, tuple(placed), tuple(numbers)))
    return replace(
        plan,
        name=_name(plan, spots),
        styles=tuple(dict.fromkeys(replace(spot.lost.style, roll="") for spot in spots)),
        pieces=tuple(dict.fromkeys(spot.lost.piece for spot in spots)),
        order=(), hides=tuple(left.values()), rolls=(), lays=(), bounds=(), issues=(), layouts=tuple(layouts),
        leathers=tuple(one for one in plan.leathers if any(one.name == hide.leather for hide in left.values())),
        begun=Begun(spoiled=tuple(
            Spoiled(style, size, side, number // 2 if side is Side.PAIR else number)
            for (style, size, side), number in spoiled.items())),
        warnings=tuple(warnings),
    )


def _name(plan: Plan, spots: Sequence[_Spot]) -> str:
    said = []
    for spot in spots:
        lost = spot.lost
        elsewhere = f" from hide {spot.hide_id}" if spot.hide_id != lost.hide.hide_id else ""
        said.append(f"hide {lost.hide.hide_id}, piece no. {lost.number} again{elsewhere}")
    return f"{plan.name}: {'; '.join(said)}"


def _warnings(spot: _Spot, number: int, quality: int, *, alone: bool) -> Iterator[str]:
    """What the cutter must know of a new piece; `alone` where its partner is not cut again with it."""
    lost, other = spot.lost, spot.hide_id != spot.lost.hide.hide_id
    where = f" from hide {spot.hide_id}, as no. {number} there" if other else ""
    yield (f"{lost.words[0].upper()}{lost.words[1:]} again{where}; it may be moved by {spot.roomy.room_mm:.1f} mm to "
           "any side.")
    if other and lost.pair and alone:
        yield "It comes from another hide than its partner: match the two by hand."
    if alone and lost.partner_quality and quality != lost.partner_quality:
        yield f"It lies on ground of class {quality}, its partner on class {lost.partner_quality}."
