"""What the day at the table makes of a plan: pieces cut, spoiled and sound, ticked off one by one or by the hide.

A hide counts as cut in the plan once all that lies on it is cut, and what was spoiled of it counts from then on: so the
lists of the day (`nest.begun`) know hides alone. Until then what is cut of it stays as it lies.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from math import fsum

from geometry.polygon import area
from nest.edits.commands import CutOff, EditProblem, NotCut, Sound, Spoil
from nest.edits.state import State
from nest.job.values import AREA_REFUSAL
from nest.plan import CutHide, Side, Spoiled


def cut_off(state: State, command: CutOff) -> State:
    """Pieces, or all of a hide, cut as they lie."""
    state.check_there(command.hide)
    numbers = _numbers(state, command.hide, command.numbers)
    if not numbers:
        raise EditProblem(f"nothing lies on hide {command.hide}; ban it if it was cut for something else.")
    cut = state.cut | {(command.hide, number) for number in numbers}
    return _booked(state, replace(state, cut=cut), command.hide, _measured(state, command))


def not_cut(state: State, command: NotCut) -> State:
    """Ticks taken back."""
    state.hide(command.hide)
    ticked = {number for hide, number in state.cut if hide == command.hide}
    numbers = _numbers(state, command.hide, command.numbers) if command.numbers else tuple(sorted(ticked))
    if not numbers or not ticked.issuperset(numbers):
        raise EditProblem(f"hide {command.hide}: only what was ticked off as cut at this desk is taken back.")
    gone = {(command.hide, number) for number in numbers}
    if spoiled := sorted(number for hide, number, _ in state.spoiled if (hide, number) in gone):
        raise EditProblem(f"piece no. {spoiled[0]} of hide {command.hide} is spoiled; say first that it is sound.")
    if pressed := sorted(one.numbers[0] for one in state.pressed if (one.hide, one.numbers[0]) in gone):
        raise EditProblem(f"piece no. {pressed[0]} of hide {command.hide} has come out of the press; take its outcome "
                          "back first.")
    return _booked(state, replace(state, cut=state.cut - gone), command.hide)


def spoil(state: State, command: Spoil) -> State:
    """Cut pieces that were lost."""
    numbers = ticked(state, command.hide, command.numbers)
    state = without_outcome(state, command.hide, numbers)
    known = {(hide, number) for hide, number, _ in state.spoiled}
    more = {(command.hide, number, command.backed) for number in numbers if (command.hide, number) not in known}
    return _booked(state, replace(state, spoiled=state.spoiled | more), command.hide)


def sound(state: State, command: Sound) -> State:
    """Pieces that are not spoiled after all."""
    numbers = set(ticked(state, command.hide, command.numbers))
    state = without_outcome(state, command.hide, numbers)
    kept = frozenset(one for one in state.spoiled if one[0] != command.hide or one[1] not in numbers)
    return _booked(state, replace(state, spoiled=kept), command.hide)


def left_uncut(state: State, hide_id: str) -> State:
    """A hide of which some is cut, given up: what is not cut is taken off, and it counts as cut."""
    stays = [one for one in (*state.parts(hide_id)[0], *state.parts(hide_id)[1]) if (hide_id, one[1]) in state.cut]
    return _booked(state, state.with_pieces(hide_id, stays), hide_id)


def _numbers(state: State, hide_id: str, numbers: tuple[int, ...]) -> tuple[int, ...]:
    """The pieces that are meant, all of the hide if none are named."""
    layout = state.layout(hide_id)
    there = [layout.number(at) for at in range(len(layout.placed))]
    if missing := sorted(set(numbers) - set(there)):
        raise EditProblem(f"hide {hide_id} holds no piece no. {missing[0]}; see its drawing.")
    return numbers or tuple(there)


def without_outcome(state: State, hide_id: str, numbers: Iterable[int]) -> State:
    """The state with nothing known of what the press made of these pieces: the last word on them counts."""
    gone = {(hide_id, number) for number in numbers}
    return replace(state, pressed=frozenset(one for one in state.pressed if (one.hide, one.numbers[0]) not in gone))


def ticked(state: State, hide_id: str, numbers: tuple[int, ...]) -> tuple[int, ...]:
    """Pieces that are named, each of them cut."""
    if not numbers:
        raise EditProblem(f"name the pieces of hide {hide_id} by their numbers.")
    for number in _numbers(state, hide_id, numbers):
        if (hide_id, number) not in state.cut:
            before = " at this desk" if hide_id in state.plan.begun.cut_hides else ""
            raise EditProblem(f"piece no. {number} of hide {hide_id} was not ticked off as cut{before}; tick it first.")
    return numbers


def _measured(state: State, command: CutOff) -> float | None:
    """The area that the hide measured when it was cut, mm²; EditProblem if it cannot be that."""
    measured = command.measured_mm2
    if measured is None:
        return None
    if command.numbers:
        raise EditProblem("an area is that of the whole hide; leave the numbers out.")
    hide = state.hide(command.hide)
    rough = {piece.piece_id: area(piece.cut_outline) for piece in state.plan.pieces}
    covered = fsum(rough[one.piece_id] for one in state.layout(command.hide).placed)
    if not abs(measured / hide.measured_area_mm2 - 1.0) <= AREA_REFUSAL or measured < covered:
        raise EditProblem(f"hide {command.hide} measured {hide.measured_area_mm2 / 1e4:.1f} dm² before, and its pieces "
                          f"cover {covered / 1e4:.1f} dm²; {measured / 1e4:.1f} dm² cannot be its area.")
    return measured


def _booked(old: State, new: State, hide_id: str, measured_mm2: float | None = None) -> State:
    """The new state with its plan's own record of what is cut and spoiled."""
    layout = new.layout(hide_id)
    whole = bool(layout.placed) and all((hide_id, layout.number(at)) in new.cut for at in range(len(layout.placed)))
    begun = new.plan.begun
    hides = tuple(one for one in begun.hides if one.hide_id != hide_id)
    if whole:
        before = next((one.measured_mm2 for one in begun.hides if one.hide_id == hide_id), None)
        hides = (*hides, CutHide(hide_id, measured_mm2 or before))
    new = replace(new, plan=replace(new.plan, begun=replace(begun, hides=hides)))
    counts: Counter = Counter({(one.style, one.size, one.side, one.backed): one.count for one in begun.spoiled})
    counts.subtract(_spoiled(old))
    counts.update(_spoiled(new))
    spoiled = tuple(
        Spoiled(style, size, side, count, backed) for (style, size, side, backed), count in counts.items() if count > 0)
    return replace(new, plan=replace(new.plan, begun=replace(new.plan.begun, spoiled=spoiled)))


def _spoiled(state: State) -> Iterable[tuple]:
    """Style, size, side, and whether the reinforcement was lost, of each piece spoiled on hides that are cut."""
    pieces = {piece.piece_id: piece for piece in state.plan.pieces}
    cut = set(state.plan.begun.cut_hides)
    for hide_id, number, backed in state.spoiled:
        if hide_id in cut:
            layout = state.layout(hide_id)
            at = next(at for at in range(len(layout.placed)) if layout.number(at) == number)
            piece = pieces[layout.placed[at].piece_id]
            yield piece.style, piece.size, Side(piece.foot), backed
