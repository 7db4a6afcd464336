"""Tables: CSV and XLSX files with a heading row, as rows of text."""

import csv
import io
import re
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import TypeVar

from nest.job.files import Source, checked_source, read_bytes, read_text
from nest.job.findings import Findings, is_guess, listed, meant
from nest.job.values import DATE_CELL, ValueFault
from nest.limits import (
    LARGEST_TABLE_BYTES,
    MOST_COLUMNS,
    MOST_OTHER_TAGS,
    MOST_ROWS,
    MOST_TAGS,
    MOST_UNPACKED_BYTES,
    MOST_UNPACKED_RATIO,
    RATIO_COUNTS_FROM_BYTES,
)
from nest.text import hidden_in

T = TypeVar("T")

_FIRST_LINE = re.compile(r"^.*\S.*$", re.MULTILINE)
"""The first line that is not blank."""

_LARGE_PARTS = ("xl/worksheets/", "xl/sharedStrings")
"""Parts of a workbook that grow with its table."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: where it stands, and the text of its cells by column; an absent column reads as ""."""

    where: str
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")

    def value(self, column: str, read: Callable[[str], T], findings: Findings) -> T | None:
        """A cell as a value, by one of the readers of `nest.job.values`; None, and a problem, if it cannot be read."""
        try:
            return read(self[column])
        except ValueFault as fault:
            findings.refuse(f"{self.where}, {column}", fault.expected, fault.found, fault.remedy)
        return None

    def refuse(self, column: str, expected: str, remedy: str, findings: Findings) -> None:
        """Note that a cell is not what is `expected`."""
        found = repr(self[column]) if self[column] else "an empty cell"
        findings.refuse(f"{self.where}, {column}", expected, found, remedy)


def read_table(
    source: Source, needed: Sequence[str], optional: Sequence[str], findings: Findings
) -> tuple[Row, ...] | None:
    """Rows of the table in a CSV or XLSX file, by the ending of its name; blank rows are left out.

    CSV: UTF-8, separated by commas, semicolons or tabs; with semicolons a decimal comma is read too.
    XLSX: the first sheet. Headings may be in any order and case. Other columns are not read and said.

    Returns
    -------
    tuple of Row, or None (and problems) if there is no such table in the file.
    """
    workbook = source.name.lower().endswith((".xlsx", ".xlsm"))
    lines = _workbook_lines(source, findings) if workbook else _csv_lines(source, findings)
    if lines is None or not _bearable(lines, source, findings):
        return None
    if not lines:
        findings.refuse(source.name, f"the headings {listed(needed)}", "an empty table", "fill in the table")
        return None
    place, headings = lines[0]
    names = [heading.strip().casefold() for heading in headings]
    if not _checked_headings(source, place, names, needed, optional, findings):
        return None
    rows = []
    for place, cells in lines[1:]:
        if len(cells) > len(names) and any(cells[len(names):]):
            findings.refuse(place, f"{len(names)} cells", str(len(cells)), "put cells with separators in quotes")
            continue
        rows.append(Row(place, {name: cell for name, cell in zip(names, cells, strict=False) if name}))
    return tuple(rows)


def read_table_at(
    path: Path | str, needed: Sequence[str], optional: Sequence[str], findings: Findings
) -> tuple[Row, ...] | None:
    """As `read_table`, of a table that the user names."""
    path = Path(path)
    source = checked_source(Source(path, path.name), path.name, findings)
    return None if source is None else read_table(source, needed, optional, findings)


def heading(source: Source, findings: Findings) -> tuple[str, ...]:
    """The headings of a table, as `read_table` knows them; none, and a problem, if it cannot be read."""
    workbook = source.name.lower().endswith((".xlsx", ".xlsm"))
    lines = _workbook_lines(source, findings) if workbook else _csv_lines(source, findings)
    return tuple(name.strip().casefold() for name in lines[0][1]) if lines else ()


def _bearable(lines, source: Source, findings: Findings) -> bool:
    """Whether a table has no more rows and columns than are looked at; the readers stop soon after."""
    if len(lines) - 1 > MOST_ROWS:
        findings.refuse(source.name, f"at most {MOST_ROWS} rows", "more", "split the table")
    elif wide := next((place for place, cells in lines if len(cells) > MOST_COLUMNS), None):
        findings.refuse(wide, f"at most {MOST_COLUMNS} columns", "more", "save only what the job needs in it")
    else:
        return True
    return False


def _checked_headings(source, place, names, needed, optional, findings: Findings) -> bool:
    """Whether every needed column is there once; other columns get a warning."""
    sound = True
    others = [name for name in names if name and name not in needed and name not in optional]
    for name in needed:
        if name not in names:
            sound = False
            remedy = f"add the column {name!r}"
            if is_guess(meant(name, others)):
                remedy = f"name the column {name!r}"
            found = f"the headings {', '.join(filter(None, names))}" if any(names) else "no headings"
            findings.refuse(place, f"a column {name!r}", found, remedy)
    for name in sorted(set(filter(None, names))):
        if names.count(name) > 1:
            sound = False
            findings.refuse(place, f"one column {name!r}", str(names.count(name)), "remove or rename the others")
    if sound:
        for name in others:
            guess = meant(name, [column for column in optional if column not in names])
            hint = f"; {guess}" if is_guess(guess) else ""
            findings.warn(source.name, f"the column {name!r} was not read{hint}")
    return sound


def _csv_lines(source: Source, findings: Findings) -> list[tuple[str, list[str]]] | None:
    """Place and cells of every line that is not blank."""
    text = read_text(source, findings, LARGEST_TABLE_BYTES)
    if text is None:
        return None
    heading = _FIRST_LINE.search(text)
    separator = max(";\t,", key=heading[0].count) if heading else ","
    lines = []
    reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True)
    try:
        for cells in reader:
            cells = [cell.strip() for cell in cells[: MOST_COLUMNS + 1]]
            if separator == ";":
                cells = [_point_for_comma(cell) for cell in cells]
            if any(cells):
                lines.append((f"{source.name}, line {reader.line_num}", cells))
            if len(lines) > MOST_ROWS + 1:
                break
    except csv.Error as error:
        findings.refuse(
            f"{source.name}, line {reader.line_num}", "a table in CSV", _csv_fault(str(error)), "mend the quotes there"
        )
        return None
    return lines


def _csv_fault(said: str) -> str:
    """What the CSV reader says, in words that mean something to whoever keeps the list."""
    known = {"end of data": "a quote that is never closed", "expected after": "letters after a closing quote",
             "new-line": "a line that ends within a cell", "field larger": "a cell of too many letters"}
    return next((words for sign, words in known.items() if sign in said), "something else")


def _point_for_comma(cell: str) -> str:
    """A number with a decimal comma written with a point; anything else as it is."""
    whole, comma, decimals = cell.partition(",")
    return f"{whole}.{decimals}" if comma and whole.lstrip("+-").isdigit() and decimals.isdigit() else cell


def _workbook_lines(source: Source, findings: Findings) -> list[tuple[str, list[str]]] | None:
    """Place and cells of every row of the first sheet that is not blank."""
    import openpyxl

    remedy = "save it again as XLSX, or as CSV"
    data = read_bytes(source, findings, LARGEST_TABLE_BYTES)
    if data is None:
        return None
    try:
        if too_much := _unpacks_to_too_much(data):
            findings.refuse(source.name, "a workbook of bearable size", too_much, remedy)
            return None
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        if not book.worksheets:
            findings.refuse(source.name, "a sheet with a table", "none", remedy)
            return None
        sheet = book.worksheets[0]
        lines = []
        for number, values in enumerate(sheet.iter_rows(values_only=True, max_col=MOST_COLUMNS), start=1):
            if values.count(None) == len(values):  # a cell far down makes a million blank rows
                continue
            cells = [_cell_text(value) for value in values]
            if hidden := next(filter(None, map(hidden_in, cells)), None):
                findings.refuse(f"{source.name}, row {number}", "plain text", hidden, "delete it")
                return None
            if any(cells):
                lines.append((f"{source.name}, row {number}", cells))
            if len(lines) > MOST_ROWS + 1:
                break
    except Exception as error:  # a damaged file may fail anywhere within the reader
        findings.refuse(source.name, "an XLSX workbook", f"a damaged one ({type(error).__name__})", remedy)
        return None
    return lines


def _unpacks_to_too_much(data: bytes) -> str:
    """What is too much in a workbook, an archive of compressed parts; "" if nothing.

    Sizes are read from the archive's directory alone. Tags are counted while a part unpacks, piece by piece, for each
    becomes an object many times its length.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = archive.infolist()
        unpacked = sum(part.file_size for part in parts)
        if unpacked > MOST_UNPACKED_BYTES:
            return f"{unpacked / 1e6:.0f} MB unpacked"
        for part in parts:
            # A part cannot unpack to more than its directory says: reading stops there, and its check sum fails.
            ratio = part.file_size / max(1, part.compress_size)
            if part.file_size > RATIO_COUNTS_FROM_BYTES and ratio > MOST_UNPACKED_RATIO:
                return f"a part that unpacks to {ratio:.0f} times its size"
        for part in parts:
            most = MOST_TAGS if part.filename.startswith(_LARGE_PARTS) else MOST_OTHER_TAGS
            with archive.open(part) as stream:
                if sum(piece.count(b"<") for piece in iter(partial(stream.read, 1 << 20), b"")) > most:
                    return f"{Path(part.filename).name} with more than {most} tags"
    return ""


def _cell_text(value: object) -> str:
    """A cell as it would stand in a CSV file."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else format(Decimal(repr(value)), "f")
    if isinstance(value, (date, time)):
        return f"{DATE_CELL}{value.isoformat()}"
    return str(value).strip()
