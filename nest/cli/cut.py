"""The command `cut`: a saved plan written again, for any table."""

import typer

from nest.cli import options
from nest.cli.codes import code_of
from nest.cli.progress import shown_progress
from nest.cli.screen import Screen


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
