"""What the press made of pieces that were cut, ticked off one by one: a piece that failed is spoiled by that."""

from dataclasses import replace

from nest.edits.commands import EditProblem, Pressed, Sound, Spoil
from nest.edits.cutting import sound, spoil, ticked, without_outcome
from nest.edits.state import State
from nest.job.values import ValueFault, day
from nest.outcomes import Reason
from nest.outcomes.figures import MOST_MM


def pressed(state: State, command: Pressed) -> State:
    """The state with these outcomes in the place of earlier ones of the same pieces."""
    hide, numbers = command.hide, tuple(sorted(set(ticked(state, command.hide, command.numbers))))
    _check(command, len(numbers))
    failed = {one.numbers[0] for one in state.pressed if one.hide == hide and failure(one)}
    if failure(command):
        state = spoil(state, Spoil(hide, numbers, command.backed))
    elif command.outcome:
        state = sound(state, Sound(hide, numbers))
    elif again := tuple(number for number in numbers if number in failed):
        state = sound(state, Sound(hide, again))
    state = without_outcome(state, hide, numbers)
    if not command.outcome and not measured(command):
        return state
    return replace(state, pressed=state.pressed | {replace(command, numbers=(number,)) for number in numbers})


def failure(one: Pressed) -> bool:
    """Whether it says that pieces are lost."""
    return one.outcome not in ("", Reason.GOOD)


def measured(one: Pressed) -> bool:
    """Whether it holds trim that was measured."""
    return any(mm is not None for mm in (one.toe_mm, one.side_mm, one.back_mm))


def _check(command: Pressed, pieces: int) -> None:
    if command.outcome and command.outcome not in list(Reason):
        raise EditProblem(f"an outcome is one of {', '.join(Reason)}, not {command.outcome!r}; correct it.")
    if measured(command) and pieces > 1:
        raise EditProblem("trim is measured of one piece; give its number alone.")
    for mm in (command.toe_mm, command.side_mm, command.back_mm):
        if mm is not None and not abs(mm) <= MOST_MM:
            raise EditProblem(f"trim left is from -{MOST_MM:g} to {MOST_MM:g} mm, not {mm:g}; correct it.")
    try:
        if command.day:
            day(command.day, "a day of pressing")
    except ValueFault as fault:
        raise EditProblem(f"expected {fault.expected}, found {fault.found}; {fault.remedy}.") from fault
