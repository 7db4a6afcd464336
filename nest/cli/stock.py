"""The commands `stock ...`: what hangs on the rack and lies on the shelf, received, found, counted and set aside."""

from math import fsum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import ledger as shared
from nest.cli import options
from nest.cli.helpgroup import group_of
from nest.cli.screen import Screen
from nest.cli.stock_lists import labels, lots
from nest.text import count_words

if TYPE_CHECKING:
    from nest.ledger.rows import HideRow, RollRow
    from nest.report.tables import Table

Ids = Annotated[list[str], typer.Argument(metavar="ID...", help="Hides or rolls by their ids.")]
Leather = Annotated[str, typer.Option("--leather", metavar="NAME", help="Of this leather alone.")]
Lot = Annotated[str, typer.Option("--lot", metavar="LOT", help="Of this lot alone.")]
Supplier = Annotated[str, typer.Option("--supplier", metavar="NAME", help="Who supplied them.")]


def receive(
    index: Annotated[Path, typer.Argument(metavar="LIST",
                                          help="A hide index with its drawings, or a list of rolls; CSV or XLSX.")],
    *,
    job: shared.JobToUse = shared.JOB,
    ledger: shared.LedgerAddress = shared.LEDGER,
    supplier: Supplier = "",
    on: Annotated[str, typer.Option("--on", metavar="DATE", help="The day they came in.")] = "today",
    by: shared.By = "",
    outside: options.Outside = False,
    quiet: options.Quiet = False,
) -> None:
    """Book hides or rolls that came in. A list with a column file is a hide index, one with length_m holds rolls."""
    from nest.job.read import read_job
    from nest.ledger.lists import holds_rolls, read_rolls
    from nest.ledger.stock import receive_hides, receive_rolls

    screen, since = Screen(quiet), shared.day_of(on, "the day they came in")
    if holds_rolls(index):
        rolls, said = read_rolls(index, shared.job_of(job, outside=outside))
        with shared.begun(ledger) as opened:
            number = receive_rolls(opened, rolls, by=shared.who(by), since=since, supplier=supplier)
        screen.say(*said, f"{count_words(number, 'roll')} received.")
        return
    loaded = read_job(job, outside=outside, alone=True, index=index)
    screen.say(*loaded.warnings)
    with shared.begun(ledger) as opened:
        number = receive_hides(opened, loaded.hides, loaded.leathers, by=shared.who(by), since=since, supplier=supplier)
    screen.say(f"{count_words(number, 'hide')} received.")


def list_stock(
    leather: Leather = "",
    *,
    lot: Lot = "",
    quality: Annotated[int | None, typer.Option("--class", min=1, max=99, help="Of this class alone.")] = None,
    state: Annotated[list[str] | None, typer.Option("--state", metavar="STATE",
                                                    help="received, remnant, reserved, cut, withdrawn or gone; may be "
                                                         "given again.")] = None,
    free: Annotated[bool, typer.Option("--free", help="Only what may be planned.")] = False,
    rolls: Annotated[bool, typer.Option("--rolls", help="Rolls in place of hides.")] = False,
    out: shared.OutFile = None,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """List hides, the oldest first; or rolls."""
    from nest.errors import LedgerProblem
    from nest.job.findings import meant
    from nest.ledger.rows import FREE, STATES, hide_rows, roll_rows
    from nest.ledger.stock import check_kept

    for one in state or ():
        if one not in STATES:
            raise LedgerProblem(f"--state: expected a state of a hide, found {one!r}; {meant(one, STATES)}.")
    if free and state:
        raise LedgerProblem("--free says the state already; leave --state out.")
    if rolls and (leather or quality):
        raise LedgerProblem("rolls have no leather and no class; leave --leather and --class out.")
    screen, opened = Screen(quiet, as_json), shared.opened(ledger)
    with opened.reading() as connection:
        check_kept(connection, leather=leather, lot=lot, rolls=rolls)
        if rolls:
            found = [row for row in roll_rows(connection) if (row.free_mm > 0.0 or not free)
                     and (not lot or row.lot == lot) and (not state or row.state in state)]
            shared.listed(screen, rolls_table(found), (), out)
            return
        states = FREE if free else tuple(state or ())
        hides = hide_rows(connection, leather=leather, lot=lot, quality=quality, states=states)
    area = fsum(row.area_mm2 for row in hides) / 1e6
    shared.listed(screen, hides_table(hides), (f"{count_words(len(hides), 'hide')}, {area:.2f} m².",), out)


def hides_table(rows: "list[HideRow]") -> "Table":
    """Hides as a list."""
    from nest.report.tables import Table

    header = ("id", "leather", "lot", "class", "mm", "dm2", "state", "plan", "since", "place", "remnant_of", "supplier")
    return Table("hides", header, tuple(
        (row.code, row.leather, row.lot, row.quality, row.thickness_mm, round(row.area_mm2 / 1e4, 1), row.state,
         row.plan, row.since, row.place, row.parent, row.supplier) for row in rows
    ))


def rolls_table(rows: "list[RollRow]") -> "Table":
    """Rolls as a list."""
    from nest.report.tables import Table

    header = ("id", "roll", "lot", "left_m", "reserved_m", "splices_m", "state", "since", "supplier")
    return Table("rolls", header, tuple(
        (row.code, row.article, row.lot, round(row.left_mm / 1e3, 2), round(row.held_mm / 1e3, 2),
         " ".join(f"{one / 1e3:g}" for one in row.splices_mm), row.state, row.since, row.supplier) for row in rows
    ))


def count(
    leather: Leather = "",
    lot: Lot = "",
    out: shared.OutFile = None,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Count hides and their area by leather, lot and class: free, reserved, withdrawn; and rolls by their length."""
    from nest.ledger.rows import hide_rows, roll_rows
    from nest.ledger.stock import check_kept
    from nest.ledger.summary import rolls_by_article, stock_by_class
    from nest.report.tables import Table

    with shared.opened(ledger).reading() as connection:
        check_kept(connection, leather=leather, lot=lot)
        hides = stock_by_class(hide_rows(connection, leather=leather, lot=lot))
        rolls = rolls_by_article(roll_rows(connection))
    header = ("leather", "lot", "class", "free", "free_dm2", "remnants", "reserved", "withdrawn")
    rows = [(*key, one.free, round(one.free_mm2 / 1e4, 1), one.remnants, one.reserved, one.withdrawn)
            for key, one in hides.items()]
    lengths = Table("rolls", ("roll", "rolls", "free_m", "reserved_m"), tuple(
        (name, number, round(free / 1e3, 2), round(held / 1e3, 2)) for name, (number, free, held) in rolls.items()
    ))
    shared.listed(Screen(quiet, as_json), Table("stock", header, tuple(rows)), (), out,
                  also=() if leather or lot else (lengths,))


def find(
    code: Annotated[str, typer.Argument(metavar="ID", help="A hide or a roll.")],
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Show a hide or a roll and all that happened to it: when, what, and by whom."""
    from nest.ledger.rows import hide_rows, roll_rows
    from nest.ledger.stock import history
    from nest.report.tables import Table

    opened = shared.opened(ledger)
    rows = history(opened, code)
    with opened.reading() as connection:
        hides, rolls = hide_rows(connection, codes=[code]), roll_rows(connection, codes=[code])
    shared.listed(
        Screen(quiet, as_json), hides_table(hides) if hides else rolls_table(rolls),
        also=(Table("what happened", ("when", "by", "what", "then", "said"), tuple(rows)),),
    )


def withdraw(
    ids: Ids, why: shared.Why = "", by: shared.By = "", ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Keep hides or rolls from being planned, until they are returned. Reserved ones: see `orders close`."""
    _set_aside(ids, "withdrawn", why, by, ledger, quiet, "withdrawn")


def bring_back(
    ids: Ids, why: shared.Why = "", by: shared.By = "", ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Return hides or rolls that were withdrawn: they may be planned again."""
    _set_aside(ids, "received", why, by, ledger, quiet, "returned")


def gone(
    ids: Ids, why: shared.Why = "", by: shared.By = "", ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Book hides or rolls as gone: sold, sent back, lost."""
    _set_aside(ids, "gone", why, by, ledger, quiet, "gone")


def _set_aside(ids, state: str, why: str, by: str, ledger: str, quiet: bool, word: str) -> None:
    from nest.ledger.stock import set_aside

    set_aside(shared.opened(ledger), ids, state, by=shared.who(by), why=why)
    Screen(quiet).say(f"{', '.join(ids)}: {word}.")


def give_class(
    quality: Annotated[int, typer.Argument(metavar="CLASS", min=1, max=99,
                                           help="The class they have turned out to be.")],
    ids: Ids, why: shared.Why = "", by: shared.By = "", ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Give hides the class they have turned out to be; what was paid for them stays."""
    from nest.ledger.stock import give_class as book

    book(shared.opened(ledger), ids, quality, by=shared.who(by), why=why)
    Screen(quiet).say(f"{', '.join(ids)}: class {quality}.")


def place(
    where: Annotated[str, typer.Argument(metavar="PLACE", help="Where they hang.")],
    ids: Ids, by: shared.By = "", ledger: shared.LedgerAddress = shared.LEDGER, quiet: options.Quiet = False,
) -> None:
    """Note where on the rack hides hang."""
    from nest.ledger.stock import give_place

    give_place(shared.opened(ledger), ids, where, by=shared.who(by))
    Screen(quiet).say(f"{', '.join(ids)}: {where}.")


def stocktake(
    counted: Annotated[Path, typer.Argument(metavar="COUNTED",
                                            help="What was counted: id, and length_m of rolls; CSV or XLSX.")],
    *,
    leather: Leather = "",
    lot: Lot = "",
    book: Annotated[bool, typer.Option("--book", help="Book what differs; else it is only said.")] = False,
    by: shared.By = "",
    out: shared.OutFile = None,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Hold what was counted against what the ledger has: what is missing, what is there that should not be."""
    from nest.ledger import stocktake as taking
    from nest.ledger.lists import read_counted
    from nest.report.tables import Table

    found, said = read_counted(counted)
    opened = shared.opened(ledger)
    compared = taking.compare(opened, found, leather=leather, lot=lot)
    rows = [
        *((row.code, "missing", row.state) for row in compared.missing),
        *((row.code, "there", row.state) for row in compared.returned),
        *((row.code, "of another leather or lot", row.state) for row in compared.elsewhere),
        *((code, "not known", "") for code in compared.unknown),
        *((row.code, f"{length / 1e3:.2f} m counted", f"{row.left_mm / 1e3:.2f} m left")
          for row, length in compared.lengths),
    ]
    words = [*said, f"{compared.agreed} agree, {len(rows)} differ."]
    if book and rows:
        words.append(f"{taking.book(opened, compared, by=shared.who(by))} booked.")
    shared.listed(Screen(quiet, as_json), Table("stocktake", ("id", "counted", "ledger"), tuple(rows)), words, out)


def export(
    out: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to write.")],
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Write everything in the ledger as CSV, a file a table: a copy to keep, or to move to another database."""
    from nest.ledger.exchange import export as write

    counts = write(shared.opened(ledger), out)
    Screen(quiet).say(f"{count_words(sum(counts.values()), 'row')} of {len(counts)} tables written to {out}.")


def import_copy(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder that export wrote.")],
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Fill a new ledger from the copy that `stock export` wrote."""
    from nest.ledger.exchange import import_all

    with shared.begun(ledger) as opened:
        counts = import_all(opened, folder)
    Screen(quiet).say(f"{count_words(sum(counts.values()), 'row')} of {len(counts)} tables read from {folder}.")


group = group_of("stock", "Hides, rolls and remnants: what is there, and what became of it.", {
    "receive": (receive, "hides.csv --supplier 'Tannery A'"),
    "list": (list_stock, "--leather 'Black side' --free"),
    "count": (count, ""),
    "find": (find, "K02"),
    "withdraw": (withdraw, "K02 K07 --why 'loose in the shoulder'"),
    "return": (bring_back, "K02"),
    "gone": (gone, "K02 --why sold"),
    "class": (give_class, "3 K02 --why 'fly bites'"),
    "place": (place, "'rack 4' K02 K07"),
    "labels": (labels, "-o labels.pdf"),
    "lots": (lots, "--leather 'Black side'"),
    "stocktake": (stocktake, "counted.csv --book"),
    "export": (export, "ledger-copy"),
    "import": (import_copy, "ledger-copy --ledger new.db"),
})
