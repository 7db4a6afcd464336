"""Files made to use up time and memory: every reader refuses them before the work is done, in bounded memory."""

import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from nest.cutplan.dxfread import read_dxf
from nest.errors import InputProblems, VampYieldError
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.geojson import read_geojson
from nest.job.read import read_job
from nest.job.schema import LayersSection
from nest.job.table import read_table
from nest.limits import MOST_PROBLEMS, MOST_WARNINGS
from nest.planfile import read_plan

MOST_SECONDS, MOST_MB = 20, 1000
"""Every reader within this time and memory on any input."""

READ = """
import re, sys, time
from pathlib import Path
folder = Path(sys.argv[1])
sys.path.insert(0, sys.argv[2])
from test_bombs import read
from nest.errors import VampYieldError
for name in sys.argv[3:]:
    began, said = time.process_time(), "read"
    try:
        read(folder / name)
    except VampYieldError as error:
        said = str(error)
    # What the system calls the largest resident set of a process may be that of the one that started it.
    most = int(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1]) / 1024
    lines = said.count("\\n") + 1
    print(lines, time.process_time() - began, most, said.replace("\\n", " | "), sep="\\t")
"""


def read(path: Path):
    """What the reader for files of this ending makes of it; problems are raised."""
    source, findings = Source(path, path.name), Findings()
    if path.suffix in (".csv", ".xlsx"):
        found = read_table(source, ("style", "size", "pairs"), (), findings)
    elif path.suffix == ".geojson":
        found = read_geojson(source, LayersSection(), None, findings)
    else:
        found = {".toml": read_job, ".dxf": read_dxf, ".json": read_plan}[path.suffix](path)
    findings.raise_problems()
    return found


FEATURES = b'{"type":"FeatureCollection","features":['


def xlsx(**changed: bytes) -> bytes:
    """A workbook of one cell, with parts replaced: `sheet` and `styles`."""
    book, stream, spoilt = openpyxl.Workbook(), io.BytesIO(), io.BytesIO()
    book.active["A1"] = "style"
    book.save(stream)
    names = {"sheet": "xl/worksheets/sheet1.xml", "styles": "xl/styles.xml"}
    new = {names[key]: value for key, value in changed.items()}
    with zipfile.ZipFile(stream) as old, zipfile.ZipFile(spoilt, "w", zipfile.ZIP_DEFLATED) as made:
        for name in old.namelist():
            made.writestr(name, new.get(name, old.read(name)))
    return spoilt.getvalue()


def numbers(form: bytes, count: int) -> bytes:
    """A text repeated with numbers that hardly compress, so that the ratio of the archive betrays nothing."""
    return b"".join(form % (one * 7919 % 100_003) for one in range(count))


BOMBS = {
    "lines.csv": (lambda: b"style,size,pairs\n" + b"a\n" * 4_900_000, "at most 20000 rows"),
    "size.csv": (lambda: b"style,size,pairs\n" + b"a\n" * 5_500_000, "at most 10 MB"),
    "commas.csv": (lambda: b"style,size,pairs\n" + b"a," * 900_000, "at most 200 columns"),
    "blank.csv": (lambda: b"style,size,pairs\n" + b"\n" * 9_900_000, "read"),
    "quotes.csv": (lambda: b'style,size,pairs\n"' + b"a" * 9_000_000, "mend the quotes"),
    "row.xlsx": (lambda: xlsx(sheet=b"<worksheet><sheetData><row>" + numbers(b"<c><v>%d</v></c>", 1_100_000)
                              + b"</row></sheetData></worksheet>"), "sheet1.xml with more than"),
    "fonts.xlsx": (lambda: xlsx(styles=b"<styleSheet><fonts>" + numbers(b'<font><sz val="%d"/></font>', 80_000)
                                + b"</fonts></styleSheet>"), "styles.xml with more than"),
    "features.geojson": (lambda: FEATURES + b"{}," * 1_000_000 + b"{}]}", "at most 20000 features"),
    "values.geojson": (lambda: FEATURES + b"[]," * 3_000_000 + b"[]]}", "more than 4000000 values"),
    "deep.geojson": (lambda: b"[" * 3_000_000, "without end"),
    "digits.geojson": (lambda: FEATURES + b"1" * 20_000_000 + b"]}", "too many digits"),
    "wrong.geojson": (lambda: FEATURES + b'"a\\n' * 5, "no JSON from line 1, column"),
    "faults.geojson": (lambda: FEATURES + b"{}," * 19_000 + b"{}]}", "And 18901 more"),
    "tables.toml": (lambda: b"".join(b"[t%d]\n" % one for one in range(60_000)), "And "),
    "styles.toml": (lambda: b"[[style]]\n" * 60_000, "more; mend these first"),
    "key.toml": (lambda: b"a" + b".a" * 500_000 + b" = 1", "at most 20 steps"),
    "digits.toml": (lambda: b"a = " + b"1" * 1_900_000, "too many digits"),
    "plan.json": (lambda: b'{"format":"vampyield plan","schema":1,"pieces":[' + b"{}," * 1_000_000 + b"{}]}",
                  "There may be more"),
    "values.json": (lambda: b"[" + b"0," * 8_100_000 + b"0]", "more than 8000000 values"),
    "entities.dxf": (lambda: b"0\nSECTION\n2\nENTITIES\n" + b"0\nPOINT\n8\n0\n" * 310_000, "at most 300000 entities"),
}
"""By name: what makes the file, and words of the sentence that refuses it."""


QUICK = ("commas.csv", "fonts.xlsx", "features.geojson", "wrong.geojson", "key.toml", "digits.toml", "plan.json")


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system does not say how much memory was used")
@pytest.mark.parametrize("names", [QUICK, pytest.param(tuple(BOMBS), marks=pytest.mark.slow)], ids=["some", "all"])
def test_a_bomb_is_refused_in_bounded_time_and_memory(names, tmp_path):
    """No input up to the size limit takes more than 20 s or 1 GB, and no more than 101 lines are said of it."""
    for name in names:
        (tmp_path / name).write_bytes(BOMBS[name][0]())
    ended = subprocess.run(
        [sys.executable, "-c", READ, tmp_path, Path(__file__).parent, *names], capture_output=True, text=True,
        timeout=MOST_SECONDS * len(names), check=True,
    )
    for name, line in zip(names, ended.stdout.splitlines(), strict=True):
        lines, seconds, most_mb, said = line.split("\t")
        assert BOMBS[name][1] in said, name
        assert int(lines) <= MOST_PROBLEMS + 1, name
        assert float(seconds) <= MOST_SECONDS, name
        assert float(most_mb) <= MOST_MB, name


def test_problems_beyond_the_limit_are_counted():
    """A hundred sentences, then how many more; what is said stays the first of them."""
    findings = Findings()
    for number in range(2 * MOST_PROBLEMS + 5):
        findings.refuse(f"line {number}", "a number", "none", "add one")
    assert findings.refused == 2 * MOST_PROBLEMS + 5
    with pytest.raises(InputProblems) as caught:
        findings.raise_problems()
    lines = str(caught.value).splitlines()
    assert len(lines) == MOST_PROBLEMS + 1
    assert lines[0].startswith("line 0:")
    assert lines[-1] == f"And {MOST_PROBLEMS + 5} more; mend these first."


def test_warnings_end_somewhere():
    """A million repairs are not a million sentences."""
    findings = Findings()
    for number in range(3 * MOST_WARNINGS):
        findings.warn(f"vertex {number}", "doubled, one was dropped")
    assert len(findings.warnings) == MOST_WARNINGS + 1
    assert findings.warnings[-1].startswith("There is more")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name on this system")
@pytest.mark.parametrize("name", ["order.csv", "plan.json", "side.geojson", "job.toml", "drawing.dxf"])
@pytest.mark.parametrize(("kind", "words"), [
    ("pipe", "a pipe"), ("device", "a link out"), ("link", "a link out of its folder"), ("folder", "a folder"),
])
def test_only_plain_files_are_read(kind, words, name, tmp_path):
    """A pipe nobody writes to, a device, a link out of the folder and a folder are refused at once, by their kind."""
    folder = tmp_path / "given"
    folder.mkdir()
    path, elsewhere = folder / name, tmp_path / name
    elsewhere.write_bytes(b"style,size,pairs\n")
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to("/dev/zero" if kind == "device" else elsewhere)
    with pytest.raises(VampYieldError) as caught:
        read(path)
    assert words in str(caught.value)
    assert name in str(caught.value)


def test_a_link_within_the_folder_is_read(tmp_path):
    """A list kept under two names in one folder is one list."""
    (tmp_path / "monday.csv").write_text("style,size,pairs\nA,37,2\n")
    (tmp_path / "order.csv").symlink_to(tmp_path / "monday.csv")
    assert len(read(tmp_path / "order.csv")) == 1
