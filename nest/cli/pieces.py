"""The command `pieces`: the pieces of an order as drawings."""

import typer

from nest.cli import options
from nest.cli.screen import Screen
from nest.text import count_words


def register(app: typer.Typer) -> None:
    """Add the command to the others."""
    app.command(epilog="Example: vampyield pieces demo_data/job.toml --out pieces --dxf R12")(pieces)


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
