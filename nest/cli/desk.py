"""The command `desk`: a plan served to a browser on this machine."""

import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.screen import Screen
from nest.cli.searching import NO_LIMITS, Search, searching, with_search_options

if TYPE_CHECKING:
    from nest.desk.serve import Listening


@with_search_options
def desk(
    what: Annotated[Path, typer.Argument(metavar="[OUT|JOB]",
                                         help="The folder of a run, with its plan.json; or a job file, which is placed "
                                              "first.")] = Path("out"),
    *,
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="OUT",
                                             help="Of a job, the folder for its plan: new, empty, or that of an "
                                                  "earlier run.")] = None,
    search: Search = NO_LIMITS,
    port: Annotated[int, typer.Option("--port", min=0, max=65535,
                                      help="The port to serve on; 0 for any that is free.")] = 0,
    listen: Annotated[str | None, typer.Option("--listen", metavar="ADDRESS",
                                               help="Serve on this address of the machine, for a tablet; "
                                                    "needs --tls.")] = None,
    tls: Annotated[Path | None, typer.Option("--tls", metavar="FILE.pem",
                                             help="Certificate and its key, in one file.")] = None,
    password_file: Annotated[Path | None, typer.Option("--password-file", metavar="FILE",
                                                       help="File that holds the password; without it the password is "
                                                            "asked for.")] = None,
    open_page: options.Open = False,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
) -> None:
    """Lay a hand on a plan in the browser: flaws, pieces, hides placed again, each judged at once. Ctrl-C ends it.

    Served to this machine alone, unless --listen says otherwise. Every step is kept beside the plan in edits.log, and
    the desk goes on from there.
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
    screen = Screen(quiet)
    listening = _listening(listen, tls, password_file)
    folder = _placed(screen, what, out, search, outside) if what.suffix.lower() == ".toml" else what
    if folder is what and out is not None:
        raise PlanProblem("--out is for a job, which is placed first; leave it out for a plan")
    if not folder.is_dir():
        raise PlanProblem(f"{folder}: expected the folder of a run; give the folder that holds plan.json")
    first = steps.read_saved(folder)

    def ready(address: str) -> None:
        screen.complain(f"The desk is open at {address}")
        screen.say("Keep the password to those who may change the plan. Ctrl-C ends it." if listening else
                   "Keep that address to yourself: it holds the key of this run. Ctrl-C ends it.")
        if open_page:
            webbrowser.open(address)

    serve(first, folder, Writers(steps.writer_beside(folder), steps.packed_hide), ready, port, listening)


def _listening(listen: str | None, tls: Path | None, password_file: Path | None) -> "Listening | None":
    """Where the desk is heard beyond this machine, if it is to be."""
    from nest.desk.serve import Listening
    from nest.errors import PlanProblem
    from nest.plainfile import NotPlain, read_plain

    if listen is None:
        if tls is not None or password_file is not None:
            raise PlanProblem("--tls and --password-file are for --listen ADDRESS; give that too, or leave them out")
        return None
    if tls is None:
        raise PlanProblem("--listen needs a certificate: give it with --tls, see vampyield guide edit")
    if password_file is None:
        return Listening(listen, tls, typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True))
    try:
        password = read_plain(password_file, 1000).decode("utf-8").rstrip("\r\n")
    except (NotPlain, UnicodeDecodeError) as error:
        raise PlanProblem(f"{password_file}: the password cannot be read ({error}); give a text file") from error
    return Listening(listen, tls, password)


def _placed(screen: Screen, job: Path, out: Path | None, search: Search, outside: bool) -> Path:
    """The folder of the plan of a job, once it is placed."""
    from nest.atomic import atomic_folder
    from nest.cli import steps
    from nest.planfile import write_plan
    from nest.planning.make import make_plan

    folder = out or Path("out")
    loaded = steps.read_for_writing(job, folder, outside)
    screen.say(*loaded.warnings)
    with searching(screen, folder, search, loaded) as going:
        plan = make_plan(loaded, **going.limits)
        with atomic_folder(folder, marker=steps.PLAN_FILE) as part:
            write_plan(plan, part / steps.PLAN_FILE)
    return folder
