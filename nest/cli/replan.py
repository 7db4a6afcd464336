"""The command `replan`: the rest of an order of which the cutting has begun, planned again."""

from pathlib import Path
from typing import Annotated

import typer

from nest.cli import options
from nest.cli.screen import Screen
from nest.cli.searching import NO_LIMITS, Search, with_search_options
from nest.cli.used import used_so_far


@with_search_options
def replan(
    job: options.JobFile,
    *,
    plan: Annotated[Path, typer.Option("--plan", metavar="PLAN",
                                       help="The plan that is being cut: plan.json, or the folder that holds it.")],
    out: options.OutFolder,
    cut: options.CutList = None,
    spoiled: options.SpoiledList = None,
    withdrawn: options.Withdrawn = None,
    within_rejects: Annotated[
        bool, typer.Option("--within-rejects", help="Cut spoiled pieces again only beyond the rejects expected."),
    ] = False,
    anew: Annotated[
        bool, typer.Option("--anew", help="Keep no layout of a hide that is not cut; else those that still serve."),
    ] = False,
    search: Search = NO_LIMITS,
    outside: options.Outside = False,
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Plan the rest again once cutting has begun: what is cut stays, the rest follows the job as it is now.

    Change order and hide index of the job first: hides no longer listed are not used, new ones are. To cut one
    bad piece again from the same hide, see the command recut.
    """
    from functools import partial

    from nest.begun.lists import read_begun
    from nest.cli import steps
    from nest.planning.replan import replan as plan_again  # the search's libraries take a second to load

    screen = Screen(quiet, as_json)
    before, again = steps.read_saved_again(plan)
    loaded = steps.read_for_writing(job, out, outside)
    begun, said = read_begun(
        before, cut, spoiled, withdrawn=tuple(withdrawn or ()), rejects_cover=within_rejects or
        before.begun.rejects_cover, again=again,
    )
    screen.say(*loaded.warnings, *said)
    steps.planned_and_written(
        screen, loaded, out, search, dxf=dxf, figures=figures,
        make=partial(plan_again, loaded, before, begun, keep=not anew),
        tables=(used_so_far(before, begun),) if begun.hides or begun.rolls else (),
    )
