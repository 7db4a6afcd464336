"""One piece again: a badly cut piece placed anew in what is left of its hide, or of another.

Of all places it can have it takes the one with most room around it (`nest.planning.roomiest`), for a hide that comes
back to the table never lies exactly as it did.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nest.errors import NoRoom, PlanProblem
from nest.pieces.piece import Foot
from nest.plan import Begun, HideLayout, Placed, Plan, PlannedStyle, Side, Spoiled
from nest.planning.grounds import class_under
from nest.planning.roomiest import Demand, left_of, roomiest, why_no_room
from nest.stock.material import Hide

__all__ = ["Lost", "again", "fits", "hides_with_room", "lost_piece", "with_any_class"]

_SIDES = {Foot.LEFT: Side.LEFT, Foot.RIGHT: Side.RIGHT, Foot.EITHER: Side.EITHER}


@dataclass(frozen=True, slots=True)
class Lost:
    """A piece that is to be cut again: the hide it came from, its number there, and what it asks of a hide now."""

    hide: Hide
    number: int
    style: PlannedStyle
    asked: Demand
    paired: bool
    partner_quality: int
    """Class of ground that its partner lies on; 0 where pairs need not share one, or it has none."""

    @property
    def words(self) -> str:
        """Which piece it is."""
        return f"piece no. {self.number} of hide {self.hide.hide_id} ({self.style.name} {self.asked.piece.size})"


def lost_piece(plan: Plan, hide_id: str, number: int) -> Lost:
    """Piece `number` of a hide, as on the label of its drawing.

    The new piece has the old one's rules; where pairs must share a class, it asks for the class the old one lay on.

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
    one_way = any(leather.one_way for leather in plan.leathers if leather.name == hide.leather)
    asked = Demand(piece, style.rules, plan.settings.edge_room_mm, one_way, quality)
    return Lost(hide, number, style, asked, bool(old.pair), quality)


def _check_names(plan: Plan) -> None:
    """Every piece placed on a hide, and its style, is in the plan."""
    pieces, styles = {piece.piece_id: piece for piece in plan.pieces}, {style.name for style in plan.styles}
    for one in (one for layout in plan.layouts for one in layout.placed):
        if one.piece_id not in pieces or pieces[one.piece_id].style not in styles:
            raise PlanProblem(f"the plan does not hold the piece {one.piece_id!r} or its style; verify the plan first")


def again(plan: Plan, lost: Lost, on: str = "") -> Plan:
    """A plan of one hide with the piece placed anew and nothing else: on its own hide, or on the one named `on`.

    What the plan cuts is ground that tears. The piece keeps its number on its own hide and has the next one on
    another. It is wanted for one that was spoiled, and for no line of an order.

    Raises
    ------
    PlanProblem
        If the hide cannot be used for it.
    NoRoom
        If the piece fits nowhere in what is left of the hide; the text says why.
    """
    hide = _named(plan, lost, on) if on else lost.hide
    left = left_of(plan, hide)
    best = roomiest(left, lost.asked)
    if best is None:
        raise NoRoom(f"{lost.words} fits nowhere in what is left of hide {hide.hide_id}: "
                     f"{why_no_room(left, lost.asked)}")
    other, piece = hide is not lost.hide, lost.asked.piece
    number = _next_number(plan, hide) if other else lost.number
    what = f"{plan.name}: hide {lost.hide.hide_id}, piece no. {lost.number} again" + (
        f" from hide {hide.hide_id}" if other else ""
    )
    quality = class_under(left)(best.pose.apply(piece.net_outline))
    return replace(
        plan,
        name=what,
        styles=(replace(lost.style, roll=""),), order=(), pieces=(piece,), hides=(left,), rolls=(), lays=(), bounds=(),
        leathers=tuple(leather for leather in plan.leathers if leather.name == hide.leather),
        layouts=(HideLayout(hide.hide_id, (Placed(piece.piece_id, best.pose),), (number,)),),
        begun=Begun(spoiled=(Spoiled(lost.style.name, piece.size, _SIDES[piece.foot], 1),)),
        issues=(),
        warnings=tuple(_warnings(lost, hide, number, best.room_mm, quality)),
    )


def _warnings(lost: Lost, hide: Hide, number: int, room_mm: float, quality: int) -> Iterator[str]:
    """What the cutter must know of the new piece."""
    other = hide is not lost.hide
    where = f" from hide {hide.hide_id}, as no. {number} there" if other else ""
    yield f"{lost.words[0].upper()}{lost.words[1:]} again{where}; it may be moved by {room_mm:.1f} mm to any side."
    if other and lost.paired:
        yield "It comes from another hide than its partner: match the two by hand."
    if lost.partner_quality and quality != lost.partner_quality:
        yield f"It lies on ground of class {quality}, its partner on class {lost.partner_quality}."


def hides_with_room(plan: Plan, lost: Lost, but: str) -> Iterator[str]:
    """Other hides that have room for the piece, one after another, without the hide `but`.

    Those that are still to be cut come first, then those that are cut, last those that the plan leaves whole.
    """
    to_cut = {layout.hide_id for layout in plan.layouts_to_cut}
    used = {layout.hide_id for layout in plan.layouts if layout.placed}
    fit = [
        hide for hide in plan.hides
        if hide.leather == lost.style.leather and hide.hide_id not in (but, *plan.begun.withdrawn)
    ]
    for hide in sorted(fit, key=lambda hide: (hide.hide_id not in to_cut, hide.hide_id not in used)):
        if fits(plan, lost, hide.hide_id):
            yield hide.hide_id


def fits(plan: Plan, lost: Lost, hide_id: str) -> bool:
    """Whether a hide of the plan has room for the piece."""
    hide = next(hide for hide in plan.hides if hide.hide_id == hide_id)
    return roomiest(left_of(plan, hide), lost.asked) is not None


def with_any_class(lost: Lost) -> Lost:
    """The same piece, on ground of whatever class."""
    return replace(lost, asked=replace(lost.asked, quality=0))


def _named(plan: Plan, lost: Lost, hide_id: str) -> Hide:
    """The hide of this id, fit for the piece's style."""
    hide = next((one for one in plan.hides if one.hide_id == hide_id), None)
    if hide is None:
        raise PlanProblem(f"the plan has no hide named {hide_id}; see the hides in its report")
    if hide.leather != lost.style.leather:
        raise PlanProblem(f"hide {hide_id} is {hide.leather}, but {lost.style.name} is cut from {lost.style.leather}; "
                          "name another hide")
    if hide_id in plan.begun.withdrawn:
        raise PlanProblem(f"hide {hide_id} is withdrawn; name another")
    return lost.hide if hide.hide_id == lost.hide.hide_id else hide


def _next_number(plan: Plan, hide: Hide) -> int:
    """The number after the last piece that the plan cuts from a hide."""
    layout = next((one for one in plan.layouts if one.hide_id == hide.hide_id), None)
    return 1 + max((layout.number(i) for i in range(len(layout.placed))), default=0) if layout else 1
