"""The command that cuts one piece again."""

from typing import Annotated

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen


def register(app: typer.Typer) -> None:
    """Add the command to the others."""
    app.command(epilog="Example: vampyield recut out --hide H01 --piece 7 --out again")(recut)


def recut(
    plan: options.PlanFile,
    hide: Annotated[str, typer.Option("--hide", metavar="ID", show_default=False, help="The hide it was cut from.")],
    piece: Annotated[
        int, typer.Option("--piece", metavar="N", min=1, show_default=False,
                          help="Its number on the hide, as on the label of its drawing."),
    ],
    out: options.OutFolder,
    dxf: options.Dxf = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Place one badly cut piece anew in what is left of its hide, and write a drawing and a sheet with it alone."""
    from nest.cli import steps
    from nest.cli.result import verdict_result
    from nest.cli.tables import checks_table
    from nest.output import write_again
    from nest.planning.again import again

    screen = Screen(quiet, as_json)
    whole = steps.read_saved(plan)
    steps.try_folder(out)
    made = again(whole, hide, piece)
    verdict = steps.verify(made)
    write_again(made, verdict, out, dxf_version=dxf)
    data = verdict_result(made, verdict)
    screen.say(*made.warnings)
    screen.result(data, checks_table(data), f"Verdict: {data['words']}. Written to {out}.")
    steps.show_cautions(screen)
    raise typer.Exit(Exit.DONE if verdict.ok else Exit.WRONG)
