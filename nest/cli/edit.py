"""The command `edit`: a plan changed by hand, by commands from a file, one after another."""

from pathlib import Path
from typing import Annotated

import typer

from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.screen import Screen


def edit(
    plan: options.PlanFile,
    commands: Annotated[Path, typer.Argument(metavar="COMMANDS",
                                             help="JSON file: a list of commands (see vampyield guide edit).")],
    out: options.OutFolder,
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Change a plan by hand: mark flaws, hold, move, exchange, take out and put in pieces, place hides again.

    The changed plan is judged and written like that of a run. A command that cannot be done ends it; nothing is written
    then.
    """
    from nest.cli import steps
    from nest.cli.progress import shown_progress
    from nest.cli.stopping import stop_on_interrupt
    from nest.edits import History, State
    from nest.edits.script import edited, read_steps

    screen = Screen(quiet, as_json)
    before, asked = steps.read_saved(plan), read_steps(commands)
    steps.try_folder(out)
    states = [State(before)]
    with stop_on_interrupt(screen.complain) as cancelled, shown_progress(screen, None) as watch:
        done = edited(History.of(states[0]), asked, commands.name, cancelled=cancelled, listener=watch.heard)
        states += (history.state for history, _ in done)
        data, verdict = steps.judged_and_written(states[-1].plan, out, watch, dxf, figures, (), cancelled)
    if len(states) <= len(asked):
        screen.complain(f"Stopped after {len(states) - 1} of {len(asked)} commands.")
    steps.show_written(screen, data | {"commands": len(states) - 1}, verdict)
    raise typer.Exit(Exit.STOPPED if cancelled() else code_of(verdict))
