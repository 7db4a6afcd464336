"""The command `recut`: pieces cut again."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nest.plan import Plan
    from nest.planning.recut import Leave, Lost


def recut(
    plan: options.PlanFile,
    *,
    piece: Annotated[list[str], typer.Option("--piece", metavar="N",
                                             help="Its number on the hide, as on the label of its drawing; several "
                                                  "times for several pieces, ID:N for one of another hide.")],
    out: options.OutFolder,
    hide: Annotated[str, typer.Option("--hide", metavar="ID", help="The hide they were cut from.")] = "",
    on: Annotated[str, typer.Option("--on", metavar="ID",
                                    help="The hide to cut them from now; by default the one each was cut from.")] = "",
    any_hide: Annotated[
        bool, typer.Option("--any-hide", help="Let what has no room on its own hide come from any other that has."),
    ] = False,
    any_class: Annotated[
        bool, typer.Option("--any-class", help="Let a vamp lie on ground of another class than its partner's."),
    ] = False,
    time: options.Time = "",
    dxf: options.Dxf = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Place badly cut pieces anew in what is left of their hides, and write drawings and sheets with them alone.

    It is noted beside the plan, so that what is cut again later keeps clear of them. Where one fits nowhere, says why
    and what would give it room, writes nothing, and ends with exit code 3.
    """
    from nest.cli import steps
    from nest.cli.result import verdict_result
    from nest.cli.tables import checks_table
    from nest.cutagain import note_cut_again, read_cut_again
    from nest.cutplan.reach import table_notes
    from nest.errors import NoRoom, PlanProblem
    from nest.output import PLAN_FILE, write_again
    from nest.planning.recut import Leave, again, lost_piece

    screen = Screen(quiet, as_json)
    whole = steps.read_saved(plan)
    file = plan / PLAN_FILE if plan.is_dir() else plan
    earlier = read_cut_again(whole, file)
    steps.try_folder(out)
    lost = [lost_piece(whole, *_named(one, hide)) for one in piece]
    leave = Leave(on, any_hide, any_class)
    try:
        made = again(whole, lost, leave, earlier)
    except NoRoom as error:
        _no_room(screen, whole, lost, leave, earlier, f"{error}", ["vampyield", "recut", str(plan), *_words(lost, out)])
    verdict = steps.verify(made)
    write_again(made, verdict, out, dxf_version=dxf, time=time)
    try:
        noted = f"Noted in {note_cut_again(made, file)}; remove that file if the pieces are not cut after all."
    except PlanProblem as error:
        noted = f"{error}: what is cut again after this will not keep clear of it."
    placed = [(one.hide_id, one.number(index)) for one in made.layouts for index in range(len(one.placed))]
    data = verdict_result(made, verdict) | {
        "hide": placed[0][0], "piece": placed[0][1], "pieces": [{"hide": name, "piece": n} for name, n in placed],
        "cut_again_before": sum(len(one.placed) for again in earlier for one in again.layouts), "folder": str(out),
    }
    screen.say(*made.warnings, *table_notes(made), noted)
    screen.result(data, checks_table(data), f"Verdict: {data['words']}. Written to {out}.")
    steps.show_cautions(screen)
    raise typer.Exit(Exit.DONE if verdict.ok else Exit.WRONG)


def _named(piece: str, hide: str) -> tuple[str, int]:
    """The hide and the number that an option names.

    Raises
    ------
    PlanProblem
        If it names none.
    """
    from nest.errors import PlanProblem

    name, _, number = piece.rpartition(":")
    if not (name or hide) or not number.isdecimal() or int(number) < 1:
        raise PlanProblem(f"--piece {piece}: expected the number of a piece with --hide ID beside it, or ID:N")
    return name or hide, int(number)


def _words(lost: "Sequence[Lost]", out: Path) -> list[str]:
    """The options that name the pieces and the folder."""
    hides = {one.hide.hide_id for one in lost}
    if len(hides) > 1:
        named = [word for one in lost for word in ("--piece", f"{one.hide.hide_id}:{one.number}")]
    else:
        named = ["--hide", *hides, *(word for one in lost for word in ("--piece", str(one.number)))]
    return [*named, "-o", str(out)]


def _no_room(
    screen: Screen, plan: "Plan", lost: "Sequence[Lost]", leave: "Leave", earlier: "Sequence[Plan]", why: str,
    words: list[str],
) -> NoReturn:
    """Say why pieces fit nowhere, and by which commands they can be cut after all."""
    from nest.planning.recut import ways_out

    screen.complain(f"{why[0].upper()}{why[1:]}.")
    commands, other = [], None
    for wider, made in ways_out(plan, lost, leave, earlier):
        more = [*(["--on", wider.on] if wider.on else []), *["--any-hide"] * wider.any_hide,
                *["--any-class"] * wider.any_class]
        commands.append(shlex.join([*words, *more]))
        hides = " and ".join(dict.fromkeys(layout.hide_id for layout in made.layouts))
        one = len(lost) == 1
        if wider.any_class != leave.any_class:
            here = wider.on or lost[0].hide.hide_id
            where = f"Hide {here} has room for it on ground" if one else "There is room for all of them on ground"
            screen.complain(f"{where} of another class: {commands[-1]}")
        else:
            other = other or wider.on or None
            screen.complain(f"Hide {hides} has room for it: {commands[-1]}" if one else
                            f"They have room on {hides}: {commands[-1]}")
    if not commands:
        leathers = " and ".join(dict.fromkeys(one.style.leather for one in lost))
        them = "it" if len(lost) == 1 else "them all"
        screen.complain(f"No other hide of {leathers} in the plan has room for {them}; list it as spoiled, and plan "
                        "the rest again with vampyield replan.")
    if screen.as_json:
        screen.result({"hide": None, "piece": lost[0].number, "why": why, "other_hide": other, "commands": commands})
    raise typer.Exit(Exit.SHORT)
