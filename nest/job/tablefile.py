"""A cutting table from the job file, or from a file of its own."""

from pathlib import Path

from nest.job.cutting_table import PLAIN_TABLE, CuttingTable
from nest.job.fields import Section
from nest.job.jobfile import read_alone, read_section_file
from nest.job.table_schema import TableSection


def read_table_file(path: Path | str) -> CuttingTable:
    """The cutting table in a file with the keys of [table] of a job file, its heading there or not.

    Raises
    ------
    InputProblems
        Every problem found in it.
    """
    section, _, _ = read_alone(
        path, lambda source, findings: read_section_file(source, "table", TableSection, findings))
    return table_of(section)


def table_of(section: Section | None) -> CuttingTable:
    """The cutting table that a section describes; lists and tables as tuples, so that a plan can keep it."""
    if section is None:
        return PLAIN_TABLE
    keys = dict(section)
    return CuttingTable(**keys | {"layers": tuple(keys["layers"].items()), "files": tuple(keys["files"])})
