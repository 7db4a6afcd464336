"""Lists and sentences that flow through columns: how many rows they take, and where each row stands."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nest.sheets.page import INK, PITCH, Page, width, wrapped

BULLET = "•"


@dataclass(frozen=True, slots=True)
class Block:
    """A heading with sentences below it, or with short entries that stand beside each other in a grid."""

    title: str
    sentences: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()
    colour: str = INK


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a column: texts and how far each stands from the column's left edge."""

    parts: tuple[tuple[float, str], ...]
    bold: bool = False
    colour: str = INK


@dataclass(frozen=True, slots=True)
class Column:
    """A place for rows: left, top, width, height."""

    x: float
    y: float
    wide: float
    high: float

    def rows(self, size: float) -> int:
        """How many rows of this size it holds."""
        return max(0, int((self.high + (PITCH - 1.0) * size + 1e-6) / (PITCH * size)))


def rows_of(block: Block, wide: float, size: float) -> list[Row]:
    """The rows of a block in a column of this width, its heading first."""
    rows = [Row(((0.0, line),), True, block.colour) for line in wrapped(block.title, wide, size, True)]
    indent = width(f"{BULLET} ", size)
    # Entries wider than the column stand in no grid.
    wider = any(width(entry, size) > wide for entry in block.entries)
    for sentence in (*block.sentences, *(block.entries if wider else ())):
        lines = wrapped(sentence, wide - indent, size)
        rows += [Row(((0.0, BULLET), (indent, line)) if i == 0 else ((indent, line),)) for i, line in enumerate(lines)]
    if block.entries and not wider:
        step = max(width(entry, size) for entry in block.entries) + 1.6 * size
        across = max(1, int((wide + 1.6 * size) / step))
        down = -(-len(block.entries) // across)
        step = max(step, wide / across)
        # Numbers run down a column of entries, then down the next.
        rows += [
            Row(tuple((step * i, entry) for i, entry in enumerate(block.entries[row::down]))) for row in range(down)
        ]
    return rows


def filled(blocks: Iterable[Block], columns: Sequence[Column], size: float) -> list[list[Row]] | None:
    """The rows of each column, as even as their order allows; None if they do not all fit."""
    wide = min(column.wide for column in columns)
    rows = [rows_of(block, wide, size) for block in blocks]
    room = [column.rows(size) for column in columns]
    total = sum(map(len, rows))
    for level in range(max(1, total // len(columns)), max(room) + 1):
        found = _poured(rows, [min(level, most) for most in room])
        if found is not None:
            return found
    return None


def _poured(blocks: list[list[Row]], room: list[int]) -> list[list[Row]] | None:
    columns: list[list[Row]] = [[] for _ in room]
    at = 0
    for rows in blocks:
        heads = sum(row.bold for row in rows)
        for i, row in enumerate(rows):
            # A heading takes two rows of its own along.
            needed = min(heads + 2, len(rows)) if i == 0 else 1
            while at < len(room) and len(columns[at]) + needed > room[at]:
                at += 1
            if at == len(room):
                return None
            columns[at].append(row)
    return columns


def write_columns(page: Page, found: Sequence[Sequence[Row]], columns: Sequence[Column], size: float) -> None:
    """Write rows into their columns."""
    for rows, column in zip(found, columns, strict=True):
        for i, row in enumerate(rows):
            for x, text in row.parts:
                page.text(
                    column.x + x, column.y + i * PITCH * size, text, size, bold=row.bold, colour=row.colour
                )


def paragraph(page: Page, x: float, y: float, wide: float, text: str, size: float, **look) -> float:
    """Write a text in lines from here downwards; returns where the next line would stand."""
    for line in wrapped(text, wide, size, look.get("bold", False)):
        page.text(x, y, line, size, **look)
        y += PITCH * size
    return y
