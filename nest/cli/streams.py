"""Standard streams that take any text and never change what a command does or how it ends.

A reader may go away (`| head`), a disk may be full, a stream may be closed from the start, and an old terminal may
know ASCII alone. The exit code says what became of the plan, so none of this may touch it: what cannot be written is
dropped, and said once where somebody may still read it.
"""

import codecs
import errno
import os
import sys
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

_LOOKALIKE = "vampyield-lookalike"
"""Name of the error handler that writes letters a stream's encoding lacks as letters that look like them."""

_LIKE = {
    "–": "-", "—": "-", "−": "-", "×": "x", "·": ".", "…": "...", "°": " deg", "±": "+-", "≤": "<=", "≥": ">=",
    "→": "->", "‘": "'", "’": "'", "“": '"', "”": '"', "€": "EUR", "£": "GBP", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae",
    "Æ": "AE", "⁄": "/",
}


def lookalike(error: UnicodeError) -> tuple[str, int]:
    """ASCII for what cannot be encoded: a likeness, the letter without its accent, or "?"; for `codecs.register_error`.

    Lines of tables, which rich draws itself, come as "-", "|" and "+".
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(map(_like, error.object[error.start : error.end])), error.end


def _like(letter: str) -> str:
    if letter in _LIKE:
        return _LIKE[letter]
    if 0x2500 <= ord(letter) <= 0x257F:  # box drawing
        return "-" if letter in "─━═╌╍┄┅" else "|" if letter in "│┃║" else "+"
    parts = (_LIKE.get(part, part) for part in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(part))
    return "".join(part if part.isascii() else "?" for part in parts) or "?"


class Stream:
    """A text stream that drops what it cannot write; `lost` is called once with the reason."""

    def __init__(self, stream, lost: Callable[[OSError], None] = lambda error: None):
        self._stream, self._lost, self._gone = stream, lost, False

    def __getattr__(self, name: str):
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write text, or drop it."""
        self._try(lambda: self._stream.write(text))
        return len(text)

    def flush(self) -> None:
        """Flush, or drop what is waiting."""
        self._try(self._stream.flush)

    def _try(self, act: Callable[[], object]) -> None:
        if self._gone:
            return
        try:
            act()
        except OSError as error:
            self._gone = True
            with suppress(OSError, ValueError):  # a stream of tests has no file
                # What is left in the buffer would be complained of when the process ends.
                os.dup2(os.open(os.devnull, os.O_WRONLY), self._stream.fileno())
            self._lost(error)


@contextmanager
def lenient_streams() -> Iterator[None]:
    """Let the process write to standard output and standard error as above within the block."""
    codecs.register_error(_LOOKALIKE, lookalike)
    before = sys.stdout, sys.stderr
    # A stream that was closed from the start is None; its number must not go to the next file that is opened.
    out, errors = (open(os.devnull, "w", encoding="utf-8") if one is None else one for one in before)  # noqa: SIM115
    for one in (out, errors):
        if hasattr(one, "reconfigure"):
            one.reconfigure(errors=_LOOKALIKE)
    sys.stderr = Stream(errors)
    sys.stdout = Stream(out, _say_lost)
    try:
        yield
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        sys.stdout, sys.stderr = before


def _say_lost(error: OSError) -> None:
    # A reader that has gone away has read what it wanted.
    if error.errno != errno.EPIPE:
        sys.stderr.write(f"Standard output cannot be written ({error.strerror}): the result is not shown whole.\n")
