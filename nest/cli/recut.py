"""The command that cuts one piece again."""

import shlex
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.plan import Plan
    from nest.planning.recut import Lost


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
    on: Annotated[
        str, typer.Option("--on", metavar="ID", show_default=False,
                          help="The hide to cut it from now; by default the one it was cut from."),
    ] = "",
    any_class: Annotated[
        bool, typer.Option("--any-class", help="Let it lie on ground of another class than its partner's."),
    ] = False,
    time: options.Time = "",
    dxf: options.Dxf = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Place one badly cut piece anew in what is left of its hide, and write a drawing and a sheet with it alone.

    Where it fits nowhere, says why and which other hide has room, writes nothing, and ends with exit code 3.
    """
    from nest.cli import steps
    from nest.cli.result import verdict_result
    from nest.cli.tables import checks_table
    from nest.cutplan.reach import table_notes
    from nest.errors import NoRoom
    from nest.output import write_again
    from nest.planning.recut import again, lost_piece, with_any_class

    screen = Screen(quiet, as_json)
    whole = steps.read_saved(plan)
    steps.try_folder(out)
    lost = lost_piece(whole, hide, piece)
    lost = with_any_class(lost) if any_class else lost
    try:
        made = again(whole, lost, on)
    except NoRoom as error:
        words = ["vampyield", "recut", str(plan), "--hide", hide, "--piece", str(piece), "-o", str(out)]
        _no_room(screen, whole, lost, on or hide, f"{error}", words + ["--any-class"] * any_class)
    verdict = steps.verify(made)
    write_again(made, verdict, out, dxf_version=dxf, time=time)
    (layout,) = made.layouts
    data = verdict_result(made, verdict) | {"hide": layout.hide_id, "piece": layout.number(0), "folder": str(out)}
    screen.say(*made.warnings, *table_notes(made))
    screen.result(data, checks_table(data), f"Verdict: {data['words']}. Written to {out}.")
    steps.show_cautions(screen)
    raise typer.Exit(Exit.DONE if verdict.ok else Exit.WRONG)


def _no_room(screen: Screen, plan: "Plan", lost: "Lost", on: str, why: str, words: list[str]) -> NoReturn:
    """Say why the piece fits nowhere on the hide `on`, and by which commands it can be cut after all."""
    from nest.planning.recut import fits, hides_with_room, with_any_class

    screen.complain(f"{why[0].upper()}{why[1:]}.")
    other = next(hides_with_room(plan, lost, on), None)
    commands = []
    if other is not None:
        commands.append(shlex.join([*words, "--on", other]))
        screen.complain(f"Hide {other} has room for it: {commands[-1]}")
    if lost.asked.quality and fits(plan, with_any_class(lost), on):
        here = [] if on == lost.hide.hide_id else ["--on", on]
        commands.append(shlex.join([*words, *here, "--any-class"]))
        screen.complain(f"Hide {on} has room for it on ground of another class: {commands[-1]}")
    if not commands:
        screen.complain(f"No other hide of {lost.style.leather} in the plan has room for it; list it as spoiled, and "
                        "plan the rest again with vampyield replan.")
    if screen.as_json:
        screen.result({"hide": None, "piece": lost.number, "why": why, "other_hide": other, "commands": commands})
    raise typer.Exit(Exit.SHORT)
