"""What the commands `stock` and `orders` share: where the ledger is, who books, and how a list is shown."""

import getpass
from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import options
from nest.cli.listing import Listing
from nest.cli.screen import Screen
from nest.clock import today
from nest.errors import LedgerProblem
from nest.text import count_words

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from nest.job.job import Job
    from nest.ledger.standing import Group
    from nest.ledger.store import Ledger
    from nest.report.tables import Table

LedgerAddress = Annotated[str, typer.Option("--ledger", metavar="LEDGER", envvar="VAMPYIELD_LEDGER",
                                            help="The ledger: a file, or an address such as "
                                                 "postgresql://user@host/name.")]
JobToUse = Annotated[Path, typer.Option("--job", metavar="JOB",
                                        help="The job file that holds styles, leathers, rolls and settings.")]
By = Annotated[str, typer.Option("--by", metavar="NAME", envvar="VAMPYIELD_BY", show_default="your login name",
                                 help="Who books this.")]
OutFile = Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE", help="Write the list, CSV or XLSX.")]
Why = Annotated[str, typer.Option("--why", metavar="WORDS", help="Why, in your words.")]
Outside = options.Outside

LEDGER, JOB = "ledger.db", Path("job.toml")


def who(by: str) -> str:
    """Who books: as stated, else the login name."""
    if by:
        return by
    try:
        return getpass.getuser()
    except (KeyError, OSError) as error:
        raise LedgerProblem("a booking needs a name: give yours with --by.") from error


def opened(address: str) -> "Ledger":
    """The ledger at an address."""
    from nest.ledger.store import open_ledger

    return open_ledger(address)


def begun(address: str) -> "AbstractContextManager[Ledger]":
    """The ledger at an address for one booking, with which a new one begins."""
    from nest.ledger.store import begun_ledger

    return begun_ledger(address)


def job_of(path: Path, *, outside: bool = False) -> "Job":
    """Styles, leathers, rolls and settings of a job file, without its order and its hides."""
    from nest.job.read import read_job

    return read_job(path, outside=outside, alone=True)


def lacking_now(ledger: "Ledger") -> "dict[Group, int]":
    """Pairs of vamps of each style and size that no plan has a reinforcement for."""
    from nest.ledger.backing import lacking

    with ledger.reading() as connection:
        return lacking(connection)


def said_of_lacking(pairs: "dict[Group, int]") -> list[str]:
    """That reinforcements are lacking, and what to do, in words; nothing where none is."""
    if not pairs:
        return []
    sizes = ", ".join(f"{style} {size}: {count_words(number, 'pair')}" for (style, size), number in pairs.items())
    return [f"Reinforcements are lacking for vamps that are cut or planned ({sizes}): once a roll is free, lay them "
            f"with `vampyield orders plan --reinforcements`."]


def day_of(text: str, what: str) -> str:
    """A date of an option; "today" and "" are today."""
    return today().isoformat() if text in ("", "today") else options.stated_day(text, what)


def listed(
    screen: Screen, table: "Table", said: Sequence[str] = (), out: Path | None = None, *, more: dict | None = None,
    also: Iterable["Table"] = (),
) -> None:
    """Show a list, and write it where asked."""
    from nest.report.tables import write_csv, write_workbook

    if out is not None:
        if out.suffix.casefold() not in (".csv", ".xlsx"):
            raise LedgerProblem(f"{out}: a list is written as .csv or .xlsx; name such a file.")
        write_csv(table, out) if out.suffix.casefold() == ".csv" else write_workbook([table], out)
        said = (*said, f"Written to {out}.")
    tables = (table, *also)
    data = {one.name.replace(" ", "_"): [dict(zip(one.header, map(_plain, row), strict=True)) for row in one.rows]
            for one in tables} if screen.as_json else {}
    screen.result(data | (more or {}), *map(grid, tables), *said)


def grid(table: "Table") -> Listing:
    """A list for the screen."""
    numbers = [any(isinstance(row[at], (int, float, Decimal)) for row in table.rows) for at in range(len(table.header))]
    numbers[0] = False  # what a row is called
    rows = tuple(tuple(map(_shown, row)) for row in table.rows)
    return Listing(table.name, tuple(name.replace("_", " ") for name in table.header), rows, tuple(numbers))


def _plain(value):
    return str(value) if isinstance(value, Decimal) else value


def _shown(value) -> str:
    return "–" if value in (None, "") else f"{value:.2f}" if isinstance(value, float) else str(value)
