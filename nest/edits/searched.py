"""What the commands that are searches come to."""

from collections.abc import Callable

from nest.edits.anew import placed_anew
from nest.edits.commands import Found, PlaceWith, SearchCommand
from nest.edits.state import State
from nest.edits.withthese import planned_with
from nest.planning.run import Engine
from nest.planning.watch import PlanProgress


def searched(
    state: State, command: SearchCommand, *, engine: Engine | None = None,
    cancelled: Callable[[], bool] = lambda: False, listener: Callable[[PlanProgress], None] | None = None,
    better: Callable[[Found], None] | None = None,
) -> Found:
    """What a search comes to, as the command that sets it.

    A search that is cancelled gives the best it has found. By passes alone equal calls give equal plans.
    `better` gets layouts as they are found.

    Raises
    ------
    EditProblem
        As `nest.edits.anew.placed_anew` and `nest.edits.withthese.planned_with`.
    """
    if isinstance(command, PlaceWith):
        return planned_with(state, command, engine=engine, cancelled=cancelled, listener=listener)
    return placed_anew(state, command, engine=engine, cancelled=cancelled, listener=listener, better=better)
