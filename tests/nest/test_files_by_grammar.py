"""Files made up by grammar are read, or refused in sentences; what such files found once is kept by its seed."""

import json

import pytest
from grammar_readers import KINDS, outcome, sound_cut, sound_export
from hypothesis import HealthCheck, given, settings
from mutations import EXAMPLES
from tiny_plans import box_plan

from nest.cutplan.readback import read_cut_dxf
from nest.errors import InputProblems, LedgerProblem, PlanProblem
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.table import read_table
from nest.ledger.exchange import import_all
from nest.ledger.store import open_ledger
from nest.planfile import plan_from_text, plan_text


@pytest.mark.parametrize("kind", KINDS)
def test_files_by_grammar(kind):
    """A few of every kind; `tests/bench/fuzz.py` makes any number."""
    @settings(max_examples=max(2, EXAMPLES // 10), deadline=None, suppress_health_check=list(HealthCheck))
    @given(KINDS[kind][1])
    def one(data):
        assert outcome(kind, data) in ("read", "refused")

    one()


def test_sound_files_are_read():
    """What the grammar starts from is right: the export of the ledger is read whole."""
    assert outcome("ledger", {name: text.encode() for name, text in sound_export().items()}) == "read"


def test_an_amount_beyond_its_range_in_a_plan_is_refused():
    """Amounts are exact numbers that JSON does not know: a margin of 150 % is refused in a sentence all the same."""
    data = json.loads(plan_text(box_plan()))
    data["settings"]["costing"]["margin_percent"] = "150"
    with pytest.raises(InputProblems, match=r'margin_percent: expected a percentage below 100, or null, found "150"'):
        plan_from_text(json.dumps(data))


@pytest.mark.parametrize(("words", "name"), [("Cut lines at least", "distances"), ("Hide ", "hide")])
def test_a_sentence_of_the_legend_on_another_layer_is_refused(words, name, tmp_path):
    """The legend is what stands on its layer; a sentence that was moved elsewhere is missing there."""
    text = sound_cut()
    at = text.index(f"  1\n{words}")
    layer = text.rindex("  8\nREF_LEGEND\n", 0, at)
    (tmp_path / "c.dxf").write_text(text[:layer] + "  8\nREF_LABELS\n" + text[layer + len("  8\nREF_LEGEND\n"):])
    with pytest.raises(PlanProblem, match=f"the sentence on its {name} is not on its legend's layer, REF_LEGEND; wr"):
        read_cut_dxf(tmp_path / "c.dxf")


@pytest.mark.parametrize(("text", "words"), [
    ('size,pairs\n"38,4\n', "a quote that is never closed"),
    ('size,pairs\n"38"x,4\n', "letters after a closing quote"),
    ("size,pairs\n38,4\rx,4\n", "a line that ends within a cell"),
])
def test_faults_of_csv_are_said_in_plain_words(text, words, tmp_path):
    """The words of the CSV reader, such as a universal-newline mode, mean nothing to whoever keeps the list."""
    path, findings = tmp_path / "o.csv", Findings()
    path.write_bytes(text.encode())
    assert read_table(Source(path, path.name), ("size", "pairs"), (), findings) is None
    (problem,) = findings.problems
    assert problem.found == words


def _hide(**changed: str) -> dict[str, bytes]:
    """The export with cells of its first hide changed."""
    files = {name: text.encode() for name, text in sound_export().items()}
    head, first, *rest = sound_export()["hide.csv"].splitlines()
    cells = dict(zip(head.split(","), first.split(","), strict=True)) | changed
    files["hide.csv"] = "\n".join([head, ",".join(cells.values()), *rest, ""]).encode()
    return files


SPOILT = {
    "number": (_hide(quality="one"), r"hide.csv, line 2: expected a whole number for quality, found 'one'"),
    "not a number": (_hide(area_mm2="nan"), r"expected a number for area_mm2, found 'nan'"),
    "none": (_hide(code="\\N"), r"expected a value for code, found none"),
    "hidden": (_hide(code="H\u202e1"), r"expected text without anything hidden for code, found the character U\+202E"),
    "twice": (_hide(code="H2"), r"hide.csv, rows 1 to 3: expected rows that fit the other tables, each once"),
    "leads nowhere": (_hide(body_id="99"), r"expected rows that fit the other tables"),
    "not UTF-8": (_hide() | {"hide.csv": b"id,code\n1,\xff\n"}, r"hide.csv"),
    "no column": (_hide() | {"hide.csv": b"id,leather\n1,calf\n"}, r"expected columns of hide, found no code"),
    "no version": (_hide() | {"ledger_version.csv": b"id,at\n1,x\n"}, r"found no version"),
    "empty": (_hide() | {"change.csv": b""}, r"expected columns of change"),
    "a cell less": (_hide() | {"change.csv": b"id,at,said_by\n1,x\n"}, r"change.csv, line 2: expected 3 cells"),
    "open quote": (_hide() | {"change.csv": b'id,at\n1,"x\n'}, r"change.csv, from line \d+ on: expected CSV in UTF-8"),
}


@pytest.mark.parametrize(("files", "words"), SPOILT.values(), ids=SPOILT)
def test_a_spoilt_export_is_refused_in_a_sentence(files, words, tmp_path):
    """File, line, what and remedy; the ledger stays empty, so that the sound export goes in afterwards."""
    ledger = open_ledger(tmp_path / "ledger.db", make=True)
    for folder, content in (("bad", files), ("good", {n: t.encode() for n, t in sound_export().items()})):
        (tmp_path / folder).mkdir()
        for name, data in content.items():
            (tmp_path / folder / name).write_bytes(data)
    with pytest.raises((InputProblems, LedgerProblem), match=words) as caught:
        import_all(ledger, tmp_path / "bad")
    assert len(str(caught.value).splitlines()) == 1
    assert import_all(ledger, tmp_path / "good")["hide"] == 3
