"""The next state of a plan by one command; nothing is changed in place, and what cannot be done is refused."""

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from geometry.pose import Pose
from nest.edits import commands as do
from nest.edits import cutting, ground, plies, pressing
from nest.edits.partners import rejoined
from nest.edits.state import State, check_whole, free_numbers
from nest.limits import LARGEST_COORDINATE
from nest.pieces.piece import Role
from nest.plan import Placed
from nest.planning.wants import on_coordinate_grid
from nest.stock.material import Hide
from nest.verify import broken


def changed(state: State, command: do.Command) -> State:
    """The state that a command makes of another.

    The judge is not asked: a change may leave a plan that is wrong, and `nest.edits.findings_on` says so.

    Raises
    ------
    EditProblem
        If it cannot be done; the text says why. Searches are no changes: see `nest.edits.searched`.
    """
    if isinstance(command, do.SearchCommand):
        raise do.EditProblem("placing again is a search; run it with nest.edits.searched.")
    return _CHANGES[type(command)](state, command)


def _settled(state: State, touched: Iterable[str]) -> State:
    """The state with pairs put right and without figures that spoke of the layouts before."""
    touched = set(touched)
    plan = state.plan
    bounds = tuple(bound for bound in plan.bounds if bound.material_id not in touched)
    plan = replace(plan, bounds=bounds, issues=(), search=None)
    return replace(state, plan=replace(plan, layouts=rejoined(plan, touched)))


def _on_ground(change: Callable[[Hide, Any], Hide]) -> Callable[[State, Any], State]:
    """A change to the drawing of a hide, as a change of the state."""

    def changed_ground(state: State, command: Any) -> State:
        state.check_open(command.hide)
        return _settled(state.with_hide(change(state.hide(command.hide), command)), (command.hide,))

    return changed_ground


def _hold(state: State, command: do.Hold) -> State:
    state.check_open(command.hide)
    if not command.numbers:
        return replace(state, held_hides=state.held_hides | {command.hide})
    there = {number for _, number in (*state.parts(command.hide)[0], *state.parts(command.hide)[1])}
    if missing := sorted(set(command.numbers) - there):
        raise do.EditProblem(f"hide {command.hide} holds no piece no. {missing[0]}; see its drawing.")
    return replace(state, held=state.held | {(command.hide, number) for number in command.numbers})


def _free(state: State, command: do.Free) -> State:
    state.hide(command.hide)
    if not command.numbers:
        held = frozenset(one for one in state.held if one[0] != command.hide)
        return replace(state, held_hides=state.held_hides - {command.hide}, held=held)
    return replace(state, held=state.held - {(command.hide, number) for number in command.numbers})


def _ban(state: State, command: do.BanHide) -> State:
    state.check_open(command.hide)
    if any(one[0] == command.hide for one in state.held):
        raise do.EditProblem(f"pieces of hide {command.hide} are held; free them first.")
    if any(one[0] == command.hide for one in state.cut):
        return _settled(cutting.left_uncut(state, command.hide), (command.hide,))
    begun = replace(state.plan.begun, withdrawn=(*state.plan.begun.withdrawn, command.hide))
    state = state.with_pieces(command.hide, [])
    return _settled(replace(state, plan=replace(state.plan, begun=begun)), (command.hide,))


def _allow(state: State, command: do.AllowHide) -> State:
    begun = state.plan.begun
    if command.hide not in begun.withdrawn:
        state.hide(command.hide)
        raise do.EditProblem(f"hide {command.hide} may be used already.")
    begun = replace(begun, withdrawn=tuple(one for one in begun.withdrawn if one != command.hide))
    return replace(state, plan=replace(state.plan, begun=begun))


def _move(state: State, command: do.MovePiece) -> State:
    state.check_open(command.hide)
    spot = state.spot(command.hide, command.number)
    pose = _pose(command.x, command.y, command.heading_deg)
    numbered = _numbered(state, command.hide)
    numbered[spot] = replace(numbered[spot][0], pose=pose), command.number
    return _settled(state.with_pieces(command.hide, numbered), (command.hide,))


def _take_out(state: State, command: do.TakeOut) -> State:
    state.check_open(command.hide)
    state.spot(command.hide, command.number)
    kept = [one for one in _numbered(state, command.hide) if one[1] != command.number]
    return _settled(state.with_pieces(command.hide, kept), _with_partners(state, command.hide, command.number))


def _put_in(state: State, command: do.PutIn) -> State:
    state.check_open(command.hide)
    piece = next((one for one in state.plan.pieces if one.piece_id == command.piece), None)
    if piece is None or piece.role is not Role.VAMP:
        raise do.EditProblem(f"the plan has no vamp {command.piece!r}; see its pieces.")
    leather = next(style.leather for style in state.plan.styles if style.name == piece.style)
    hide = state.hide(command.hide)
    if hide.leather != leather:
        raise do.EditProblem(f"hide {hide.hide_id} is {hide.leather}, but {piece.style} is cut from {leather}; "
                          "name another hide.")
    numbered = _numbered(state, command.hide)
    number = next(free_numbers({number for _, number in numbered}))
    placed = Placed(piece.piece_id, _pose(command.x, command.y, command.heading_deg))
    return _settled(state.with_pieces(command.hide, [*numbered, (placed, number)]), (command.hide,))


def _exchange(state: State, command: do.Exchange) -> State:
    for hide in (command.hide, command.other_hide):
        state.check_open(hide)
    one = state.layout(command.hide).placed[state.spot(command.hide, command.number)]
    other = state.layout(command.other_hide).placed[state.spot(command.other_hide, command.other_number)]
    pieces = {piece.piece_id: piece for piece in state.plan.pieces}
    if pieces[one.piece_id].style != pieces[other.piece_id].style:
        raise do.EditProblem("only pieces of one style change places; name two of one style.")
    touched = {
        *_with_partners(state, command.hide, command.number),
        *_with_partners(state, command.other_hide, command.other_number),
    }
    for hide, number, piece in (
        (command.hide, command.number, other.piece_id), (command.other_hide, command.other_number, one.piece_id)
    ):
        numbered = [
            (replace(old, piece_id=piece, pair=0) if at == number else old, at) for old, at in _numbered(state, hide)
        ]
        state = state.with_pieces(hide, numbered)
    return _settled(state, touched)


def _set_layouts(state: State, command: do.SetLayouts) -> State:
    touched = {layout.hide_id for layout in command.layouts}
    for layout in command.layouts:
        state.check_open(layout.hide_id)
        new = {(layout.number(at), one) for at, one in enumerate(layout.placed)}
        for one, number in state.parts(layout.hide_id)[0]:
            if not any(number == at and placed.piece_id == one.piece_id and placed.pose == one.pose
                       for at, placed in new):
                raise do.EditProblem(f"piece no. {number} of hide {layout.hide_id} is held; it stays as it lies.")
    for layout in command.layouts:
        state = state.with_pieces(layout.hide_id, [(one, layout.number(at)) for at, one in enumerate(layout.placed)])
    return _settled(state, touched)


def _set_plan(state: State, command: do.SetPlan) -> State:
    check_whole(state)
    for finding in broken(command.plan):
        raise do.EditProblem(f"the plan cannot be used: {finding.sentence}")
    return State(command.plan)


def _numbered(state: State, hide_id: str) -> list[tuple[Placed, int]]:
    layout = state.layout(hide_id)
    return [(one, layout.number(at)) for at, one in enumerate(layout.placed)]


def _with_partners(state: State, hide_id: str, number: int) -> set[str]:
    """The hide of a piece and that of its partner."""
    pair = next(one.pair for one, at in _numbered(state, hide_id) if at == number)
    layouts = state.plan.layouts if pair else ()
    return {hide_id, *(one.hide_id for one in layouts if any(placed.pair == pair for placed in one.placed))}


def _pose(x: float, y: float, heading_deg: float) -> Pose:
    if not (abs(x) <= LARGEST_COORDINATE and abs(y) <= LARGEST_COORDINATE and math.isfinite(heading_deg)):
        raise do.EditProblem(f"a piece cannot lie at {x:g}, {y:g} with its toe at {heading_deg:g}°; correct it.")
    return on_coordinate_grid(Pose(x, y, heading_deg % 360.0))


_CHANGES: dict[type, Callable[[State, Any], State]] = {
    do.MarkFlaw: _on_ground(ground.with_flaw),
    do.DropFlaw: _on_ground(ground.without_flaw),
    do.MarkZone: _on_ground(ground.with_zone),
    do.SplitZone: _on_ground(ground.with_split_zone),
    do.SetZone: _on_ground(ground.with_set_zone),
    do.StretchUnknown: _on_ground(ground.with_unknown_stretch),
    do.TrimEdge: _on_ground(ground.trimmed),
    do.Hold: _hold, do.Free: _free, do.BanHide: _ban, do.AllowHide: _allow, do.MovePiece: _move, do.TakeOut: _take_out,
    do.PutIn: _put_in, do.Exchange: _exchange, do.SetLayouts: _set_layouts,
    do.SetPlan: _set_plan,
    do.CutOff: cutting.cut_off, do.NotCut: cutting.not_cut, do.CutLay: plies.cut_lay, do.Spoil: cutting.spoil,
    do.Sound: cutting.sound,
    do.Pressed: pressing.pressed,
}
