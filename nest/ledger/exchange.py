"""Everything in the ledger as CSV, a file a table, and back into an empty ledger.

Drawings and plans are JSON in a cell. A number is written so that it reads back as it was.
"""

import csv
import math
import re
import zlib
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Float, Integer, LargeBinary, Table, func, select, text
from sqlalchemy.exc import IntegrityError

from nest.atomic import atomic_folder
from nest.errors import InputProblems, LedgerProblem, Problem
from nest.ledger import tables
from nest.ledger.migrate import VERSION
from nest.ledger.store import Ledger, unpacked
from nest.limits import LARGEST_EXPORT_BYTES, LARGEST_PLAN_BYTES
from nest.plainfile import NotPlain, check_plain
from nest.text import hidden_in

MARKER = "ledger_version.csv"
"""A folder that holds it was written by an earlier export."""

_BATCH = 500
_NONE = "\\N"
"""A cell without a value, which is not the same as an empty text. A text that reads like it has one backslash more."""

_LIKE_NONE = re.compile(r"\\+N")

_MOST = 2**53
"""No number of a ledger comes near; larger ones are not kept exactly by every database."""


def export(ledger: Ledger, folder: Path | str) -> dict[str, int]:
    """Write every table to a folder that appears whole or not at all; returns rows by table.

    Raises
    ------
    PlanProblem
        As `nest.atomic.atomic_folder`.
    """
    counts = {}
    with ledger.reading() as connection, atomic_folder(folder, marker=MARKER) as part:
        for table in tables.metadata.sorted_tables:
            with open(part / f"{table.name}.csv", "w", encoding="utf-8", newline="") as stream:
                writer = csv.writer(stream)
                writer.writerow([column.name for column in table.columns])
                counts[table.name] = 0
                found = connection.execution_options(yield_per=_BATCH).execute(select(table).order_by(table.c.id))
                for row in found:
                    writer.writerow([_cell(column, value, ledger.where)
                                     for column, value in zip(table.columns, row, strict=True)])
                    counts[table.name] += 1
    return counts


def _cell(column, value, where: str) -> str:
    if value is None:
        return _NONE
    if isinstance(column.type, LargeBinary):
        return unpacked(value, where)
    if isinstance(column.type, Float):
        return repr(float(value))
    return f"\\{value}" if _LIKE_NONE.fullmatch(str(value)) else str(value)


def import_all(ledger: Ledger, folder: Path | str) -> dict[str, int]:
    """Fill an empty ledger from a folder that `export` wrote, in one transaction; returns rows by table.

    Raises
    ------
    LedgerProblem
        If the ledger is not empty, or the folder was written by a newer program.
    InputProblems
        If a file is missing, or a cell of it cannot be read.
    """
    folder = Path(folder)
    csv.field_size_limit(LARGEST_PLAN_BYTES)
    _check_version(folder)
    counts = {}
    with ledger.booking("import", "import", str(folder)) as booking:
        connection = booking.connection
        if (connection.scalar(select(func.count()).select_from(tables.change)) or 0) > 1:
            raise LedgerProblem(f"{ledger.where}: the ledger is not empty; import into a new one.")
        connection.execute(tables.change.delete())
        for table in tables.metadata.sorted_tables:
            if table is tables.version:
                continue
            counts[table.name] = _fill(connection, table, folder / f"{table.name}.csv")
            if connection.dialect.name == "postgresql":  # ids go on behind those that came in
                connection.execute(text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                    f"COALESCE((SELECT MAX(id) FROM {table.name}), 0) + 1, false)"
                ))
    return counts


def _fill(connection, table: Table, path: Path) -> int:
    """Put the rows of a file into a table, some at a time; returns how many."""
    count, rows = 0, []
    # Bodies are large: each goes in by itself, so that no more than one is held.
    most = 1 if table is tables.body else _BATCH
    try:
        for row in _rows_of(path, table):
            rows.append(row)
            count += 1
            if len(rows) == most:
                connection.execute(table.insert(), rows)
                rows = []
        if rows:
            connection.execute(table.insert(), rows)
    except IntegrityError as error:
        first = count - len(rows) + 1
        which = f"row {first}" if len(rows) == 1 else f"rows {first} to {count}"
        problem = Problem(
            f"{path.name}, {which}", "rows that fit the other tables, each once", "one that does not", _AGAIN
        )
        raise InputProblems([problem]) from error
    return count


def _check_version(folder: Path) -> None:
    found = max((row["version"] for row in _rows_of(folder / MARKER, tables.version)), default=0)
    if found > VERSION:
        raise LedgerProblem(
            f"{folder}: the export has schema version {found}, this program knows up to {VERSION}; update the program."
        )


_AGAIN = "export again"


class _BadCell(Exception):
    """A cell that its column cannot hold: what was expected, and what was found."""


def _rows_of(path: Path, table: Table) -> Iterator[dict]:
    """Rows of one table; a column that an older export does not have is left to the database."""
    def refused(where: str, expected: str, found: str) -> InputProblems:
        return InputProblems([Problem(where, expected, found, _AGAIN)])

    try:
        check_plain(path, LARGEST_EXPORT_BYTES)
    except NotPlain as found:
        if not path.exists() and table not in tables.OF_VERSION_1:
            return
        raise refused(str(path), "a file of the export", str(found)) from found
    reader: csv.DictReader | None = None
    try:
        with open(path, encoding="utf-8", newline="") as stream:
            reader = csv.DictReader(stream, strict=True)
            lacking = [column.name for column in table.columns if not column.nullable and not column.server_default
                       and column.name not in (reader.fieldnames or ())]
            if lacking:
                raise refused(path.name, f"columns of {table.name}", f"no {', '.join(lacking)}")
            for row in reader:
                if None in row or None in row.values():
                    raise _BadCell(f"{len(reader.fieldnames or ())} cells", "another number")
                yield {column.name: _value(column, row[column.name]) for column in table.columns if column.name in row}
    except _BadCell as bad:
        raise refused(f"{path.name}, line {reader.line_num if reader else 1}", *bad.args) from bad
    except (csv.Error, UnicodeDecodeError) as error:
        where = f"{path.name}, from line {reader.line_num + 1 if reader else 1} on"
        raise refused(where, "CSV in UTF-8, as it was written", "something else") from error


def _value(column, cell: str):
    """What a cell holds; _BadCell if its column cannot hold that."""
    if cell == _NONE:
        if not column.nullable:
            raise _BadCell(f"a value for {column.name}", "none")
        return None
    if hidden := hidden_in(cell):
        raise _BadCell(f"text without anything hidden for {column.name}", hidden)
    if isinstance(column.type, LargeBinary):
        return zlib.compress(cell.encode(), 6)
    number = isinstance(column.type, Integer | Float)
    if not number:
        return cell[1:] if _LIKE_NONE.fullmatch(cell) else cell
    whole = isinstance(column.type, Integer)
    try:
        found = int(cell) if whole else float(cell)
    except ValueError:
        found = math.inf
    if not abs(found) <= _MOST:
        raise _BadCell(f"a {'whole ' * whole}number for {column.name}", repr(cell[:40]))
    return found
