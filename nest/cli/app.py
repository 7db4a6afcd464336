"""The commands. Each reads, calls the packages below, prints, and ends with an exit code (`nest.cli.codes`).

What a command needs is imported within it, so that help and usage errors answer at once.
"""

from importlib import import_module
from typing import Annotated

import typer

from nest.cli.helpgroup import HelpGroup, add_command

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
    version: Annotated[bool, typer.Option("--version", "-V", callback=_version, is_eager=True,
                                          help="Show the version and stop.")] = False,
) -> None:
    """Take what holds for every command."""
    if context.obj is not None:
        context.obj.debug = debug


_COMMANDS: dict[str, dict[str, str | tuple[str, ...]]] = {
    "Plan": {
        "run": "demo_data/job.toml --out out --seconds 60",
        "place": "demo_data/job.toml --out out --seconds 60",
        "batch": "jobs --out results --seconds 60",
        "verify": ("out/plan.json", "--room out", "out/drawings/hide-H01.dxf"),
        "lays": "demo_data/job.toml --plies 20 --length 6 --out lays",
        "shortfall": "out/plan.json --hides 48",
        "edit": "out scar.json --out out-2",
        "desk": "out --open",
    },
    "Cost": {
        "estimate": "demo_data/job.toml --changed order-2.csv --out estimate",
        "cost": "out/plan.json --json",
        "price": "demo_data/job.toml -o costing.xlsx",
        "whatif": "demo_data/job.toml --part toe --place --seeds 3",
        "scenarios": "demo_data/job.toml demo_data/scenarios.toml -o scenarios.xlsx",
        "compare": "out/plan.json out-2/plan.json",
        "quote": "demo_data/job.toml --pairs 200 --pairs 1000 -o quotation.pdf",
    },
    "Cutting day": {
        "orders": (),
        "stock": (),
        "tickets": "out --out paper",
        "cut": "out/plan.json --table table-2.toml --out table-2 --dxf R12",
        "register": "out --hide H02 --points measured.csv --out on-table",
        "recut": "out --hide H01 --piece 7 --out again",
        "used": "out --cut cut.csv --spoiled spoiled.csv --out evening",
        "replan": "job.toml --plan out --cut cut.csv --spoiled spoiled.csv --out out-2",
    },
    "Trials": {
        "stretch": "readings.csv --job job.toml --into job-tested.toml",
        "outcomes": "out -o outcomes.xlsx",
        "teach": "out outcomes.csv --job job.toml --into job-taught.toml",
        "trial": "demo_data/job.toml trial.csv --toe-left 3 -o revised",
        "drift": "trim.csv --job job.toml --into job-trimmed.toml",
    },
    "Files": {
        "pieces": "demo_data/job.toml --out pieces --dxf R12",
        "digitise": (),
        "demo": "try-it && vampyield run try-it/job.toml --out try-it-out --seconds 60",
        "guide": ("", "costing", "files | less"),
    },
}
"""Commands by what they are for, each the function of its name in the file of its name, with examples of what follows
`vampyield NAME`. A file that holds a `group` of commands has the examples of each."""


def _add_commands() -> None:
    for heading, commands in _COMMANDS.items():
        for name, examples in commands.items():
            home = import_module(f"nest.cli.{name}")
            if hasattr(home, "group"):
                app.add_typer(home.group, name=name, rich_help_panel=heading)
            else:
                add_command(app, name, getattr(home, name), name, examples, heading)


_add_commands()
