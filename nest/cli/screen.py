"""What is printed: results on standard output, notes and errors on standard error."""

import json
import sys
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, field, replace

from rich.console import Console
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from nest.cli.fitting import fitted, wrapped
from nest.cli.listing import Listing, drawn
from nest.text import hidden_at, shown

_FILE_WIDTH = 160
"""Columns where the output is no terminal, so that tables in files and pipes are not squeezed."""


class _Console(Console):
    """A console whose texts hold nothing that a terminal obeys: names of files may hold anything, colours are its own.

    Text and style are apart in a segment, and one stream of signs once they are printed.
    """

    def render(self, renderable, options=None) -> Iterator[Segment]:
        """Segments of a renderable, their texts as they may be shown."""
        for one in super().render(renderable, options):
            yield one if one.control or one.text.isprintable() else one._replace(text=_plain(one.text))


def console(*, errors: bool = False) -> Console:
    """A console on standard output, or standard error."""
    # Given its file, it draws with plain lines where that knows ASCII alone.
    made = _Console(file=sys.stderr if errors else sys.stdout, highlight=False)
    if not made.is_terminal:
        made.width = _FILE_WIDTH
    return made


@dataclass(frozen=True, slots=True)
class Screen:
    """Prints results as tables, as JSON, or not at all."""

    quiet: bool = False
    as_json: bool = False
    notes: Console = field(default_factory=lambda: console(errors=True))

    def result(self, data: dict, *tables) -> None:
        """Print a result: `data` with --json, else the tables unless quiet."""
        if self.as_json:
            _write(_json(data) + "\n")
        elif not self.quiet:
            out = console()
            _write("".join([_printed(out, table) for table in tables]))

    def say(self, *lines: str) -> None:
        """Print each of `lines` to standard error, unless quiet."""
        if not self.quiet:
            for line in lines:
                self.complain(line)

    def complain(self, line: str) -> None:
        """Print one line to standard error, quiet or not: never read as markup, wrapped by a terminal's width alone."""
        _print_line(self.notes, _plain(line))


def _printed(out: Console, table) -> str:
    """A table, a list or a line as it stands on the screen."""
    if isinstance(table, Listing):
        return drawn(replace(table, rows=tuple(tuple(map(_plain, row)) for row in table.rows)), out)
    with out.capture() as printed:
        if isinstance(table, str):
            _print_line(out, table)
        else:
            out.print(fitted(_shown(table), out) if isinstance(table, Table) else table, markup=False, crop=False)
    return printed.get()


def _shown(table: Table) -> Table:
    """The table with its cells as they are shown, before their widths are looked at."""
    made = copy(table)
    made.columns = [replace(column, _cells=[_cell(cell) for cell in column.cells]) for column in table.columns]
    return made


def _cell(cell):
    plain = cell.plain if isinstance(cell, Text) else cell
    if not isinstance(plain, str) or plain.isprintable():
        return cell
    return Text(_plain(plain), style=cell.style) if isinstance(cell, Text) else _plain(plain)


def _print_line(out: Console, line: str) -> None:
    """A line as it is; on a terminal it is broken between words, so that the terminal does not break them."""
    if out.is_terminal:
        out.print(wrapped(Text(line), out.width), crop=False)
    else:
        out.print(line, markup=False, soft_wrap=True)


def _plain(text: str) -> str:
    """The text with nothing in it that a terminal obeys but line breaks."""
    return text if text.isprintable() else "\n".join(map(shown, text.split("\n")))


def _json(data: dict) -> str:
    """JSON, with escapes of its own for what the eye does not see."""
    text = json.dumps(data, ensure_ascii=not _knows_all_letters(), indent=2)
    if hidden_at(text) is None:
        return text
    return "".join(one if hidden_at(one) is None else json.dumps(one)[1:-1] for one in text)


def _write(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()


def _knows_all_letters() -> bool:
    return (sys.stdout.encoding or "").casefold().startswith("utf")
