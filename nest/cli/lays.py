"""The command `lays`: sizes, ratios and plies for the lays of every roll."""

from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.screen import Screen
from nest.lays.spread import Spread
from nest.text import count_words

if TYPE_CHECKING:
    from nest.lays.plan import RollLays
    from nest.report.tables import Table



def lays(
    job: options.JobFile,
    *,
    plies: Annotated[int, typer.Option(min=1, help="Most plies of a lay.")] = 40,
    pairs: Annotated[int | None, typer.Option(min=1, help="Most pairs in a lay's ratio.")] = None,
    length: Annotated[float | None, typer.Option(min=0.1, help="Longest ply, m, with its end losses.")] = None,
    most_lays: Annotated[int, typer.Option(min=1, max=12, help="Most lays of a roll.")] = 6,
    setup: Annotated[float, typer.Option(min=0.0, help="Cost of one more lay, in the job's currency.")] = 10.0,
    over: Annotated[int, typer.Option(min=0, help="Pairs of each size that may be cut beyond the order.")] = 0,
    spread: Annotated[Spread, typer.Option(help="How plies lie on each other.")] = Spread.FACE_UP,
    out: options.TablesFolder = None,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Plan the lays of every roll: which sizes in which ratio, how many plies, at the least material and set-up cost.

    Lengths come from the lattice on the roll. Every ply lies between splices. Either the cost is
    proved to be the least, or the command says how far it may lie above that.
    """
    from nest.cli import steps
    from nest.lays.plan import LayRules, plan_lays
    from nest.report.tables import write_tables

    screen = Screen(quiet, as_json)
    loaded = steps.read_job(job, outside=outside)
    rules = LayRules(
        plies, pairs, None if length is None else 1000.0 * length, most_lays, Decimal(str(setup)), over, spread
    )
    found = plan_lays(loaded, rules)
    table = lays_table(found)
    if out is not None:
        write_tables([table], out, "lays")
    screen.say(*loaded.warnings)
    said = sentences(found, loaded.settings.currency)
    data = as_data(found) | {"currency": loaded.settings.currency, "spread": str(spread)}
    screen.result(data, *said, faces(spread) if found else "Nothing in the order is backed.")


def faces(spread: Spread) -> str:
    """How to spread and mark, so that one-sided adhesive ends up on the right side of both feet."""
    if spread is Spread.FACE_TO_FACE:
        return (
            "Faces: every second ply turned over; each outline gives a left piece from one ply and its mirror image, "
            "the right one, from the ply that faces it. Plies come in twos."
        )
    return (
        "Faces: all plies the same face up; each pair is marked as a left outline and its mirror image, and no piece "
        "is turned over."
    )


def lays_table(found: "tuple[RollLays, ...]") -> "Table":
    """One row for each size in each lay."""
    from nest.report.tables import Table

    header = ("roll", "lay", "plies", "ply_m", "metres", "style", "size", "pairs_in_ratio", "pairs_cut")
    rows = []
    for roll in found:
        for number, lay in enumerate(roll.lays, start=1):
            for style, size, pairs in lay.ratio:
                rows.append((roll.roll_id, number, lay.plies, round(lay.ply_mm / 1e3, 3),
                             round(lay.length_mm / 1e3, 3), style, size, pairs, lay.pairs_cut(pairs)))
    return Table("lays", header, tuple(rows))


def as_data(found: "tuple[RollLays, ...]") -> dict[str, Any]:
    """The lays as plain data."""
    return {"rolls": [
        {
            "roll": roll.roll_id, "metres": round(roll.length_mm / 1e3, 3), "material_cost": str(roll.material_cost),
            "setup_cost": str(roll.setup_cost), "bound": str(roll.bound), "proved": roll.proved,
            "one_ply_m": round(roll.one_ply_mm / 1e3, 3), "ends_of_a_ply_m": round(roll.ends_mm / 1e3, 3),
            "gap_percent": round(100.0 * roll.gap, 2), "pairs_over": roll.over,
            "lays": [
                {
                    "plies": lay.plies, "ply_m": round(lay.ply_mm / 1e3, 3),
                    "ratio": [{"style": style, "size": size, "pairs": n} for style, size, n in lay.ratio],
                    "from_stretch": [{"stretch": s, "plies": n} for s, n in lay.from_stretch],
                }
                for lay in roll.lays
            ],
        }
        for roll in found
    ]}


def sentences(found: "tuple[RollLays, ...]", currency: str) -> list[str]:
    """The lays in words."""
    said = []
    for roll in found:
        proof = "proved to be the least" if roll.proved else f"at most {roll.gap:.1%} above the least possible"
        lays, plies = count_words(len(roll.lays), "lay"), count_words(roll.plies, "ply", "plies")
        said += [
            f"{roll.roll_id}: {lays}, {roll.length_mm / 1e3:.2f} m, {roll.material_cost} {currency} of "
            f"material and {roll.setup_cost} {currency} of set-up, {proof}; {count_words(roll.over, 'pair')} over.",
            f"  `vampyield estimate` says {roll.one_ply_mm / 1e3:.2f} m for all in one ply; here every pair is rounded "
            f"up to whole mm, and each of {plies} has {roll.ends_mm / 1e3:.2f} m for its ends.",
        ]
        for number, lay in enumerate(roll.lays, start=1):
            ratio = ", ".join(f"{style} {size} × {n}" for style, size, n in lay.ratio)
            stretches = ""
            if len(lay.from_stretch) > 1 or any(s > 1 for s, _ in lay.from_stretch):
                parts = (f"{count_words(n, 'ply', 'plies')} from stretch {s}" for s, n in lay.from_stretch)
                stretches = f"; {', '.join(parts)}"
            plies = count_words(lay.plies, "ply", "plies")
            said.append(f"  lay {number}: {plies} of {lay.ply_mm / 1e3:.2f} m: {ratio}{stretches}.")
    return said
