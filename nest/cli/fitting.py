"""Tables that fit the screen: no number and no name is cut, no word broken.

Columns are narrowed down to their longest word, those of numbers not at all. Where even that is too wide, every row
becomes a block: its name, and below it a line for each column.
"""

import re
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import replace

from rich.cells import cell_len
from rich.console import Console, Group
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text


def fitted(table: Table, screen: Console) -> Table | Group:
    """The table with widths at which everything in it is whole, or as blocks where there are none."""
    least, most = zip(*(_widths(table, index, screen) for index in range(len(table.columns))), strict=True)
    beside = _beside(table, screen, most)
    room = screen.width - beside
    if sum(most) <= room:
        return table
    if sum(least) > room:
        return Group(*_blocks(table, screen))
    spare, wanted = room - sum(least), sum(most) - sum(least)
    made = copy(table)
    made.columns = [
        replace(column, width=low + spare * (high - low) // wanted)
        for column, low, high in zip(table.columns, least, most, strict=True)
    ]
    return made


def _widths(table: Table, index: int, screen: Console) -> tuple[int, int]:
    """Columns that a column needs at least, so that no word in it is broken, and what it would like to have."""
    column = table.columns[index]
    cells = [*([column.header] if table.show_header else []), *column.cells]
    wide = screen.options.update(width=10_000)
    found = [Measurement.get(screen, wide, _text(cell)) for cell in cells]
    most = max((one.maximum for one in found), default=0)
    return (most if column.no_wrap else max((one.minimum for one in found), default=0)), most


def _beside(table: Table, screen: Console, most: Sequence[int]) -> int:
    """What lines and gaps take beside the columns."""
    wide = screen.options.update(width=10_000)
    title, table.title = table.title, None
    whole = Measurement.get(screen, wide, table).maximum
    table.title = title
    return whole - sum(most)


def _blocks(table: Table, screen: Console) -> Iterator[Text]:
    """Every row as a block: its first cell, and below it each other cell that says something, after its heading."""
    if table.title:
        yield wrapped(_text(table.title), screen.width)
    headings = [" ".join(_text(column.header).plain.split()) for column in table.columns]
    if not table.row_count:
        yield wrapped(Text("  ".join(headings)), screen.width)
    for cells in zip(*(column.cells for column in table.columns), strict=True):
        first, *others = map(_text, cells)
        indent = len(first.plain) - len(first.plain.lstrip(" "))
        lead = f"{headings[0]} " if table.show_header and headings[0] else ""
        yield wrapped(Text(lead + first.plain.strip(), style="bold"), screen.width, indent)
        for heading, cell in zip(headings[1:], others, strict=True):
            if cell.plain.strip():
                said = Text(f"{heading}: " if table.show_header and heading else "") + cell
                yield wrapped(said, screen.width, indent + 2)
    yield Text()


def wrapped(text: Text, width: int, indent: int = 0) -> Text:
    """Text with line breaks between words alone; a word that is longer than the screen is left to the terminal."""
    lines = [line for part in text.split("\n", allow_blank=True) for line in _broken(part, max(1, width - indent))]
    whole = Text("\n").join(Text(" " * indent) + line for line in lines)
    whole.no_wrap, whole.overflow = True, "ignore"
    return whole


def _broken(text: Text, width: int) -> Iterator[Text]:
    """One line of text as lines no wider than this, but for words that are."""
    starts, used = [], 0
    for word in re.finditer(r"\S+\s*", text.plain):
        if used and used + cell_len(word[0].rstrip()) > width:
            starts.append(word.start())
            used = 0
        used += cell_len(word[0])
    for line in text.divide(starts):
        line.rstrip()
        yield line


def _text(cell) -> Text:
    """A cell or heading as text, as it is: nothing in it is markup."""
    return cell.copy() if isinstance(cell, Text) else Text(str(cell or ""))
