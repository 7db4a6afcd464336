"""A list of steps read from a file and done one after another."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from nest.edits.commands import EditProblem, Found, SearchCommand, Step, commands_from_text
from nest.edits.history import History, played
from nest.edits.searched import searched
from nest.edits.state import State
from nest.limits import LARGEST_FILE_BYTES
from nest.plainfile import NotPlain, read_plain
from nest.planning.run import Engine
from nest.planning.watch import PlanProgress


def read_steps(path: Path) -> tuple[Step, ...]:
    """The steps in a JSON file.

    Raises
    ------
    EditProblem, InputProblems
        As `nest.edits.commands.commands_from_text`; and if the file cannot be read.
    """
    try:
        text = read_plain(path, LARGEST_FILE_BYTES).decode("utf-8-sig")
    except NotPlain as found:
        raise EditProblem(f"{path}: expected a list of commands, found {found}; correct the path.") from found
    except UnicodeDecodeError as error:
        raise EditProblem(f"{path}: expected UTF-8 text; save the file again as UTF-8.") from error
    return commands_from_text(text, path.name)


def edited(
    history: History, steps: Sequence[Step], where: str, *, cancelled: Callable[[], bool] = lambda: False,
    listener: Callable[[PlanProgress], None] | None = None,
) -> Iterator[tuple[History, Step]]:
    """The history after each step, with the step as it was done; a search that is cancelled ends them.

    Raises
    ------
    EditProblem
        If a step cannot be done: which one, and why.
    """
    engine: list[Engine] = []

    def search(state: State, command: SearchCommand) -> Found:
        if not engine:
            engine.append(Engine.fresh())
        return searched(state, command, engine=engine[0], cancelled=cancelled, listener=listener)

    for number, step in enumerate(steps, start=1):
        try:
            history, done = played(history, step, search)
        except EditProblem as error:
            raise EditProblem(f"{where}, command {number}: {error}") from error
        yield history, done
        if cancelled():
            return
