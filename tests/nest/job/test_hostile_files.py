"""Files that are broken, too large or meant ill: every reader reads them or says in a sentence why not."""

import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import ezdxf
import openpyxl
import pytest
import tiny_job
from hypothesis import given
from hypothesis import strategies as st
from mutations import fuzzed, spoilt_bytes, spoilt_json, spoilt_lines

from nest import limits
from nest.errors import InputProblems
from nest.job.files import Folder, Source, source_within
from nest.job.findings import Findings
from nest.job.hide_drawing import read_hide_shape
from nest.job.read import read_job
from nest.job.schema import LayersSection
from nest.job.table import read_table
from nest.text import _hidden, hidden_in, shown

GEOJSON = """{"type": "FeatureCollection", "features": [
 {"type": "Feature", "properties": {"part": "hide"}, "geometry": {"type": "Polygon", "coordinates":
   [[[0, 0], [1000, 0], [1000, 600], [0, 600], [0, 0]], [[300, 300], [320, 300], [320, 320], [300, 300]]]}},
 {"type": "Feature", "properties": {"part": "zone", "class": 1, "stretch_deg": 90, "name": "butt"},
  "geometry": {"type": "MultiPolygon", "coordinates": [[[[0, 0], [600, 0], [600, 600], [0, 600], [0, 0]]]]}},
 {"type": "Feature", "properties": {"part": "flaw", "kind": "scar", "severity": 2, "tears": true, "width_mm": 3},
  "geometry": {"type": "LineString", "coordinates": [[10, 10], [60, 40]]}},
 {"type": "Feature", "properties": {"part": "flaw", "kind": "hole", "severity": 3, "width_mm": 2},
  "geometry": {"type": "Point", "coordinates": [90, 90]}}]}"""


def workbook(rows) -> bytes:
    """A workbook with these rows on its one sheet."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


ORDER = workbook([["size", "pairs"], ["37", 4], ["38", 6], [39, 3.0]])


def members(data: bytes) -> dict[str, bytes]:
    """The parts of a workbook."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {one.filename: archive.read(one) for one in archive.infolist()}


def packed(parts: dict[str, bytes], compression=zipfile.ZIP_DEFLATED) -> bytes:
    """A workbook of these parts."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return stream.getvalue()


def read_or_refused(folder: Path) -> None:
    """The job is read, or refused with problems that are one line each and hide nothing."""
    try:
        assert read_job(folder / "job.toml").styles
    except InputProblems as error:
        assert error.problems
        for problem in error.problems:
            assert "\n" not in str(problem) and hidden_in(str(problem)) is None


def spoilt(sound: Path, name: str, data: bytes | str) -> None:
    """Read the sound job with one file exchanged."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "job"
        shutil.copytree(sound, copy)
        data = data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
        (copy / name).write_bytes(data)
        if name == "order.xlsx":
            path = copy / "job.toml"
            path.write_text(path.read_text().replace('"order.csv"', '"order.xlsx"'))
        read_or_refused(copy)


@fuzzed
@given(data=st.data())
@pytest.mark.parametrize("name", ["plain.dxf", "a1.dxf", "job.toml", "order.csv", "hides.csv", "order.xlsx"])
def test_spoilt_bytes(sound_job, name, data):
    """Any bytes of any file may be wrong."""
    sound = ORDER if name == "order.xlsx" else (sound_job / name).read_bytes()
    # The greater part of a DXF file is tables that every drawing has.
    first = sound.index(b"ENTITIES") if name.endswith("dxf") and data.draw(st.booleans()) else 0
    spoilt(sound_job, name, data.draw(spoilt_bytes(sound, first)))


@fuzzed
@given(data=st.data())
@pytest.mark.parametrize(("name", "separator"), [("job.toml", "="), ("order.csv", ","), ("hides.csv", ",")])
def test_spoilt_lines(sound_job, name, separator, data):
    """Values, lines and their order may be wrong."""
    spoilt(sound_job, name, data.draw(spoilt_lines((sound_job / name).read_text(encoding="utf-8"), separator)))


@fuzzed
@given(data=st.data())
@pytest.mark.parametrize("name", ["plain.dxf", "a1.dxf"])
def test_spoilt_tags(sound_job, name, data):
    """Values and group codes of the entities of a drawing may be wrong."""
    head, mark, tail = (sound_job / name).read_text(encoding="utf-8").partition("\nENTITIES\n")
    spoilt(sound_job, name, head + mark + data.draw(spoilt_lines(tail, "")))


@fuzzed
@given(data=st.data())
def test_spoilt_parts_of_a_workbook(sound_job, data):
    """The XML within a workbook may be wrong, where the archive is sound."""
    parts = members(ORDER)
    name = data.draw(st.sampled_from(sorted(parts)))
    if data.draw(st.booleans()):
        parts[name] = data.draw(spoilt_bytes(parts[name]))
    else:
        text = parts[name].decode().replace("><", ">\n<")
        parts[name] = data.draw(spoilt_lines(text, '"')).encode("utf-8", "surrogatepass")
    spoilt(sound_job, "order.xlsx", packed(parts))


@fuzzed
@given(data=st.data())
def test_spoilt_geojson(data):
    """A hide in GeoJSON with values wrong, missing or elsewhere, or with any bytes wrong, is read or refused."""
    text = data.draw(spoilt_json(GEOJSON))
    raw = text.encode() if data.draw(st.booleans()) else data.draw(spoilt_bytes(GEOJSON.encode()))
    with tempfile.TemporaryDirectory() as folder:
        path, findings = Path(folder) / "h.geojson", Findings()
        path.write_bytes(raw)
        shape = read_hide_shape(Source(path, path.name), LayersSection(), "mm", findings)
    assert (shape is None) == bool(findings.problems)
    assert shape is None or shape.outline.is_valid


# --- limits --------------------------------------------------------------------------------------


def refused(source: Path, words: str, read=None) -> None:
    """The reader refuses the file in one sentence with these words."""
    findings = Findings()
    read = read or (lambda: read_table(Source(source, source.name), ("size", "pairs"), (), findings))
    assert read() is None
    assert len(findings.problems) == 1 and re.search(words, str(findings.problems[0])), findings.problems


def test_a_workbook_that_swells(tmp_path):
    """A part that unpacks to a thousand times its size is refused from the archive's directory alone."""
    parts = members(ORDER)
    parts["xl/worksheets/sheet1.xml"] += b" " * (limits.RATIO_COUNTS_FROM_BYTES + 10_000)
    (tmp_path / "o.xlsx").write_bytes(packed(parts))
    refused(tmp_path / "o.xlsx", r"workbook of bearable size, found a part that unpacks to \d{3,} times its size")


def test_a_workbook_that_lies_about_its_size(tmp_path):
    """A directory that tells less than a part holds makes a damaged workbook, never more than it says."""
    parts = members(ORDER)
    parts["xl/worksheets/sheet1.xml"] += b" " * 5_000_000
    data = bytearray(packed(parts))
    # The size after unpacking stands 24 bytes into a part's entry of the central directory (ZIP specification 4.3.12).
    at = data.rindex(b"PK\x01\x02", 0, data.rindex(b"xl/worksheets/sheet1.xml"))
    data[at + 24 : at + 28] = (1000).to_bytes(4, "little")
    (tmp_path / "o.xlsx").write_bytes(bytes(data))
    refused(tmp_path / "o.xlsx", "an XLSX workbook, found a damaged one")


def test_entities_of_xml_do_not_multiply(tmp_path):
    """The billion laughs (nested XML entities) end at once: the parser's limit or a damaged workbook."""
    parts = members(ORDER)
    inner = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))
    head = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a0 "ha">{inner}]>'
    sheet = parts["xl/worksheets/sheet1.xml"].decode()
    sheet = re.sub(r"<\?xml.*?\?>", "", sheet).replace("<sheetData>", "<sheetData>&a11;", 1)
    parts["xl/worksheets/sheet1.xml"] = (head + sheet).encode()
    (tmp_path / "o.xlsx").write_bytes(packed(parts))
    findings = Findings()
    rows = read_table(Source(tmp_path / "o.xlsx", "o.xlsx"), ("size", "pairs"), (), findings)
    assert rows is None or sum(len(cell) for row in rows for cell in row.cells.values()) < 100
    assert (rows is None) == bool(findings.problems)


def test_a_workbook_with_one_cell_far_out(tmp_path):
    """A cell at the last column of the last row does not make a table of 17,000 million cells."""
    book = openpyxl.load_workbook(io.BytesIO(ORDER))
    book.active["XFD1048576"] = "far"
    book.save(tmp_path / "o.xlsx")
    findings = Findings()
    rows = read_table(Source(tmp_path / "o.xlsx", "o.xlsx"), ("size", "pairs"), (), findings)
    assert [row["size"] for row in rows] == ["37", "38", "39"] and not findings.problems


@pytest.mark.parametrize("name", ["job.toml", "plain.dxf", "a1.dxf", "order.csv", "hides.csv"])
def test_a_file_beyond_the_limit(job_folder, name):
    """A file that is too large is refused by its size, unread."""
    most = limits.LARGEST_JOB_FILE_BYTES if name == "job.toml" else limits.LARGEST_FILE_BYTES
    os.truncate(job_folder / name, most + 1)
    with pytest.raises(InputProblems, match=f"{name}: expected a file of at most {most / 1e6:g} MB"):
        read_job(job_folder / "job.toml")


def drawing_of(path: Path, make) -> None:
    """Save a drawing that `make` fills, given document and model space."""
    document = ezdxf.new("R2000", units=4)
    make(document, document.modelspace())
    document.saveas(path)


def insert_itself(document, space) -> None:
    """A block that holds itself, and a line."""
    block = document.blocks.new("A")
    block.add_line((0, 0), (1, 1), dxfattribs={"layer": "HIDE"})
    block.add_blockref("A", (1, 0))
    space.add_blockref("A", (0, 0))


def insert_each_other(document, space) -> None:
    """Two blocks that hold each other, each twice."""
    for name, other in (("A", "B"), ("B", "A")):
        block = document.blocks.new(name)
        for x in (1, 2):
            block.add_blockref(other, (x, 0))
    space.add_blockref("A", (0, 0))


@pytest.mark.parametrize("make", [insert_itself, insert_each_other])
def test_blocks_that_insert_themselves(tmp_path, make):
    """Blocks within themselves are refused with the depth that is allowed."""
    drawing_of(tmp_path / "h.dxf", make)
    findings = Findings()
    assert read_hide_shape(Source(tmp_path / "h.dxf", "h.dxf"), LayersSection(), "mm", findings) is None
    assert [str(one) for one in findings.problems] == [
        "h.dxf: expected a drawing of at most 16 blocks within each other, found more; "
        "save only what the job needs in it."
    ]


def test_entities_are_counted_before_they_are_loaded(tmp_path):
    """A DXF file with more entities than can be loaded is refused from its text."""
    line = "  0\nLINE\n  8\nX\n 10\n0\n 20\n0\n 11\n1\n 21\n0\n"
    (tmp_path / "h.dxf").write_text("  0\nSECTION\n  2\nENTITIES\n" + line * (limits.MOST_STORED_ENTITIES + 1))
    findings = Findings()
    assert read_hide_shape(Source(tmp_path / "h.dxf", "h.dxf"), LayersSection(), "mm", findings) is None
    assert "at most 300000 entities" in str(findings.problems[0]) and len(findings.problems) == 1


@pytest.mark.parametrize("suffix", ["dxf", "geojson"])
def test_vertices_of_one_outline(tmp_path, suffix, monkeypatch):
    """An outline of more vertices than the limit is refused with the limit, in both formats of hides."""
    monkeypatch.setattr(f"nest.job.{suffix}.MOST_OUTLINE_VERTICES", 500)
    count = 501
    points = [(i * 0.01, (i % 2) * 0.01) for i in range(count)]
    path = tmp_path / f"h.{suffix}"
    if suffix == "dxf":
        drawing_of(path, lambda _, space: space.add_lwpolyline(points, close=True, dxfattribs={"layer": "HIDE"}))
    else:
        ring = str([list(point) for point in [*points, points[0]]])
        path.write_text('{"type": "FeatureCollection", "features": [{"properties": {"part": "hide"}, "geometry": '
                        f'{{"type": "Polygon", "coordinates": [{ring}]}}}}]}}')
    findings = Findings()
    assert read_hide_shape(Source(path, path.name), LayersSection(), "mm", findings) is None
    assert len(findings.problems) == 1 and "at most 500 " in str(findings.problems[0])


def test_long_numbers_and_long_lines_in_the_job_file(job_folder):
    """A number of 5,000 digits is no TOML that can be read; a line of 100,000 blanks takes no time."""
    path = job_folder / "job.toml"
    text = path.read_text()
    path.write_text(text.replace("seconds = 5", f"seed = {'9' * 5000}"))
    with pytest.raises(InputProblems, match=r"job\.toml, line 6: expected TOML, found a fault"):
        read_job(path)
    path.write_text(text.replace("thickness_mm = 1.4", f'thickness_mm = 1.4\nnotes = ["""\n[{" " * 100_000}\n"""]'))
    assert read_job(path).styles


# --- places and names ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("a" + ".a" * 100_000 + " = 1", "job.toml, line 1: expected a key of at most 20 steps, found more"),
        ('"a" . ' * 100_000 + "b = 1", "job.toml, line 1: expected a key of at most 20 steps"),
        ("x = " + "[" * 300 + "]" * 300, "no more than 20 within each other, found more"),
        ("x = " + "[" * 3000 + "]" * 3000, "job.toml: expected TOML, found a fault (lists within lists without end)"),
        ("x = " + "{ a = " * 100 + "1" + " }" * 100, "no more than 20 within each other, found more"),
    ],
    ids=["dots", "quoted dots", "lists", "very deep lists", "inline tables"],
)
def test_keys_and_lists_within_each_other_without_end(job_folder, line, words):
    """Refused before they are read, for a key's time and memory grow with the square of its steps."""
    path = job_folder / "job.toml"
    path.write_text(line + "\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        read_job(path)
    assert len(caught.value.problems) == 1 and words in str(caught.value)


@pytest.mark.parametrize("name", ["plain.dxf", "a1.dxf"])
def test_a_drawing_without_model_space(job_folder, name):
    """A DXF file whose layout of that name is called otherwise is no drawing that can be read."""
    path = job_folder / name
    path.write_bytes(path.read_bytes().replace(b"\nModel\n", b"\nModell\n"))
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    assert len(caught.value.problems) == 1 and f"{name}: expected a DXF drawing, found none" in str(caught.value)


def test_names_of_files_beyond_ascii_in_a_locale_that_knows_no_more(job_folder):
    """Names in a job file are UTF-8, and so are those on the disk: the C locale finds them too."""
    (job_folder / "plain.dxf").rename(job_folder / "größer.dxf")
    tiny_job.replace_in("job.toml", "plain.dxf", "größer.dxf")(job_folder)
    code = "from nest.job.read import read_job; print(len(read_job('job.toml').styles))"
    root = str(Path(limits.__file__).parent.parent)
    environment = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONPATH": root}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=job_folder, env=environment, capture_output=True, text=True, check=False
    )
    assert done.stdout == "1\n", done.stderr


def test_files_outside_the_folder_need_leave(job_folder, tmp_path):
    """A template beside the job's folder is refused, whichever way it is named, and read with leave."""
    shutil.move(job_folder / "plain.dxf", tmp_path / "plain.dxf")
    path = job_folder / "job.toml"
    text = path.read_text()
    (job_folder / "link.dxf").symlink_to(tmp_path / "plain.dxf")
    for name in ("../plain.dxf", str(tmp_path / "plain.dxf"), "..\\\\plain.dxf", "link.dxf", "./x/../../plain.dxf"):
        path.write_text(text.replace('"plain.dxf"', f'"{name}"'))
        with pytest.raises(InputProblems, match=r"expected a file in the job's folder.*--outside"):
            read_job(path)
        assert read_job(path, outside=True).styles[0].templates


@pytest.mark.parametrize("name", [
    "", "  ", "a\0b", "a\nb.csv", "\u202evsc.redro", "a\x1bb", "\ud800", "a\u200fb", "x" * 300, "../" * 200 + "no/such",
    "/dev/zero", "/dev/stdin", ".", "loop",
])
def test_names_of_files_that_are_none(tmp_path, name):
    """Names with controls or hidden marks, devices, folders, endless names and links: one sentence each."""
    (tmp_path / "loop").symlink_to("loop")
    findings = Findings()
    for outside in (False, True):
        assert source_within(Folder(tmp_path, outside), name, "job.toml, line 2, order", findings) is None
    assert findings.problems
    for problem in findings.problems:
        assert "\n" not in str(problem) and hidden_in(str(problem)) is None


@pytest.mark.parametrize(
    "name", ["a/b", "..", "../x", "a\\b", "CON\0", "a\nb", "\u202eabc", "a\u200fb", "x" * 61, "tail."]
)
@pytest.mark.parametrize(("file", "old"), [("job.toml", 'name = "plain"'), ("hides.csv", "A1,")])
def test_names_that_become_file_names(job_folder, name, file, old):
    """Styles and hides have names without path parts, controls and hidden marks."""
    escaped = name.encode("unicode_escape").decode().replace("\\\\", "\\\\\\\\").replace("\\x00", "\\u0000")
    new = f'name = "{escaped}"' if file == "job.toml" else f'"{name}",'
    text = (job_folder / file).read_text().replace(old, new, 1)
    (job_folder / file).write_bytes(text.encode())
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    for problem in caught.value.problems:
        assert "\n" not in str(problem) and hidden_in(str(problem)) is None


@pytest.mark.parametrize("mark", ["\u202e", "\u2066", "\u200f", "\x07", "\x1b", "\ud800", "\ufeff", "\u2028", "\uffff"])
def test_hidden_characters_are_found_and_shown(mark):
    """Controls, marks of direction, half surrogates, line separators: found, named, and written as escapes."""
    assert f"U+{ord(mark):04X}" in hidden_in(f"ab{mark}c")
    assert hidden_in(shown(f"ab{mark}c\n")) is None and "\n" not in shown(f"ab{mark}c\n")


@pytest.mark.parametrize("text", ["Größe 38½", "日本語", "שלום", "سلام", "نمی‌خواهم", "a\tb\r\n", "ß—…", ""])
def test_letters_of_any_script_are_no_hidden_characters(text):
    """Text in scripts from right to left, and joiners within words, are text."""
    assert hidden_in(text) is None


@pytest.mark.parametrize("spoil", [
    tiny_job.replace_in("job.toml", "[style.rules]", 'notes2 = "\u202e"\n[style.rules]'),
    tiny_job.replace_in("job.toml", "thickness_mm = 1.4", 'thickness_mm = 1.4\nnotes = ["\\u202eabc"]'),
    tiny_job.replace_in("order.csv", "37,4", "37\u200f,4"),
    tiny_job.redraw("a1.dxf", tiny_job.put_text("ZONES", "butt class 1 stretch 90", "bu\u202ett class 1 stretch 90")),
    tiny_job.redraw("a1.dxf", tiny_job.put_text("FLAWS", "scratch severity 2 coverable", "\u2067x severity 2")),
], ids=["toml", "escape", "csv", "zone", "flaw"])
def test_hidden_marks_are_refused_where_they_stand(job_folder, spoil):
    """One sentence names file and character; the mark itself is not in it."""
    spoil(job_folder)
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    (problem,) = caught.value.problems
    assert "the character U+20" in str(problem) and hidden_in(str(problem)) is None


def test_what_can_be_printed_hides_nothing():
    """No character that Python calls printable (by Unicode's general categories) is one that must not be in a text."""
    printed = [one for one in map(chr, range(0x10000)) if one.isprintable()]
    assert len(printed) > 50_000 and not any(map(_hidden, printed))
