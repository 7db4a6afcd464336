"""Files a job names: found within the job's folder, of bearable size, text as UTF-8."""

import math
from dataclasses import dataclass
from pathlib import Path

from nest.job.findings import Findings

LARGEST_FILE_BYTES = 50_000_000
"""No file of a job may be larger than this."""

_BYTE_ORDER_MARKS = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"))


@dataclass(frozen=True, slots=True)
class Source:
    """A file to read: its path, and the name it goes by in messages."""

    path: Path
    name: str


def source_within(folder: Path, name: str, where: str, findings: Findings) -> Source | None:
    """Find the file `name`, named at `where`, in `folder` or below it; None, and a problem, if it cannot be used."""
    name = name.strip().replace("\\", "/")
    if not name or "\0" in name:
        findings.refuse(where, "the name of a file", repr(name), "give the path of a file beside the job file")
        return None
    path = (folder / name).resolve()
    if not path.is_relative_to(folder.resolve()):
        findings.refuse(
            where, "a file in the job's folder", repr(name), "move the file beside the job file and give its path there"
        )
        return None
    return checked_source(Source(path, name), where, findings)


def checked_source(source: Source, where: str, findings: Findings) -> Source | None:
    """Return `source` if it is a file of bearable size, else None and a problem."""
    try:
        if not source.path.is_file():
            found = "a folder" if source.path.is_dir() else "no such file"
            findings.refuse(where, f"the file {source.name!r}", found, "correct the path or put the file there")
            return None
        size = source.path.stat().st_size
    except OSError as error:
        findings.refuse(where, f"the file {source.name!r}", str(error.strerror), "correct the path")
        return None
    if size > LARGEST_FILE_BYTES:
        findings.refuse(
            source.name,
            f"a file of at most {LARGEST_FILE_BYTES / 1e6:g} MB",
            f"{math.ceil(size / 1e6)} MB",
            "save only what the job needs in it",
        )
        return None
    return source


def read_bytes(source: Source, findings: Findings) -> bytes | None:
    """Contents of a file; None, and a problem, if it cannot be read."""
    try:
        return source.path.read_bytes()
    except OSError as error:
        findings.refuse(source.name, "a file that can be read", str(error.strerror), "change its permissions")
        return None


def read_text(source: Source, findings: Findings) -> str | None:
    """Contents of a UTF-8 file, with or without byte order mark; None, and a problem, if it is anything else."""
    data = read_bytes(source, findings)
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
    return text
