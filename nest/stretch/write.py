"""A job that uses the directions found: a new job file and its table beside the old one, which stays as it is."""

import csv
import re
from collections.abc import Mapping
from pathlib import Path

from nest.atomic import atomic_path
from nest.job.files import Folder, source_within
from nest.job.findings import Findings
from nest.job.measured_stretch import COLUMNS, DOUBT_COLUMN, read_measured_stretch
from nest.newjob import check_new_job, write_new_job
from nest.stretch.doubt import Doubt
from nest.stretch.fit import Stretch
from nest.stretch.readings import Tested

_KEY = re.compile(r"""^\s*stretch\s*=\s*(?P<mark>["'])(?P<name>.*?)(?P=mark).*$""", re.M)
_FIRST_SECTION = re.compile(r"^\s*\[", re.M)


def write_job_with_stretch(old: Path, new: Path, found: Mapping[Tested, tuple[Stretch, Doubt]]) -> tuple[Path, Path]:
    """Write the job `old` again as `new`, in the same folder, naming a new table of stretch; returns both paths.

    Lines of an earlier table that were not measured again are carried over.

    Raises
    ------
    PlanProblem
        If `new` is in another folder, or it or its table exists: nothing is ever written over.
    InputProblems
        If the earlier table cannot be read.
    """
    table = new.with_name(f"{new.stem}-stretch.csv")
    check_new_job(old, new, table)
    text = old.read_text(encoding="utf-8-sig")
    section = _FIRST_SECTION.search(text)
    head, rest = (text[: section.start()], text[section.start():]) if section else (text, "")
    named = _KEY.search(head)
    rows = _kept(old, named["name"], found) if named else []
    rows += [
        (tested.material, tested.zone, f"{stretch.direction_deg:.1f}", "yes" if doubt else "no")
        for tested, (stretch, doubt) in found.items()
    ]
    line = f'stretch = "{table.name}"'
    head = head[: named.start()] + line + head[named.end():] if named else f"{line}\n{head}"
    with atomic_path(table) as part, open(part, "w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([(*COLUMNS, DOUBT_COLUMN), *rows])
    write_new_job(head + rest, new)
    return new, table


def _kept(old: Path, name: str, found: Mapping[Tested, object]) -> list[tuple[str, str, str, str]]:
    """Rows of the earlier table but those that are measured again."""
    findings = Findings()
    source = source_within(Folder(old.resolve().parent), name, old.name, findings)
    lines = read_measured_stretch(source, findings) if source else ()
    findings.raise_problems()
    return [
        (one.material, one.zone, f"{one.stretch_deg:.1f}", "yes" if one.in_doubt else "no")
        for one in lines if Tested(one.material, one.zone) not in found
    ]
