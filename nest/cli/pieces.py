"""The command `pieces`: the pieces of an order as drawings."""


from nest.cli import options
from nest.cli.screen import Screen
from nest.text import count_words


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
    from nest.cli.tables import pieces_table
    from nest.piecefiles import write_pieces
    from nest.pieces.make import pieces_of_lines

    screen = Screen(quiet, as_json)
    loaded = steps.read_job(job, outside=outside)
    found = pieces_of_lines(loaded.styles, loaded.order)
    made = [piece for _, mine, _ in found for piece in mine]
    index = write_pieces(made, loaded, out, dxf or loaded.settings.dxf_version)
    rows = [dict(zip(index.header, row, strict=True)) for row in index.rows]
    notes = [*loaded.notes, *loaded.warnings, *(note for _, _, said in found for note in said)]
    screen.say(*notes)
    screen.result({"pieces": rows, "notes": notes, "folder": str(out)}, pieces_table(rows),
                  f"{count_words(len(made), 'piece')} written to {out}")
    steps.show_cautions(screen)
