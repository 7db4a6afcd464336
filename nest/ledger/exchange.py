"""Everything in the ledger as CSV, a file a table, and back into an empty ledger.

Drawings and plans are JSON in a cell. A number is written so that it reads back as it was.
"""

import csv
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Float, Integer, LargeBinary, Table, func, select, text

from nest.atomic import atomic_folder
from nest.errors import InputProblems, LedgerProblem, Problem
from nest.ledger import tables
from nest.ledger.migrate import VERSION
from nest.ledger.store import Ledger, unpacked

MARKER = "ledger_version.csv"
"""A folder that holds it was written by an earlier export."""

_BATCH = 500
_NONE = "\\N"
"""A cell without a value, which is not the same as an empty text."""


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
    return repr(float(value)) if isinstance(column.type, Float) else str(value)


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
    csv.field_size_limit(sys.maxsize)
    _check_version(folder)
    counts = {}
    with ledger.booking("import", "import", str(folder)) as booking:
        connection = booking.connection
        if connection.scalar(select(func.count()).select_from(tables.change)) > 1:
            raise LedgerProblem(f"{ledger.where}: the ledger is not empty; import into a new one.")
        connection.execute(tables.change.delete())
        for table in tables.metadata.sorted_tables:
            if table is tables.version:
                continue
            rows, counts[table.name] = [], 0
            for row in _rows_of(folder / f"{table.name}.csv", table):
                rows.append(row)
                counts[table.name] += 1
                if len(rows) == _BATCH:
                    connection.execute(table.insert(), rows)
                    rows = []
            if rows:
                connection.execute(table.insert(), rows)
            if connection.dialect.name == "postgresql":  # ids go on behind those that came in
                connection.execute(text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                    f"COALESCE((SELECT MAX(id) FROM {table.name}), 0) + 1, false)"
                ))
    return counts


def _check_version(folder: Path) -> None:
    found = max((row["version"] for row in _rows_of(folder / MARKER, tables.version)), default=0)
    if found > VERSION:
        raise LedgerProblem(
            f"{folder}: the export has schema version {found}, this program knows up to {VERSION}; update the program."
        )


def _rows_of(path: Path, table: Table) -> Iterator[dict]:
    """Rows of one table; a column that an older export does not have is left to the database."""
    if not path.is_file():
        if table in tables.OF_VERSION_1:
            raise InputProblems([Problem(str(path), "a file of the export", "none", "export again")])
        return
    with open(path, encoding="utf-8", newline="") as stream:
        for number, row in enumerate(csv.DictReader(stream, strict=True), start=2):
            try:
                yield {
                    column.name: _value(column, row[column.name]) for column in table.columns if column.name in row
                }
            except (ValueError, TypeError, AttributeError) as error:
                problem = Problem(f"{path.name}, row {number}", f"a row of {table.name}", str(error), "export again")
                raise InputProblems([problem]) from error


def _value(column, cell: str):
    if cell == _NONE:
        return None
    if isinstance(column.type, LargeBinary):
        return zlib.compress(cell.encode(), 6)
    kind = column.type
    return int(cell) if isinstance(kind, Integer) else float(cell) if isinstance(kind, Float) else cell
