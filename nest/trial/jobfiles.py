"""Which files a job names, so that it can be copied whole."""

import tomllib
from os.path import isfile
from pathlib import Path

from nest.job.files import Source, file_path
from nest.job.findings import Findings
from nest.job.jobfile import texts
from nest.job.table import read_table


def files_of_job(path: Path) -> tuple[Path, ...]:
    """Paths, relative to the job's folder, of every file that the job file at `path` or its hide index names.

    For a job that has been read without problems.
    """
    folder = path.resolve().parent
    raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    names = [*texts(raw)]
    index = raw.get("hides")
    if isinstance(index, str):
        table = read_table(Source(folder / index.strip(), index), ("file",), (), Findings())
        names += [row["file"] for row in table or ()]
    found: dict[Path, None] = {}
    for name in names:
        name = name.strip().replace("\\", "/")
        if "\0" not in name:
            whole = file_path(folder, name)
            if whole.is_relative_to(folder) and isfile(whole):  # a text that no path can be, as a long note, is none
                found[whole.relative_to(folder)] = None
    return tuple(found)
