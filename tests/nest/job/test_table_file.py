"""A cutting table in a file of its own: the keys of [table], read and checked as there."""

import re

import pytest

from nest.errors import InputProblems
from nest.job.cutting_table import Corner, CuttingTable, FileKind
from nest.job.tablefile import read_table_file

TABLE = """\
# the old table by the window
origin = "lower left"
files = ["hpgl", "lean"]
layers = { cut = "KNIFE" }
accel_mm_s2 = 2500
corner_s = 0.05
marks_first = false
length_mm = 3000
width_mm = 1800
"""
WANTED = CuttingTable(
    origin=Corner.LOWER_LEFT, files=(FileKind.HPGL, FileKind.LEAN), layers=(("cut", "KNIFE"),), accel_mm_s2=2500.0,
    corner_s=0.05, marks_first=False, length_mm=3000.0, width_mm=1800.0,
)


@pytest.mark.parametrize("heading", ["", "[table]\n"])
def test_a_table_file_is_read_with_its_heading_or_without(tmp_path, heading):
    """The section as copied from a job file, or its keys alone; an empty file is a plain table."""
    (tmp_path / "t.toml").write_text(heading + TABLE)
    assert read_table_file(tmp_path / "t.toml") == WANTED
    (tmp_path / "t.toml").write_text(heading)
    assert read_table_file(tmp_path / "t.toml") == CuttingTable()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"lower left"', '"middle"', r"t\.toml, line 2.*origin"), ("accel_mm_s2 = 2500", "accel_mm_s2 = 0", "line 5"),
        ("length_mm = 3000", "length_mm = -1", "above 0"), ("length_mm", "lenght_mm", "did you mean|length_mm"),
        ("marks_first = false", 'marks_first = "no"', "true or false"), ('["hpgl", "lean"]', '["thin"]', "hpgl"),
        ("# the", "[job]\n# the", "a key this section has"), ("# the", "the", "TOML"),
        ('cut = "KNIFE"', 'cut = "REF_NET"', "a layer of its own"),
    ],
)
def test_what_is_wrong_with_it_is_said(tmp_path, old, new, words):
    """One sentence, with file and line, as in a job file."""
    (tmp_path / "t.toml").write_text(TABLE.replace(old, new, 1))
    with pytest.raises(InputProblems, match=r"t\.toml") as said:
        read_table_file(tmp_path / "t.toml")
    assert re.search(words, str(said.value))


def test_no_such_file_is_said(tmp_path):
    """One sentence that names it."""
    with pytest.raises(InputProblems, match=r"none\.toml"):
        read_table_file(tmp_path / "none.toml")
