"""Files a job names: found within the job's folder, of bearable size, text as UTF-8."""

import os
from dataclasses import dataclass
from pathlib import Path

from nest.job.findings import Findings
from nest.limits import LARGEST_FILE_BYTES
from nest.plainfile import NotPlain, TooLarge, check_plain, read_plain
from nest.text import hidden_at, hidden_in

_BYTE_ORDER_MARKS = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"))


@dataclass(frozen=True, slots=True)
class Source:
    """A file to read: its path, and the name it goes by in messages."""

    path: Path
    name: str


@dataclass(frozen=True, slots=True)
class Folder:
    """The folder of a job, in which its files must lie; anywhere if `outside` says that the user wants it so."""

    path: Path
    outside: bool = False


def source_within(folder: Folder, name: str, where: str, findings: Findings) -> Source | None:
    """Find the file `name`, named at `where`, in `folder` or below it; None, and a problem, if it cannot be used."""
    name = name.strip().replace("\\", "/")
    if not name or (hidden := hidden_in(name)) or any(mark in name for mark in "\t\n\r"):
        found = hidden if name and hidden else repr(name)
        findings.refuse(where, "the name of a file", found, "give the path of a file beside the job file")
        return None
    try:
        path = file_path(folder.path, name)
    except (OSError, RuntimeError):  # a link that leads to itself
        findings.refuse(where, f"the file {name!r}", "a path that cannot be followed", "correct the path")
        return None
    if not folder.outside and not path.is_relative_to(folder.path.resolve()):
        findings.refuse(
            where, "a file in the job's folder", repr(name),
            "move the file beside the job file and give its path there, or allow this with --outside",
        )
        return None
    return checked_source(Source(path, name), where, findings)


def file_path(folder: Path, name: str) -> Path:
    """The resolved path of a file named in UTF-8, as job files are, whatever letters the process's locale knows."""
    return (folder / os.fsdecode(name.encode("utf-8"))).resolve()


def checked_source(
    source: Source, where: str, findings: Findings, most_bytes: int = LARGEST_FILE_BYTES
) -> Source | None:
    """Return `source` if it is a file of bearable size, else None and a problem."""
    try:
        check_plain(source.path, most_bytes)
    except TooLarge as found:
        _refuse_large(source, most_bytes, found, findings)
        return None
    except NotPlain as found:
        remedy = "correct the path or put the file there"
        findings.refuse(where, f"the file {source.name!r}", str(found), remedy)
        return None
    return source


def read_bytes(source: Source, findings: Findings, most_bytes: int = LARGEST_FILE_BYTES) -> bytes | None:
    """Contents of a plain file of bearable size; None, and a problem, if it cannot be read."""
    try:
        return read_plain(source.path, most_bytes)
    except TooLarge as found:
        _refuse_large(source, most_bytes, found, findings)
    except NotPlain as found:
        denied = isinstance(found.__cause__, PermissionError)
        remedy = "change its permissions" if denied else "correct the path or put the file there"
        findings.refuse(source.name, "a file that can be read", str(found), remedy)
    return None


def _refuse_large(source: Source, most_bytes: int, found: TooLarge, findings: Findings) -> None:
    most = f"a file of at most {most_bytes / 1e6:g} MB"
    findings.refuse(source.name, most, str(found), "save only what the job needs in it")


def read_text(source: Source, findings: Findings, most_bytes: int = LARGEST_FILE_BYTES) -> str | None:
    """Contents of a UTF-8 file, with or without byte order mark; None, and a problem, if it is anything else."""
    data = read_bytes(source, findings, most_bytes)
    if data is None:
        return None
    remedy = "save the file again as UTF-8"
    for mark, encoding in _BYTE_ORDER_MARKS:
        if data.startswith(mark):
            findings.refuse(source.name, "UTF-8 text", encoding, remedy)
            return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"the byte {data[error.start]:#04x} of another encoding"
        findings.refuse(f"{source.name}, line {line}", "UTF-8 text", found, remedy)
        return None
    if "\0" in text:
        findings.refuse(source.name, "a text file", "binary data", "give the text file itself")
        return None
    at = hidden_at(text)
    if at is not None:
        line = text.count("\n", 0, at) + 1
        findings.refuse(f"{source.name}, line {line}", "plain text", str(hidden_in(text[at])), "delete it")
        return None
    return text
