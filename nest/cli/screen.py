"""What is printed: results on standard output, notes and errors on standard error."""

import json
import os
import sys
from dataclasses import dataclass, field

from rich.console import Console

_FILE_WIDTH = 160
"""Columns where the output is no terminal, so that tables in files and pipes are not squeezed."""


def console(*, errors: bool = False) -> Console:
    """A console on standard output, or standard error."""
    made = Console(stderr=errors, highlight=False)
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
            _write(json.dumps(data, ensure_ascii=False, indent=2) + "\n")
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
    """Write to standard output; a reader that has gone away, such as `head`, is no fault and changes no exit code."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # What is left in the buffer would be complained of when the process ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
