"""Files that somebody else gives are plain files of bearable size, or they are refused before they are read.

A pipe would wait for ever, a device has no end, and a link may lead to a file that was never meant to be given. Kind
and size are those of the file that was opened, not of its path, so that nothing can change in between.
"""

import json
import os
import stat
from pathlib import Path
from typing import Any, NoReturn

_KINDS = (
    (stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a pipe"), (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"),
)


class NotPlain(Exception):
    """A file that cannot be used; the text says what was found in its place, the cause is the system's error if any."""


class TooLarge(NotPlain):
    """A file of more bytes than are read."""


class BadJson(ValueError):
    """A text that is no JSON, or holds too much; the text says where and what."""


def read_plain(path: str | os.PathLike[str], most_bytes: int) -> bytes:
    """Contents of a plain file of at most `most_bytes`.

    Raises
    ------
    NotPlain
        If it is missing, no plain file, a link out of its own folder, larger, or cannot be read.
    """
    path = Path(path)
    try:
        check_link(path)
        with open(path, "rb", opener=_without_waiting) as stream:
            found = os.fstat(stream.fileno())
            _check(found, most_bytes)
            data = stream.read(most_bytes + 1)
    except (OSError, ValueError, RuntimeError) as error:
        raise NotPlain(reason_of(error)) from error
    if len(data) > most_bytes:
        raise TooLarge(f"more than {most_bytes / 1e6:g} MB")
    return data


def check_plain(path: str | os.PathLike[str], most_bytes: int) -> None:
    """Raise as `read_plain` does, without reading: for readers that open the file themselves."""
    path = Path(path)
    try:
        check_link(path)
        _check(path.stat(), most_bytes)
    except (OSError, ValueError, RuntimeError) as error:
        raise NotPlain(reason_of(error)) from error


def check_link(path: Path) -> None:
    """Raise NotPlain if the file is a link that leads out of its own folder."""
    if path.is_symlink() and not path.resolve().is_relative_to(path.parent.resolve()):
        raise NotPlain("a link out of its folder")


def parsed_json(text: str, most_values: int) -> Any:
    """What a JSON text says, if it holds no more than some `most_values` values; counted before it is read.

    Raises
    ------
    BadJson
        With line and column, in plain words.
    """
    # Each value but the first follows one of these; those within texts are counted too, which errs on the safe side.
    if sum(map(text.count, "[{,")) > most_values:
        raise BadJson(f"more than {most_values} values")
    try:
        return json.loads(text, parse_constant=_no_constant, object_pairs_hook=_no_repeats)
    except BadJson:
        raise
    except json.JSONDecodeError as error:
        raise BadJson(f"no JSON from line {error.lineno}, column {error.colno} on") from error
    except RecursionError as error:
        raise BadJson("lists within lists without end") from error
    except ValueError as error:
        raise BadJson("a number of too many digits") from error


def reason_of(error: Exception) -> str:
    """What stands in the way, in words for a sentence."""
    if isinstance(error, FileNotFoundError):
        return "no such file"
    if isinstance(error, IsADirectoryError):
        return "a folder"
    if isinstance(error, OSError) and error.strerror:
        return error.strerror[0].lower() + error.strerror[1:]
    return "a path that cannot be followed"


def _without_waiting(path: str, flags: int) -> int:
    # A pipe nobody writes to would keep an ordinary open waiting.
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0))


def _check(found: os.stat_result, most_bytes: int) -> None:
    for is_one, words in _KINDS:
        if is_one(found.st_mode):
            raise NotPlain(words)
    if found.st_size > most_bytes:
        raise TooLarge(f"{-(-found.st_size // 1_000_000)} MB")


def _no_constant(name: str) -> NoReturn:
    raise BadJson(f"{name} is not a number")


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    seen = dict(pairs)
    if len(seen) != len(pairs):
        raise BadJson("a field is given twice")
    return seen
