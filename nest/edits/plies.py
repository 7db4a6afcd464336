"""Lays of reinforcements ticked off at the table, whole or ply by ply.

A roll is cut from its start, so its lays are ticked off in their sequence. A lay counts as cut in the plan once all its
plies are; the lists of the day (`nest.begun`) say what is off a roll as a length, and so know single plies too.
"""

from collections.abc import Iterator
from dataclasses import replace

from nest.begun.part import off_roll_mm
from nest.edits.commands import CutLay, EditProblem
from nest.edits.state import State
from nest.plan import Begun, Lay, Plan, UsedRoll
from nest.stock.material import Roll


def cut_lay(state: State, command: CutLay) -> State:
    """This many plies of a lay are cut, all of them where no number is given."""
    lay = next((one for one in state.plan.lays if one.lay_id == command.lay), None)
    if lay is None:
        names = ", ".join(one.lay_id for one in state.plan.lays) or "none"
        raise EditProblem(f"the plan has no lay named {command.lay!r}; its lays: {names}.")
    plies = lay.plies if command.plies is None else command.plies
    if not 0 <= plies <= lay.plies:
        raise EditProblem(f"lay {lay.lay_id} has plies from 0 to {lay.plies}, not {plies}; correct it.")
    _check_turn(state, lay, plies)
    others = {one for one in state.plies if one[0] != lay.lay_id}
    return _booked(state, replace(state, plies=frozenset(others | {(lay.lay_id, plies)} if plies else others)), lay)


def _check_turn(state: State, lay: Lay, plies: int) -> None:
    """EditProblem if it is not this lay's turn on its roll."""
    begun, ticked = state.plan.begun, dict(state.plies)
    if any(one.roll_id == lay.roll_id and one.withdrawn for one in begun.rolls):
        raise EditProblem(f"roll {lay.roll_id} is withdrawn; nothing more is cut from it.")
    if lay.lay_id in begun.lays and lay.lay_id not in ticked:
        raise EditProblem(f"lay {lay.lay_id} was cut before the plan came to this desk; it stays so.")
    mine = [one for one in state.plan.lays if one.roll_id == lay.roll_id]
    at = mine.index(lay)
    open_before = [one.lay_id for one in mine[:at] if one.lay_id not in begun.lays]
    if plies and open_before:
        raise EditProblem(f"lay {open_before[0]} lies before lay {lay.lay_id} on roll {lay.roll_id}; tick it first.")
    cut_after = [one.lay_id for one in mine[at + 1 :] if one.lay_id in ticked]
    if plies < lay.plies and cut_after:
        raise EditProblem(f"lay {cut_after[0]} lies behind lay {lay.lay_id} on roll {lay.roll_id}, and is ticked off; "
                          "take that back first.")


def begun_with_plies(state: State) -> Begun:
    """How far cutting has come, with the plies of lays that are cut in part: what the lists of the day say."""
    begun = state.plan.begun
    for lay, plies in _ticked(state):
        if plies < lay.plies:
            roll = _roll(state.plan, lay)
            begun = _with_length(begun, roll, _off(state.plan, roll) + off_roll_mm(roll, (replace(lay, plies=plies),)))
    return begun


def _booked(old: State, new: State, lay: Lay) -> State:
    """The new state with its plan's own record of the lays that are cut and of what they take off the lay's roll."""
    plan, begun, roll = new.plan, new.plan.begun, _roll(new.plan, lay)
    before, now = (tuple(one for one, plies in _ticked(state) if plies == one.plies) for state in (old, new))
    named = {*begun.lays, *(one.lay_id for one in now)} - {one.lay_id for one in before if one not in now}
    length = _off(plan, roll) - off_roll_mm(roll, before) + off_roll_mm(roll, now)
    lays = tuple(one.lay_id for one in plan.lays if one.lay_id in named)
    return replace(new, plan=replace(plan, begun=_with_length(replace(begun, lays=lays), roll, length)))


def _ticked(state: State) -> Iterator[tuple[Lay, int]]:
    """The lays of which plies are ticked off here, each with how many."""
    ticked = dict(state.plies)
    yield from ((lay, ticked[lay.lay_id]) for lay in state.plan.lays if lay.lay_id in ticked)


def _roll(plan: Plan, lay: Lay) -> Roll:
    return next(one for one in plan.rolls if one.roll_id == lay.roll_id)


def _off(plan: Plan, roll: Roll) -> float:
    """What is off a roll by the plan's own record, mm: as measured, else what its cut lays need."""
    measured = next((one.length_mm for one in plan.begun.rolls if one.roll_id == roll.roll_id), None)
    cut = tuple(one for one in plan.lays if one.lay_id in plan.begun.lays)
    return off_roll_mm(roll, cut) if measured is None else measured


def _with_length(begun: Begun, roll: Roll, length_mm: float) -> Begun:
    others = tuple(one for one in begun.rolls if one.roll_id != roll.roll_id)
    length_mm = round(length_mm, 6)
    return replace(begun, rolls=(*others, UsedRoll(roll.roll_id, length_mm)) if length_mm > 0.0 else others)
