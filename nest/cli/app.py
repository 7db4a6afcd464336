"""The commands. Each reads, calls the packages below, prints, and ends with an exit code (`nest.cli.codes`).

What a command needs is imported within it, so that help and usage errors answer at once.
"""

from pathlib import Path
from typing import Annotated

import typer

from nest.cli import options
from nest.cli.batch import register as register_batch
from nest.cli.codes import Exit, code_of
from nest.cli.desk import register as register_desk
from nest.cli.digitise import register as register_digitise
from nest.cli.drift import register as register_drift
from nest.cli.edit import register as register_edit
from nest.cli.estimate import register as register_estimate
from nest.cli.guide import register as register_guide
from nest.cli.helpgroup import HelpGroup
from nest.cli.lays import register as register_lays
from nest.cli.orders import register as register_orders
from nest.cli.outcomes import register as register_outcomes
from nest.cli.price import register as register_price
from nest.cli.progress import shown_progress
from nest.cli.quote import register as register_quote
from nest.cli.recut import register as register_recut
from nest.cli.registration import register as register_registration
from nest.cli.replan import register as register_replan
from nest.cli.scenarios import register as register_scenarios
from nest.cli.screen import Screen
from nest.cli.searching import NO_LIMITS, Search, searching, with_search_options
from nest.cli.shortfall import register as register_shortfall
from nest.cli.stock import register as register_stock
from nest.cli.stopping import stop_on_interrupt
from nest.cli.stretch import register as register_stretch
from nest.cli.teach import register as register_teach
from nest.cli.tickets import register as register_tickets
from nest.cli.trial import register as register_trial
from nest.text import count_words

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


@app.command(epilog="Example: vampyield run demo_data/job.toml --out out --seconds 60")
@with_search_options
def run(
    job: options.JobFile,
    *,
    out: options.OutFolder,
    search: Search = NO_LIMITS,
    begin_from: options.From = None,
    outside: options.Outside = False,
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    open_page: options.Open = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Place a job, check and cost the plan, and write everything: plan, page, tables, drawings, pictures.

    Ctrl-C once keeps the best plan found so far and writes it; twice aborts.
    """
    from functools import partial

    from nest.cli import steps
    from nest.planning.make import make_plan  # the search's libraries take a second to load

    screen = Screen(quiet, as_json)
    loaded = steps.read_for_writing(job, out, outside)
    screen.say(*loaded.warnings)
    begun = None if begin_from is None else steps.read_saved(begin_from)
    made = partial(make_plan, loaded, begin_from=begun)
    steps.planned_and_written(screen, loaded, out, search, dxf=dxf, figures=figures, make=made, open_page=open_page)


@app.command(epilog="Example: vampyield place demo_data/job.toml --out out --seconds 60")
@with_search_options
def place(
    job: options.JobFile,
    out: options.OutFolder,
    search: Search = NO_LIMITS,
    begin_from: options.From = None,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Place a job and check the plan, and write OUT/plan.json alone, to be verified, costed or cut later.

    Ctrl-C once keeps the best plan found so far and writes it; twice aborts.
    """
    from nest.atomic import atomic_folder
    from nest.cli import steps
    from nest.cli.result import verdict_result
    from nest.cli.shortfall import shortfall_of
    from nest.cli.tables import checks_table
    from nest.planfile import write_plan
    from nest.planning.make import make_plan
    from nest.report.searched import search_said
    from nest.verify import verify as judge
    from nest.whatif import quick_uses

    screen = Screen(quiet, as_json)
    loaded = steps.read_for_writing(job, out, outside)
    screen.say(*loaded.warnings)
    begun = None if begin_from is None else steps.read_saved(begin_from)
    with searching(screen, out, search, loaded) as going:
        plan = make_plan(loaded, begin_from=begun, **going.limits)
        verdict = judge(plan)
        with atomic_folder(out, marker=steps.PLAN_FILE) as part:
            write_plan(plan, part / steps.PLAN_FILE)
        more, said = shortfall_of(plan, verdict, going.watch, going.cancelled)
    searched = search_said(plan, quick_uses(plan)).sentences
    data = verdict_result(plan, verdict) | {"search": list(searched)} | more
    screen.say(*(warning for warning in plan.warnings if warning not in loaded.warnings))
    screen.result(
        data, checks_table(data), *said, *searched, f"Verdict: {data['words']}. Written to {out / steps.PLAN_FILE}."
    )
    raise typer.Exit(Exit.STOPPED if going.cancelled() else code_of(verdict))


@app.command(epilog="Example: vampyield pieces demo_data/job.toml --out pieces --dxf R12")
def pieces(
    job: options.JobFile,
    out: options.OutFolder,
    outside: options.Outside = False,
    dxf: options.Dxf = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Make the pieces of every style and size in the order, one drawing each, with an index of their areas."""
    from nest.cli import steps
    from nest.cli.piecework import pieces_of_order, pieces_result, write_pieces
    from nest.cli.tables import pieces_table

    screen = Screen(quiet, as_json)
    loaded = steps.read_job(job, outside=outside)
    made, warnings = pieces_of_order(loaded)
    write_pieces(made, loaded, out, dxf or loaded.settings.dxf_version)
    data = pieces_result(made, (*loaded.notes, *loaded.warnings, *warnings), out)
    screen.say(*data["notes"])
    screen.result(data, pieces_table(data["pieces"]), f"{count_words(len(made), 'piece')} written to {out}")
    steps.show_cautions(screen)


@app.command(
    epilog="Examples: vampyield verify out/plan.json, vampyield verify --room out, "
    "vampyield verify out/drawings/hide-H01.dxf"
)
def verify(
    plan: options.PlanOrDrawing, against: options.Against = None, room: options.Room = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Check a saved plan, every rule on every piece, without solving; says what is wrong and by how much.

    A cutting drawing (DXF) must hold what was written into it and nothing else: it is held against its own check sums
    and, entity for entity, against the plan it belongs to, if that is at hand. Then what it shows is checked like a
    plan of one hide or lay, without an order. Other files for the table (HP-GL, SVG, PDF) are not read.
    With --room a plan that is short ends with code 3 while more would fit, with 0 once that is ruled out.
    """
    from nest.cli import steps
    from nest.cli.result import verdict_result
    from nest.cli.tables import checks_table

    found = steps.read_to_judge(plan, against)
    verdict = steps.verify(found.plan)
    data = verdict_result(found.plan, verdict) | {"notes": list(found.said)}
    if verdict.ok and not found.passed:
        data |= {"ok": False, "words": "not verified: its plan has not passed its checks; do not cut"}
    screen = Screen(quiet, as_json)
    screen.say(*found.said)
    counted = ", ".join(f"{name.replace('_', ' ')} {number}" for name, number in data["counted"].items())
    said, code = [], code_of(verdict) if found.passed else Exit.WRONG
    if room:
        from nest.cli.room import looked_for_room  # geometry's compiled loops take a second to load
        from nest.cli.shortfall import shortfall_of

        data["room"], said, with_room = looked_for_room(screen, found.plan, verdict)
        code = with_room if found.passed else code
        with stop_on_interrupt(screen.complain) as cancelled, shown_progress(screen) as watch:
            more, bought = shortfall_of(found.plan, verdict, watch, cancelled)
        data, said = data | more, [*said, *bought]
    screen.result(data, checks_table(data), f"Checked: {counted}.", *said, f"Verdict: {data['words']}.")
    raise typer.Exit(code)


@app.command(epilog="Example: vampyield cost out/plan.json --json")
def cost(plan: options.PlanFile, quiet: options.Quiet = False, as_json: options.AsJson = False) -> None:
    """Cost a saved plan by style and size: material, spoilage, and what the trim-off costs."""
    from nest.cli import steps
    from nest.cli.result import plan_result
    from nest.cli.standard import standard_tables
    from nest.cli.tables import cost_table, summary_table

    found, screen = steps.read_saved(plan), Screen(quiet, as_json)
    verdict = steps.verify(found)
    data = plan_result(found, steps.account(found), verdict)
    screen.say(*data["notes"])
    standard = standard_tables(data["standard"], data["cost"]["currency"], "in this plan")
    screen.result(data, cost_table(data["cost"]), *standard, summary_table(data))
    raise typer.Exit(code_of(verdict))


@app.command(epilog="Example: vampyield cut out/plan.json --table table-2.toml --out table-2 --dxf R12")
def cut(
    plan: options.PlanFile,
    *,
    out: options.OutFolder,
    table: options.TableFile = None,
    time: options.Time = "",
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    open_page: options.Open = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Write a saved plan again as drawings, cut sheets, tables and pictures, without solving; for any table."""
    from nest.cli import steps

    found, screen = steps.for_table(steps.read_saved(plan), table), Screen(quiet, as_json)
    steps.try_folder(out)
    with shown_progress(screen) as watch:
        data, verdict = steps.judged_and_written(found, out, watch, dxf, figures, time=time)
    steps.show_written(screen, data, verdict)
    steps.shown_in_browser(screen, out, open_page)
    raise typer.Exit(code_of(verdict))


@app.command(epilog="Example: vampyield demo try-it && vampyield run try-it/job.toml --out try-it-out --seconds 60")
def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.", show_default=False)],
    quiet: options.Quiet = False,
) -> None:
    """Copy the demo job into DIR: an invented order of two styles, with invented sides and rolls."""
    from nest.cli.demo import copy_demo

    job = copy_demo(folder)
    Screen(quiet).say(f"The demo job is in {folder}; next: vampyield run {job} --out OUT")


register_estimate(app)
register_stretch(app)
register_lays(app)
register_batch(app)
register_recut(app)
register_registration(app)
register_replan(app)
register_tickets(app)
register_edit(app)
register_desk(app)
register_outcomes(app)
register_price(app)
register_quote(app)
register_scenarios(app)
register_teach(app)
register_trial(app)
register_drift(app)
register_digitise(app)
register_guide(app)
register_shortfall(app)
register_stock(app)
register_orders(app)
