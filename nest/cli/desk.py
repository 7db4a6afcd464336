"""The command that serves a plan at the desk, in a browser on this machine."""

import webbrowser
from pathlib import Path
from typing import Annotated

import typer

from nest.cli import options
from nest.cli.screen import Screen


def register(app: typer.Typer) -> None:
    """Add the command to the others."""
    app.command(epilog="Example: vampyield desk out --open")(desk)


def desk(
    plan: Annotated[
        Path, typer.Argument(metavar="OUT", show_default=False, help="The folder of a run, with its plan.json."),
    ],
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="The port to serve on; 0 for any that is free."),
    ] = 0,
    open_page: Annotated[bool, typer.Option("--open", help="Open the page in the browser.")] = False,
    quiet: options.Quiet = False,
) -> None:
    """Lay a hand on a plan in the browser: flaws, pieces, hides placed again, each judged at once. Ctrl-C ends it.

    Served to this machine alone. Every step is kept beside the plan in edits.log, and the desk goes on from there.
    """
    from nest.cli import steps
    from nest.errors import PlanProblem

    try:
        from nest.desk.app import Writers
        from nest.desk.serve import serve
    except ModuleNotFoundError as missing:
        if missing.name not in ("starlette", "uvicorn", "anyio"):
            raise
        raise PlanProblem(f"the desk needs {missing.name}; install it with: pip install 'vampyield[desk]'") from None
    if not plan.is_dir():
        raise PlanProblem(f"{plan}: expected the folder of a run; give the folder that holds plan.json")
    screen = Screen(quiet)
    first = steps.read_saved(plan)

    def ready(address: str) -> None:
        screen.complain(f"The desk is open at {address}")
        screen.say("Keep that address to yourself: it holds the key of this run. Ctrl-C ends it.")
        if open_page:
            webbrowser.open(address)

    serve(first, plan, Writers(steps.writer_beside(plan), steps.packed_hide), ready, port)
