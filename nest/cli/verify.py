"""The command `verify`: a plan or a cutting drawing judged."""

from typing import TYPE_CHECKING

import typer

from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.progress import shown_progress
from nest.cli.screen import Screen
from nest.cli.stopping import stop_on_interrupt

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.table import Table


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
    said: Sequence[str | Table] = ()
    code = code_of(verdict) if found.passed else Exit.WRONG
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
