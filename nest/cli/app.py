"""The commands. Each reads, calls the packages below, prints, and ends with an exit code (`nest.cli.codes`).

What a command needs is imported within it, so that help and usage errors answer at once.
"""

from typing import Annotated, Protocol

import typer

from nest.cli import (
    batch,
    compare,
    cost,
    cut,
    demo,
    desk,
    digitise,
    drift,
    edit,
    estimate,
    guide,
    lays,
    orders,
    outcomes,
    pieces,
    place,
    price,
    quote,
    recut,
    registration,
    replan,
    run,
    scenarios,
    shortfall,
    stock,
    stretch,
    teach,
    tickets,
    trial,
    used,
    verify,
    whatif,
)
from nest.cli.helpgroup import HelpGroup

_HELP = """Place rough vamps on hides and their reinforcements on rolls, cost the plan, write it ready to cut.

One straight line of work: read the job, make the pieces, place them, check, account, write."""

_EPILOG = """First steps, on invented data:
  vampyield demo try-it
  vampyield run try-it/job.toml --out new --seconds 60
  vampyield cost new
  vampyield guide

Exit codes:
  0    done; the plan passed its checks and meets the order
  1    done, but the checks found something wrong: do not cut
  2    the input cannot be used; nothing was written
  3    done; the plan passed its checks, but the order is short; or no room for a piece to be cut again
  70   a fault in the program
  130  stopped with Ctrl-C"""

app = typer.Typer(
    cls=HelpGroup,
    help=_HELP, epilog=_EPILOG, no_args_is_help=True, add_completion=True, pretty_exceptions_enable=False,
    # Help in plain lines: boxes would cut the names of options on a narrow screen.
    rich_markup_mode=None, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 120},
)


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        print(f"vampyield {version('vampyield')}")
        raise typer.Exit


@app.callback()
def switches(
    context: typer.Context,
    debug: Annotated[bool, typer.Option("--debug", help="Show where in the program an error arose.")] = False,
    version: Annotated[
        bool, typer.Option("--version", "-V", callback=_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Take what holds for every command."""
    if context.obj is not None:
        context.obj.debug = debug


class _Command(Protocol):
    """A module of a command, or of a group of them."""

    def register(self, app: typer.Typer) -> None:
        """Add its commands to the others."""


_COMMANDS: tuple[_Command, ...] = (
    batch, compare, cost, cut, demo, desk, digitise, drift, edit, estimate, guide, lays, orders, outcomes, pieces,
    place, price, quote, recut, registration, replan, run, scenarios, shortfall, stock, stretch, teach, tickets,
    trial, used, verify, whatif,
)
for command in _COMMANDS:
    command.register(app)
