"""The command `outcomes`: an empty list to fill in, or what a filled one says about its plan."""

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.drift import recorded
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.outcomes import Outcome


def outcomes(
    plan: options.PlanFile,
    filled: Annotated[Path | None, typer.Argument(metavar="[OUTCOMES]",
                                                  help="A filled list, CSV or XLSX: hide, piece, outcome, and what was "
                                                       "measured.")] = None,
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE",
                                             help="Write an empty list to fill in: FILE.xlsx, with a choice of "
                                                  "reasons, or .csv.")] = None,
    record: options.Record = None,
    day: options.Day = "",
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """What the press made of each piece of a plan: writes the list to fill in, or reads and counts a filled one.

    The filled list then goes to used and replan (--spoiled), to trial (with --plan), and to teach; with --record the
    trim in it goes to the record that drift reads.
    """
    from nest.cli import steps
    from nest.cli.costing_steps import new_file
    from nest.drift import of_outcomes
    from nest.errors import PlanProblem
    from nest.outcomes import read_outcomes
    from nest.report.outcome_list import write_outcome_list

    screen = Screen(quiet, as_json)
    if (filled is None) == (out is None):
        raise PlanProblem("name a filled list to read it, or with --out a file for an empty one.")
    found, again = steps.read_saved_again(plan)
    if filled is not None:
        known = read_outcomes(found, filled, again)
        rows, said = _counted(known), []
        if record is not None:
            said.append(recorded(record, of_outcomes(found, known, options.pressed_on(day))))
        screen.result({"plan": found.name, "rows": rows}, _table(rows), *said)
    elif out is not None:
        new_file(out)
        write_outcome_list(found, out)
        screen.result({"file": str(out)}, f"Written to {out}; leave what is not known empty.")


def _counted(outcomes: "tuple[Outcome, ...]") -> list[dict]:
    """Pieces known, good, and failed by reason, of each style and size and of all."""
    from nest.outcomes import Reason

    counts: dict[tuple[str, str], Counter] = {}
    for one in outcomes:
        for key in ((one.piece.style, one.piece.size), ("", "")):
            counts.setdefault(key, Counter())[str(one.reason) if one.reason else ""] += 1
    keys = sorted(key for key in counts if key[0]) + [key for key in counts if not key[0]]
    return [
        {"style": style, "size": size, "known": sum(n for reason, n in counts[style, size].items() if reason)}
        | {str(reason): counts[style, size][reason] for reason in Reason}
        for style, size in keys
    ]


def _table(rows: list[dict]):
    from nest.cli.costing_tables import plain_table
    from nest.outcomes import Reason

    reasons = [str(reason) for reason in Reason if any(row[reason] for row in rows)]
    grid = plain_table("Outcomes", "", ("pieces", *reasons))
    for row in rows:
        grid.add_row(f"{row['style']} {row['size']}".strip() or "all", str(row["known"]),
                     *(str(row[reason]) for reason in reasons))
    return grid
