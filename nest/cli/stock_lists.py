"""The commands `stock labels` and `stock lots`: paper for the rack, and how lots have turned out."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import ledger as shared
from nest.cli import options
from nest.cli.screen import Screen
from nest.text import count_words

if TYPE_CHECKING:
    from nest.ledger.used import Lot
    from nest.report.tables import Table


def labels(
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FILE", help="PDF to write.")],
    ids: Annotated[list[str] | None, typer.Argument(metavar="ID...",
                                                    help="Hides by their ids; left out, all remnants that "
                                                         "are free.")] = None,
    since: Annotated[str, typer.Option("--since", metavar="DATE",
                                       help="Only remnants that came back on this day or later.")] = "",
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Write labels for the rack: name, code to scan, leather, lot, class, area and shape; eight to a sheet of A4."""
    from nest.errors import LedgerProblem
    from nest.ledger.rows import hide_rows
    from nest.ledger.stock import came_on, named
    from nest.sheets import RackLabel, write_rack_labels
    from nest.stock.material import Hide

    opened = shared.opened(ledger)
    with opened.reading() as connection:
        rows = named(connection, ids)[0] if ids else hide_rows(connection, states=("remnant",))
        if since:
            days = came_on(connection, [row.code for row in rows])
            rows = [row for row in rows if days[row.code] >= shared.day_of(since, "--since")]
        found = [
            RackLabel(row.code, row.leather, row.lot, row.quality, row.area_mm2, row.thickness_mm, row.parent,
                      row.since, opened.body(connection, row.body_id, Hide).outline) for row in rows
        ]
    if not found:
        raise LedgerProblem("there is no remnant on the rack to label; name hides for theirs.")
    write_rack_labels(found, out)
    Screen(quiet).say(f"{count_words(len(found), 'label')} written to {out}.")


def lots(
    leather: Annotated[str, typer.Option("--leather", metavar="NAME", help="Of this leather alone.")] = "",
    lot: Annotated[str, typer.Option("--lot", metavar="LOT", help="Of this lot alone.")] = "",
    out: shared.OutFile = None,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Say how lots have turned out: yield of the hides cut, hides given a lower class, withdrawn, and pairs spoiled."""
    from nest.ledger.stock import check_kept
    from nest.ledger.used import lots as all_lots

    with shared.opened(ledger).reading() as connection:
        check_kept(connection, leather=leather, lot=lot)
        found = all_lots(connection, leather=leather, lot=lot)
    shared.listed(Screen(quiet, as_json), lots_table(found), (), out)


def lots_table(found: "list[Lot]") -> "Table":
    """Lots as a list; shares in percent, of the hides received, and of the pairs cut."""
    from nest.report.tables import Table

    header = ("leather", "lot", "supplier", "hides", "mean_dm2", "cut", "yield_percent", "lower_class_percent",
              "withdrawn_percent", "pairs_cut", "spoiled_percent")
    return Table("lots", header, tuple(
        (one.leather, one.lot, one.supplier, one.hides, round(one.area_mm2 / 1e4 / max(1, one.hides), 1), one.cut,
         None if one.cutting_yield is None else round(100.0 * one.cutting_yield, 1),
         round(100.0 * one.lowered / max(1, one.hides), 1), round(100.0 * one.withdrawn / max(1, one.hides), 1),
         one.vamps // 2, round(200.0 * one.spoiled / one.vamps, 1) if one.vamps else None) for one in found
    ))
