"""The command `run`: a job placed, checked, costed and written."""


from nest.cli import options
from nest.cli.screen import Screen
from nest.cli.searching import NO_LIMITS, Search, with_search_options


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
