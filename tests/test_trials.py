"""The records of experiments, the program that lists them, and what the guide and the constants say of them."""

import re
import subprocess
import sys
import tomllib
from datetime import date
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
sys.path.append(str(ROOT / "tests" / "bench"))

import record  # noqa: E402
import trials  # noqa: E402

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
GOOD = """question = "Does it help?"
module = "nest/rules.py"
change = "this"
baseline = "that"
metric = "yield"
unit = "%"
values = [
    {case = "with", value = [66.5, 66.0], error = 0.2, n = 2},
    {case = "three runs, range", value = [-1.0, 2.0], unit = "points"},
]
command = "not recorded"
commit = "0123abc"
date = 2026-01-02
verdict = "kept"
note = "One. Two, of 1.5 mm."
"""


@pytest.fixture(scope="module")
def records():
    """All records; reading them checks fields, types, numbers and what supersedes them."""
    return trials.read_trials()


def test_records_are_numbered_without_a_gap(records):
    """Numbers run from 1, each once, so that a new record takes the next one."""
    assert list(records) == list(range(1, len(records) + 1))


def test_modules_of_records_exist(records):
    """Every record is about a file of the project."""
    assert not [(n, one["module"]) for n, one in records.items() if not (ROOT / one["module"]).is_file()]


def test_commands_of_records_exist(records):
    """A command on record begins with a bench there is, and names no path of a machine."""
    for number, one in records.items():
        if one["command"] != trials.NOT_RECORDED:
            found = re.match(r"python (tests/bench/\w+\.py)(?: |$)", one["command"])
            assert found and (ROOT / found[1]).is_file(), number
            assert " /" not in one["command"], number


def test_no_record_is_superseded_in_a_circle(records):
    """Going from record to record by `superseded_by` ends at one that is not superseded."""
    for number in records:
        seen = {number}
        while (number := records[number].get("superseded_by")) is not None:
            assert number not in seen
            seen.add(number)


@pytest.mark.parametrize(("old", "new", "said"), [
    ('unit = "%"\nvalues', "values", "has no unit"),
    ('verdict = "kept"', 'verdict = "perhaps"', "the verdict is"),
    ('verdict = "kept"', 'verdict = "kept"\nmood = "good"', "has mood"),
    ("value = [66.5, 66.0]", 'value = "much"', "wrong type"),
    ("value = [66.5, 66.0]", "value = []", "not a number"),
    ("value = [66.5, 66.0]", "value = [true]", "not a number"),
    ("value = [-1.0, 2.0]", "value = [2.0, -1.0]", "least and its most"),
    ("n = 2", "n = 0", "n below 1"),
    ("n = 2", "n = true", "wrong type"),
    ("error = 0.2", "error = -0.2", "error below 0"),
    ("date = 2026-01-02", 'date = "2026-01-02"', "wrong type"),
    ('commit = "0123abc"', 'commit = "last week"', "commit is"),
    ("of 1.5 mm.", "of 1.5 mm. Three.", "two sentences"),
    ('question = "Does it help?"', 'question = ""', "empty"),
    ('verdict = "kept"', 'verdict = "kept"\nsuperseded_by = 9', "no other record"),
    ('verdict = "kept"', 'verdict = "kept"\nsuperseded_by = 1', "no other record"),
])
def test_a_record_that_is_wrong_is_refused(tmp_path, old, new, said):
    """Each fault of a record is named in a sentence that names the record; without it the record is read."""
    path = tmp_path / "001-help.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert list(trials.read_trials(tmp_path)) == [1]
    assert old in GOOD
    path.write_text(GOOD.replace(old, new), encoding="utf-8")
    with pytest.raises(ValueError, match=said) as fault:
        trials.read_trials(tmp_path)
    assert "001" in str(fault.value)


def test_two_records_of_one_number_and_odd_names_are_refused(tmp_path):
    """Numbers are unique, and a file that is not called NNN-slug.toml is no record."""
    for name in ("001-help.toml", "001-again.toml"):
        (tmp_path / name).write_text(GOOD, encoding="utf-8")
    with pytest.raises(ValueError, match="another record 001"):
        trials.read_trials(tmp_path)
    (tmp_path / "001-again.toml").rename(tmp_path / "Again.toml")
    with pytest.raises(ValueError, match="NNN-slug"):
        trials.read_trials(tmp_path)


def test_figures_in_words():
    """A figure shows case, runs, error and unit; a range its ends; a count no unit; a minus is a minus sign."""
    one, two = tomllib.loads(GOOD)["values"]
    assert trials.figure(one, "%") == "with: 66.5, 66.0 ± 0.2 %"
    assert trials.figure(two, "%") == "three runs: −1.0 to 2.0 points"
    assert trials.figure({"case": "solved, of three", "value": 3}, "count") == "solved, of three: 3"
    assert trials.figure({"case": "range", "value": [1e-7, 2]}, "mm") == "1e-07 to 2 mm"


def listed(*words):
    """What the program prints, and its exit code."""
    done = subprocess.run([sys.executable, ROOT / "tests" / "bench" / "trials.py", *words], cwd=ROOT,
                          capture_output=True, text=True, check=False, encoding="utf-8")
    return done.stdout, done.stderr, done.returncode


def test_the_list_is_filtered_by_words(records):
    """All records in a line each; with words those that hold every word; one whole; an unknown number ends with 2."""
    assert len(listed()[0].splitlines()) == len(records)
    found = listed("Hides", "LATTICES")[0].splitlines()
    assert found and all("lattices" in line.lower() for line in found) and len(found) < len(records)
    shown = listed("--show", "25")[0]
    assert shown.startswith("# 025-") and tomllib.loads(shown)["question"] == records[25]["question"]
    assert listed("--show", "999")[2] == 2


def test_a_bench_writes_a_record_that_can_be_read(tmp_path, monkeypatch):
    """What `--record` writes takes the next number, passes the check, and holds figures, command and date as given."""
    folder = tmp_path / "trials"
    folder.mkdir()
    (folder / "001-help.toml").write_text(GOOD, encoding="utf-8")
    (tmp_path / "rows.jsonl").touch()
    monkeypatch.setattr(sys, "argv", ["/somewhere/bench/strips.py", str(tmp_path), "--seeds", "2", "--record", "new",
                                      str(tmp_path / "rows.jsonl"), "/nowhere/new.jsonl"])
    values = [record.mean_of("mean", [1.0, 2.0, 4.5]), record.Value("runs", (1, 2.5), unit="mm")]
    path = record.write_record("new", question='A "quoted" question: ß?', module="nest/rules.py", baseline="none",
                               metric="yield", unit="%", values=values, folder=folder)
    assert path.name == "002-new.toml"
    read = trials.read_trials(folder)
    assert read[2]["question"] == 'A "quoted" question: ß?' and read[2]["verdict"] == "cannot tell"
    assert read[2]["command"] == "python tests/bench/strips.py DATA --seeds 2 rows.jsonl new.jsonl"
    assert isinstance(read[2]["date"], date)
    # Standard error of the mean by its textbook formula: variance ((1.5² + 0.5² + 2²) ÷ 2) = 3.25, √(3.25 ÷ 3).
    assert read[2]["values"] == [
        {"case": "mean", "value": 2.5, "error": 1.041, "n": 3}, {"case": "runs", "value": [1, 2.5], "unit": "mm"},
    ]


def test_every_record_is_written_as_it_stands(records):
    """One form for all: records by hand are as the benches would write them."""
    for number in records:
        path = next(trials.FOLDER.glob(f"{number:03d}-*.toml"))
        assert record.text_of(records[number]) == path.read_text(encoding="utf-8"), path.name


def test_the_table_of_figures_in_the_guide_is_up_to_date(records):
    """The table in DEVELOPERS.md is what `trials.py --table` prints."""
    told = re.search(r"<!-- figures -->\n(.*)\n<!-- end of figures -->", GUIDE, flags=re.DOTALL)
    assert told[1] == trials.table(records)


def test_records_cited_in_code_and_guide_exist(records):
    """Every "trial 012" in the packages, and every number in brackets in the guide, is a record."""
    cited = set()
    for path in [*(ROOT / "nest").rglob("*.py"), *(ROOT / "geometry").rglob("*.py")]:
        for found in re.findall(r"[Tt]rials?\s+(\d{3}(?:(?:,| and| to)\s+\d{3})*)", path.read_text(encoding="utf-8")):
            cited |= {int(number) for number in re.findall(r"\d{3}", found)}
    assert len(cited) > 20
    for found in re.findall(r"\((?:trials? )?(\d{3}(?:(?:,| and| to) \d{3})*)\)", GUIDE):
        cited |= {int(number) for number in re.findall(r"\d{3}", found)}
    assert cited <= records.keys()


def test_twenty_questions_lead_to_files():
    """The guide answers at least twenty questions of a newcomer, each with a file that exists."""
    section = GUIDE.partition("## Twenty questions")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| ([^|]+\?) \| `([\w./]+)` \|$", section, flags=re.MULTILINE)
    assert len(rows) >= 20 and len({question for question, _ in rows}) == len(rows)
    assert not [file for _, file in rows if not (ROOT / file).is_file()]


def test_the_guide_of_contributors_stays_short():
    """At most 300 lines: what is added takes the place of something."""
    assert GUIDE.count("\n") <= 300
