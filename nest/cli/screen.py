"""What is printed: results on standard output, notes and errors on standard error."""

import json
import sys
from dataclasses import dataclass, field

from rich.console import Console

_FILE_WIDTH = 160
"""Columns where the output is no terminal, so that tables in files and pipes are not squeezed."""


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
            with out.capture() as printed:
                for table in tables:
                    out.print(table, markup=False, soft_wrap=isinstance(table, str))
            _write(printed.get())

    def say(self, *lines: str) -> None:
        """Print each of `lines` to standard error, unless quiet."""
        if not self.quiet:
            for line in lines:
                self.complain(line)

    def complain(self, line: str) -> None:
        """Print one line to standard error, quiet or not: as it is, never wrapped, never read as markup."""
        self.notes.print(line, markup=False, soft_wrap=True)


def _write(text: str) -> None:
    sys.stdout.write(text)
    sys.stdout.flush()


def _knows_all_letters() -> bool:
    return (sys.stdout.encoding or "").casefold().startswith("utf")
