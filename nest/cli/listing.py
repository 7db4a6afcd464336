"""Lists in columns, drawn quickly however long they are.

They fit the screen by the rules of `nest.cli.fitting`: columns are narrowed down to their longest word, those of
numbers not at all; where even that is too wide, every row becomes a block.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

_GAP = "  "


@dataclass(frozen=True, slots=True)
class Listing:
    """Rows of texts below their headings; `numbers` says which columns stand to the right and are never broken."""

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[bool, ...]


def drawn(listing: Listing, screen: Console) -> str:
    """The list as lines that fit the screen."""
    different = [set(column) for column in zip(listing.header, *listing.rows, strict=True)]
    most = [max(map(_width, cells)) for cells in different]
    least = [
        wide if number else max(_width(word) for cell in cells for word in cell.split() or ("",))
        for cells, wide, number in zip(different, most, listing.numbers, strict=True)
    ]
    beside = len(_GAP) * (len(most) - 1)
    room = screen.width - beside - 2  # a blank at either end
    title = _styled(screen, listing.title, "italic")
    if sum(least) > room:
        return title + "".join(f"{line}\n" for line in _blocks(listing, different, screen)) + "\n"
    if sum(most) > room:
        spare, wanted = room - sum(least), sum(most) - sum(least)
        most = [low + spare * (high - low) // wanted for low, high in zip(least, most, strict=True)]
    columns = [
        {cell: [_padded(line, width, number) for line in _broken(cell, width)] for cell in cells}
        for cells, width, number in zip(different, most, listing.numbers, strict=True)
    ]
    head, *rows = _lines((listing.header, *listing.rows), columns, most)
    rule = " " + ("-" if screen.options.ascii_only else "─") * (sum(most) + beside)
    return "\n".join((f"{title}\n{_styled(screen, head, 'bold')}{rule}", *rows, "", ""))


def _styled(screen: Console, text: str, style: str) -> str:
    with screen.capture() as printed:
        screen.print(Text(text, style=style), soft_wrap=True)
    return printed.get()


def _width(cell: str) -> int:
    """Columns of a screen that a cell takes."""
    if cell.isascii() and "\n" not in cell:
        return len(cell)
    return max(map(cell_len, cell.split("\n")))


def _lines(
    rows: Sequence[Sequence[str]], columns: Sequence[dict[str, list[str]]], widths: Sequence[int]
) -> Iterator[str]:
    """The rows one by one; nearly always every cell is one line, and then nothing is asked row by row."""
    if any(len(one) > 1 for column in columns for one in column.values()):
        return (_line(row, columns, widths) for row in rows)
    single = [{cell: one for cell, (one,) in column.items()} for column in columns]
    return (" " + _GAP.join([column[cell] for cell, column in zip(row, single, strict=True)]).rstrip() for row in rows)


def _line(row: Sequence[str], columns: Sequence[dict[str, list[str]]], widths: Sequence[int]) -> str:
    """A row, of as many lines as its longest cell needs; `columns` has the lines of every cell."""
    cells = [column[cell] for cell, column in zip(row, columns, strict=True)]
    lines = zip_longest(*cells) if any(len(one) > 1 for one in cells) else [[one[0] for one in cells]]
    return "\n".join(" " + _GAP.join(
        " " * width if cell is None else cell for cell, width in zip(line, widths, strict=True)
    ).rstrip() for line in lines)


def _padded(cell: str, width: int, number: bool) -> str:
    blanks = " " * (width - _width(cell))
    return blanks + cell if number else cell + blanks


def _broken(text: str, width: int) -> list[str]:
    """Text as lines no wider than this, broken between words alone."""
    if _width(text) <= width and "\n" not in text:
        return [text]
    lines = []
    for part in text.split("\n"):
        line = ""
        for word in part.split(" "):
            if line and cell_len(f"{line} {word}") > width:
                lines.append(line)
                line = word
            else:
                line = f"{line} {word}" if line else word
        lines.append(line)
    return lines


def _blocks(listing: Listing, different: Sequence[set[str]], screen: Console) -> Iterator[str]:
    """Every row as a block: its first cell, and below it each other cell that says something, after its heading."""
    first, *others = listing.header
    begin, end = _styled(screen, "|", "bold").rstrip("\n").split("|")
    said = [
        {cell: [f"  {line}" for line in _broken(f"{heading}: {cell}", screen.width - 2)] if cell.strip() else []
         for cell in cells} for heading, cells in zip(others, different[1:], strict=True)
    ]
    if not listing.rows:
        yield from _broken("  ".join(listing.header), screen.width)
    for name, *cells in listing.rows:
        yield from (f"{begin}{line}{end}" for line in _broken(f"{first} {name}", screen.width))
        for cell, lines in zip(cells, said, strict=True):
            yield from lines[cell]
