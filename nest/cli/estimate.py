"""The command `estimate`: material for an order before anything is placed."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import ledger as ledgers
from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nest.estimate.make import QuickEstimate
    from nest.estimate.sizerun import SizeRunRow
    from nest.job.job import Job
    from nest.report.tables import Table

Changed = Annotated[Path | None, typer.Option("--changed", metavar="ORDER",
                                              help="Another order (CSV or XLSX): say what it changes.")]
Hides = Annotated[int | None, typer.Option("--hides", min=3, max=1000, metavar="N",
                                           help="Fill N simulated hides with the size mix: consumption, hides to "
                                                "issue.")]
Like = Annotated[str, typer.Option("--like", metavar="LOT",
                                   help="Estimate on the hides of this lot as the ledger has them, cut ones too.")]


def estimate(
    job: options.JobFile,
    *,
    changed: Changed = None,
    hides: Hides = None,
    passes: options.HidePasses = 1000,
    seed: options.HideSeed = None,
    sure: options.HideSure = 0.95,
    like: Like = "",
    ledger: ledgers.LedgerAddress = ledgers.LEDGER,
    out: options.TablesFolder = None,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Estimate leather and reinforcement by size in seconds, without placing: lattices, edge model, unfit ground.

    Hides are counted by their mean yield, as if all were alike. Waste by waste, and the method of every line,
    are in the files of --out. With --hides, hides are drawn like those in stock and filled: the table then holds what
    was measured on them, and the estimate says how many hides to issue; Ctrl-C once shows what was measured by then.
    """
    from nest.estimate.make import quick_estimate
    from nest.estimate.sizerun import size_run, size_run_changes
    from nest.job.changed_order import with_order
    from nest.job.read import read_job
    from nest.report.tables import write_tables

    screen = Screen(quiet, as_json)
    loaded = read_job(job, outside=outside)
    rests_on: Sequence[str] = ()
    if like:
        from nest.cli.fromledger import like_lot

        loaded, rests_on = like_lot(loaded, like, ledger)
    before, found = None, quick_estimate(loaded)
    if changed is not None:
        loaded = with_order(loaded, changed)
        before, found = found, quick_estimate(loaded)
    screen.say(*found.warnings)
    code, said, placed, more = Exit.DONE, [], {}, []
    if hides is not None:
        from nest.cli import onhides
        from nest.estimate.onhides import measured_sizes

        on_hides, code = onhides.measured(screen, loaded, hides, passes, seed, sure)
        quick, found = found, measured_sizes(found, on_hides)
        before = before and measured_sizes(before, on_hides)
        more, placed = onhides.tables(on_hides), onhides.data(on_hides, passes)
        said = onhides.sentences(on_hides, quick)
    shown_run = run_table("size run", size_run(found))
    changes = [] if before is None else [run_table("changes", size_run_changes(before, found))]
    detail = detail_table(found)
    tables = [detail, shown_run, *changes, *more]
    if out is not None:
        write_tables(tables, out, "size-run")
    data: dict[str, Any] = {
        table.name.replace(" ", "_"): [dict(zip(table.header, row, strict=True)) for row in table.rows]
        for table in tables
    }
    data |= totals(found) | placed | {"job": found.name, "notes": list(found.warnings)}
    data |= {"like": {"lot": like, "said": rests_on}} if like else {}
    data["pairs_for_rejects"] = str(loaded.settings.reject_pairs)
    screen.result(data, *(shown(table) for table in (shown_run, *changes)), *sentences(found, loaded), *said, *rests_on,
                  methods(detail))
    raise typer.Exit(code)


def detail_table(found: "QuickEstimate") -> "Table":
    """Material of a pair by size, waste by waste, and the method of each line."""
    from nest.report.tables import Table

    header = ("style", "size", "rough_dm2", "parallelogram_dm2", "interlock_yield", "first_waste_dm2",
              "second_waste_dm2", "third_waste_dm2", "leather_dm2", "cutting_yield", "reinforcement_m", "roll_density",
              "leather_method", "reinforcement_method")
    rows = []
    for one in found.sizes:
        leather, roll = one.leather, one.roll
        areas = (None,) * 8 if leather is None else (
            round(leather.rough_mm2 / 1e4, 4), round(leather.parallelogram_mm2 / 1e4, 4),
            round(leather.interlock_yield, 4), round(leather.first_mm2 / 1e4, 4), round(leather.second_mm2 / 1e4, 4),
            round(leather.third_mm2 / 1e4, 4), round(leather.material_mm2 / 1e4, 4), round(leather.cutting_yield, 4),
        )
        lengths = (None, None) if roll is None else (round(roll.length_mm / 1e3, 5), round(roll.density, 4))
        rows.append((one.style, one.size, *areas, *lengths, "; ".join(leather.methods) if leather else "",
                     roll.method if roll else ""))
    return Table("per pair", header, tuple(rows))


def run_table(name: str, rows: "tuple[SizeRunRow, ...]") -> "Table":
    """The size run, or what changes in it; "all" stands for a whole style or order, None for what is not known."""
    from nest.report.tables import Table

    def rounded(amount: float | None, unit: float, digits: int) -> float | None:
        return None if amount is None else round(amount / unit, digits)

    header = ("style", "size", "pairs_wanted", "pairs_to_cut", "vamps", "reinforcements", "pair_leather_dm2",
              "leather_m2", "reinforcement_m")
    return Table(name, header, tuple(
        (row.style or "all", row.size or "all", row.pairs_wanted, row.pairs_to_cut, row.vamps, row.reinforcements,
         rounded(row.leather_mm2, 1e4 * row.pairs_to_cut, 2) if row.pairs_to_cut else None,
         rounded(row.leather_mm2, 1e6, 4), rounded(row.reinforcement_mm, 1e3, 3))
        for row in rows
    ))


def totals(found: "QuickEstimate") -> dict[str, Any]:
    """Leathers and rolls as plain data; None for what cannot be estimated."""
    return {
        "leathers": [{"leather": one.leather, "mean_hide_dm2": round(one.hide_mm2 / 1e4, 1),
                      "leather_m2": None if one.material_mm2 is None else round(one.material_mm2 / 1e6, 3),
                      "hides_on_the_mean": one.hides, "not_estimated": list(one.unknown)} for one in found.leathers],
        "rolls": [{"roll": one.roll_id, "held_m": one.held_mm / 1e3,
                   "length_m": None if one.length_mm is None else round(one.length_mm / 1e3, 3),
                   "not_estimated": [" ".join(names) for names in one.unknown]} for one in found.rolls],
    }


def sentences(found: "QuickEstimate", job: "Job") -> list[str]:
    """Totals in words."""
    data, said = totals(found), []
    more = sum(one.pairs_to_cut - one.pairs_wanted for one in found.sizes)
    if more or any(style.reject_percent for style in job.styles):
        said.append(f"Rejects: {more} more pairs are cut than wanted, {job.settings.reject_pairs.words}.")
    for one in data["leathers"]:
        if one["leather_m2"] is None:
            said.append(f"{one['leather']}: not estimated, for nothing can be said of "
                        f"{', '.join(one['not_estimated'])}; see the note above for the remedy.")
            continue
        hides = f"{one['hides_on_the_mean']} {'hide' if one['hides_on_the_mean'] == 1 else 'hides'}"
        said.append(f"{one['leather']}: {one['leather_m2']:.2f} m², {hides} of {one['mean_hide_dm2']:.0f} dm² on the "
                    f"mean.")
    for one in data["rolls"]:
        if one["length_m"] is None:
            said.append(f"{one['roll']}: not estimated, for it is too narrow for {', '.join(one['not_estimated'])}; "
                        f"use a wider roll.")
            continue
        short = one["length_m"] - one["held_m"]
        word = f", {short:.2f} m more than it holds" if short > 0.0 else f" of {one['held_m']:g} m"
        said.append(f"{one['roll']}: {one['length_m']:.2f} m in one lay{word}.")
    return said


def methods(table: "Table") -> str:
    """The methods behind the figures, each once."""
    kept = [c for c, name in enumerate(table.header) if name.endswith("method")]
    found = dict.fromkeys(part for row in table.rows for c in kept for part in str(row[c]).split("; ") if part)
    return "Methods: " + "; ".join(found) + "."


def shown(table: "Table"):
    """A table for the screen."""
    from rich.table import Table as Grid
    from rich.text import Text

    grid = Grid(title=Text(table.name), title_justify="left")
    for c, name in enumerate(table.header):
        grid.add_column(name.replace("_", " "), justify="left" if c < 2 else "right")
    for row in table.rows:
        grid.add_row(*(Text("–" if value is None else f"{value:.2f}" if isinstance(value, float) else str(value))
                       for value in row))
    return grid
