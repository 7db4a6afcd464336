"""What is printed: results on standard output, notes and errors on standard error."""

import json
import re
import sys
from dataclasses import dataclass, field

from rich.console import Console
from rich.table import Table
from rich.text import Text

from nest.cli.fitting import fitted, wrapped
from nest.cli.listing import Listing, drawn
from nest.text import shown

_FILE_WIDTH = 160
"""Columns where the output is no terminal, so that tables in files and pipes are not squeezed."""

_COLOUR = re.compile(r"(\x1b\[[0-9;]*m)")
"""The escape sequence that sets colour or weight of what follows, and nothing else (ECMA-48, SGR)."""


def console(*, errors: bool = False) -> Console:
    """A console on standard output, or standard error."""
    # Given its file, it draws with plain lines where that knows ASCII alone.
    made = Console(file=sys.stderr if errors else sys.stdout, highlight=False)
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
            _write(json.dumps(data, ensure_ascii=not _knows_all_letters(), indent=2) + "\n")
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
        return drawn(table, out)
    with out.capture() as printed:
        if isinstance(table, str):
            _print_line(out, table)
        else:
            out.print(fitted(table, out) if isinstance(table, Table) else table, markup=False, crop=False)
    return printed.get()


def _print_line(out: Console, line: str) -> None:
    """A line as it is; on a terminal it is broken between words, so that the terminal does not break them."""
    if out.is_terminal:
        out.print(wrapped(Text(line), out.width), crop=False)
    else:
        out.print(line, markup=False, soft_wrap=True)


def _plain(text: str) -> str:
    """The text with nothing in it that a terminal obeys but line breaks and our own colours.

    Names of files and folders, and what a library says of a file, may hold anything.
    """
    return "".join(
        piece if number % 2 else "\n".join(map(shown, piece.split("\n")))
        for number, piece in enumerate(_COLOUR.split(text))
    )


def _write(text: str) -> None:
    sys.stdout.write(_plain(text))
    sys.stdout.flush()


def _knows_all_letters() -> bool:
    return (sys.stdout.encoding or "").casefold().startswith("utf")
