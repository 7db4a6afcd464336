"""Every kind of file that is made up by grammar, and the reader that takes it."""

import functools
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

sys.path += [str(Path(__file__).parent / name) for name in ("job", "ledger", "planning")]

import grammar
import tiny_job
from full_ledger import filled
from hypothesis import strategies as st
from mutations import nudged, spoilt_json, spoilt_lines
from picture_grammar import pictures
from tiny_plans import box_plan

from nest.accounts import account
from nest.begun.lists import read_begun
from nest.cutplan.dxf import write_hide_dxf
from nest.cutplan.readback import read_cut_dxf
from nest.cutplan.stamp import stamp_of
from nest.digitise.picture import read_photograph
from nest.drift.record import read_record
from nest.edits import History, State
from nest.edits.commands import PlaceAgain
from nest.edits.script import edited, read_steps
from nest.errors import VampYieldError
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.hide_drawing import read_hide_shape
from nest.job.read import read_job
from nest.job.scenarios import read_scenarios
from nest.job.schema import LayersSection
from nest.job.tablefile import read_table_file
from nest.job.template import read_template
from nest.ledger.exchange import export, import_all
from nest.ledger.lists import read_counted
from nest.ledger.rows import hide_rows, line_rows, roll_rows
from nest.ledger.store import open_ledger
from nest.outcomes import read_outcomes
from nest.planfile import plan_text, read_plan
from nest.registration.measured import read_measured
from nest.stretch.readings import read_stretch_test
from nest.text import hidden_in
from nest.verify import verify

LIBRARIES = ("Expecting ", "invalid literal", "unhashable", "object is not", "NoneType", "KeyError", "Traceback",
             "sqlite3", "sqlalchemy", "could not convert", "codec can't", "Exceeds the limit", "input_value",
             "list index", "constraint failed", "got <class", "has to be a string")
"""Words of libraries, which mean nothing to a planner."""


@functools.cache
def sound_files() -> dict[str, bytes]:
    """The files of the tiny job by name, its drawings bare."""
    with tempfile.TemporaryDirectory() as folder:
        tiny_job.write(Path(folder))
        return {
            path.name: bare(path.read_text(encoding="utf-8")).encode() if path.suffix == ".dxf" else path.read_bytes()
            for path in Path(folder).iterdir()
        }


def _put_job(folder: Path) -> None:
    for name, data in sound_files().items():
        (folder / name).write_bytes(data)


@functools.cache
def sound_job():
    """The tiny job, read."""
    with tempfile.TemporaryDirectory() as folder:
        _put_job(Path(folder))
        return read_job(Path(folder) / "job.toml")


@functools.cache
def sound_export() -> dict[str, str]:
    """The files of the export of a small ledger."""
    with tempfile.TemporaryDirectory() as folder:
        ledger = open_ledger(Path(folder) / "ledger.db", make=True)
        filled(ledger, 3, 2)
        export(ledger, Path(folder) / "export")
        return {path.name: path.read_text(encoding="utf-8") for path in sorted((Path(folder) / "export").iterdir())}


def bare(text: str) -> str:
    """A drawing with a short header and no tables: what is spoilt is an entity, and reading costs little."""
    entities = text[text.index("  2\nENTITIES"):]
    head = "  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n  1\nAC1015\n  9\n$INSUNITS\n 70\n4\n  0\nENDSEC\n"
    return f"{head}  0\nSECTION\n{entities[: entities.index('ENDSEC')]}ENDSEC\n  0\nEOF\n"


def _near(sound: Callable[[], str], separator: str = "") -> st.SearchStrategy[bytes]:
    """A sound text with numbers a little different, or with lines exchanged, doubled, gone or replaced."""
    return st.deferred(lambda: st.one_of(nudged(sound()), nudged(sound()), spoilt_lines(sound(), separator))).map(
        lambda text: text.encode("utf-8", "surrogatepass"))


@functools.cache
def sound_cut() -> str:
    """The cutting drawing of a hide, bare."""
    with tempfile.TemporaryDirectory() as folder:
        plan = box_plan()
        write_hide_dxf(plan, plan.layouts[0], Path(folder) / "c.dxf", stamp=stamp_of(plan, "2026-03-31T12:00:00Z"))
        return bare((Path(folder) / "c.dxf").read_text(encoding="utf-8"))


GEOJSON = """{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"part": "hide"}, "geometry": {"type": "Polygon", "coordinates":
 [[[0, 0], [1000, 0], [1000, 600], [0, 600], [0, 0]]]}},
{"type": "Feature", "properties": {"part": "zone", "class": 1, "stretch_deg": 90.0, "name": "butt"}, "geometry":
 {"type": "Polygon", "coordinates": [[[0, 0], [600, 0], [600, 600], [0, 600], [0, 0]]]}},
{"type": "Feature", "properties": {"part": "flaw", "kind": "scar", "severity": 2, "tears": true, "width_mm": 3.0},
 "geometry": {"type": "LineString", "coordinates": [[100, 100], [150, 100], [180, 140]]}}]}"""
"""A hide by RFC 7946."""

TABLE = """turn_deg = 90
tool_radius_mm = 0.5
cut_mm_s = 400
grain_down = true
curve_mm = 0.1
files = ["hpgl"]
"""

SCENARIOS = """[[allowances]]
name = "less"
style = "plain"
toe_more_mm = -2
side_more_mm = -1.5
[[quantities]]
pairs = 50
[[quantities]]
pairs = 90
[[rules]]
tolerance_deg = 5
hide_gap_mm = 1
[[rules]]
bias_leave = true
"""


def _drawing(read) -> Callable[[Path], None]:
    def reader(path: Path) -> None:
        findings = Findings()
        assert (read(Source(path, path.name), findings) is None) == bool(findings.problems)
        findings.raise_problems()

    return reader


def _plan(path: Path) -> None:
    plan = read_plan(path)
    if verify(plan).ok:
        account(plan)
    plan_text(plan)


def _job_with(name: str) -> Callable[[Path], None]:
    """The tiny job with one of its files exchanged for the one at the path."""
    def reader(path: Path) -> None:
        _put_job(path.parent)
        text = (path.parent / "job.toml").read_text(encoding="utf-8").replace(f'"{name}.csv"', f'"{path.name}"')
        (path.parent / "job.toml").write_text(text, encoding="utf-8")
        read_job(path.parent / "job.toml")

    return reader


def _job(path: Path) -> None:
    data = path.read_bytes()
    _put_job(path.parent)
    path.write_bytes(data)
    read_job(path)


def _edits(path: Path) -> None:
    steps = [step for step in read_steps(path) if not isinstance(step, PlaceAgain)]
    for _ in edited(History.of(State(box_plan())), steps, path.name):
        pass


@functools.cache
def _empty_ledger() -> bytes:
    """The file of a ledger that holds nothing yet; to make its tables takes as long as to fill them."""
    with tempfile.TemporaryDirectory() as folder:
        open_ledger(Path(folder) / "ledger.db", make=True)
        return (Path(folder) / "ledger.db").read_bytes()


def _import(path: Path) -> None:
    (path.parent / "ledger.db").write_bytes(_empty_ledger())
    ledger = open_ledger(path.parent / "ledger.db")
    import_all(ledger, path)
    with ledger.reading() as connection:
        for rows in (hide_rows, roll_rows, line_rows):
            list(rows(connection))
    export(ledger, path.parent / "again")


def _spoiled(path: Path) -> None:
    (path.parent / "cut.csv").write_text("material,state\nH1,cut\n")
    read_begun(box_plan(), path.parent / "cut.csv", path)


_LAYERS = LayersSection()
KINDS: dict[str, tuple[str, st.SearchStrategy, Callable[[Path], None]]] = {
    "template": ("t.dxf", st.one_of(grammar.dxf(), _near(lambda: sound_files()["plain.dxf"].decode())), _drawing(
        lambda source, findings: read_template(source, _LAYERS, "plain", "38", "mm", findings))),
    "hide": ("h.dxf", st.one_of(grammar.dxf(), _near(lambda: sound_files()["a1.dxf"].decode())), _drawing(
        lambda source, findings: read_hide_shape(source, _LAYERS, "mm", findings))),
    "cutting drawing": ("c.dxf", st.one_of(grammar.dxf(), _near(sound_cut)), read_cut_dxf),
    "GeoJSON": ("h.geojson", st.one_of(grammar.geojson(), _near(lambda: GEOJSON, ", ")), _drawing(
        lambda source, findings: read_hide_shape(source, _LAYERS, "mm", findings))),
    "job": ("job.toml", st.one_of(grammar.toml(tiny_job.JOB), _near(lambda: tiny_job.JOB, " = ")), _job),
    "table": ("t.toml", st.one_of(grammar.toml(), _near(lambda: TABLE, " = ")), read_table_file),
    "scenarios": ("s.toml", st.one_of(grammar.toml(), _near(lambda: SCENARIOS, " = ")),
                  lambda path: read_scenarios(path, sound_job())),
    "order": ("o.csv", grammar.csv_text("order"), _job_with("order")),
    "order workbook": ("o.xlsx", grammar.xlsx("order"), _job_with("order")),
    "hide index": ("i.csv", grammar.csv_text("hides"), _job_with("hides")),
    "hide workbook": ("i.xlsx", grammar.xlsx("hides"), _job_with("hides")),
    "plan": ("plan.json", st.one_of(
        grammar.PLANS, st.deferred(lambda: spoilt_json(plan_text(box_plan()))).map(str.encode),
        _near(lambda: plan_text(box_plan()), ": ")), _plan),
    "outcomes": ("o.csv", grammar.csv_text("outcomes"), lambda path: read_outcomes(box_plan(), path)),
    "record": ("r.csv", grammar.csv_text("record"), read_record),
    "picture": ("p.jpg", st.deferred(pictures), read_photograph),
    "commands": ("c.json", grammar.commands(), _edits),
    "what was cut": ("cut.csv", grammar.csv_text("cut"), lambda path: read_begun(box_plan(), path)),
    "what was spoiled": ("s.csv", grammar.csv_text("spoiled"), _spoiled),
    "points": ("p.csv", grammar.csv_text("points"), lambda path: read_measured(path, "mm", ("P1", "P2", "P3"))),
    "readings": ("r.xlsx", grammar.xlsx("readings"), read_stretch_test),
    "counted": ("n.csv", grammar.csv_text("counted"), read_counted),
    "ledger": ("export", st.deferred(lambda: grammar.export(sound_export())), _import),
}
"""By kind: the name of the file, what it may be, and its reader."""


def outcome(kind: str, data: bytes | dict[str, bytes]) -> str:
    """`read` or `refused`; anything else is an error of the reader, and raised."""
    name, _, reader = KINDS[kind]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        if isinstance(data, dict):
            path.mkdir()
            for part, content in data.items():
                (path / part).write_bytes(content)
        else:
            path.write_bytes(data)
        try:
            reader(path)
        except VampYieldError as error:
            for line in str(error).split("\n"):
                assert line and hidden_in(line) is None, f"no sentence: {line!r}"
                assert not any(words in line for words in LIBRARIES), f"a library's words: {line!r}"
            return "refused"
        return "read"
