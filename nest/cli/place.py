"""The command `place`: a job placed and checked, the plan alone written."""

from functools import partial

import typer

from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.screen import Screen
from nest.cli.searching import NO_LIMITS, Search, searching, with_search_options


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
        plan = going.planned(partial(make_plan, loaded, begin_from=begun))
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
