"""The revised job file: the figures changed, every other line and every comment as it was."""

import shutil
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from nest.cli.demo import copy_demo
from nest.errors import PlanProblem
from nest.job.read import read_job
from nest.trial.jobfiles import files_of_job
from nest.trial.jobtext import revised_text
from nest.trial.revise import RejectRate, StyleRevision


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo job, read."""
    path = copy_demo(tmp_path_factory.mktemp("demo") / "job")
    return path, read_job(path)


def revision(job, name="Linden boot", by_size=(), **changes):
    """A revision of one style of the demo."""
    style = next(style for style in job.styles if style.name == name)
    styles = {key: changes.pop(key) for key in ("widening_percent", "reject_percent") if key in changes}
    new = replace(style, allowances=replace(style.allowances, by_size=by_size, **changes), **styles)
    return StyleRevision(style, new, (), (), (), RejectRate(1, 0, 0.0, 1.0, ()), ())


def test_only_the_figures_change(demo):
    """Two lines differ where two figures do; comments stay, on those lines too."""
    path, job = demo
    text = path.read_text(encoding="utf-8").replace("toe_mm = 14\n", "toe_mm = 14   # to be proved\n", 1)
    new = revised_text(text, (revision(job, toe_mm=11.5, reject_percent=4.5),))
    changed = [(a, b) for a, b in zip(text.splitlines(), new.splitlines(), strict=True) if a != b]
    assert changed == [
        ("reject_percent = 3", "reject_percent = 4.5"),
        ("toe_mm = 14   # to be proved", "toe_mm = 11.5   # to be proved"),
    ]
    assert revised_text(text, (revision(job),)) == text
    # The second style's section is not taken for the first's.
    new = revised_text(text, (revision(job, "Alder derby", back_mm=9.0),))
    assert tomllib.loads(new)["style"][1]["allowances"]["back_mm"] == 9.0


def test_sizes_of_their_own(demo):
    """Allowances of single sizes are added, changed, and read back as they were meant."""
    path, job = demo
    text = path.read_text(encoding="utf-8")
    own = (("36", 14.0, 12.0, 11.0), ("37", 14.0, 12.5, 11.0))
    once = revised_text(text, (revision(job, by_size=own),))
    assert len(once.splitlines()) == len(text.splitlines()) + 1
    folder = path.parent.with_name("again")
    shutil.copytree(path.parent, folder, dirs_exist_ok=True)
    (folder / "job.toml").write_text(once, encoding="utf-8")
    read = read_job(folder / "job.toml")
    assert read.styles[0].allowances.by_size == own
    twice = revised_text(once, (revision(read, by_size=own[:1]),))
    assert len(twice.splitlines()) == len(once.splitlines())
    assert "by_size = {}" in revised_text(once, (revision(read),))


def test_a_key_that_is_not_there_is_added(demo):
    """A default that the file left out is written into its style."""
    path, job = demo
    text = path.read_text(encoding="utf-8").replace("widening_percent = 2.0\n", "")
    new = tomllib.loads(revised_text(text, (revision(job, widening_percent=2.5),)))
    assert [style.get("widening_percent") for style in new["style"]] == [2.5, 1.5]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_stay(demo, end):
    """Line ends are those of the file."""
    path, job = demo
    text = path.read_text(encoding="utf-8").replace("\n", end)
    new = revised_text(text, (revision(job, toe_mm=11.0),))
    assert new.count(end) == text.count(end) and new.count("\n") == text.count("\n")


def test_what_cannot_be_changed_safely_is_refused(demo):
    """A section written within one line is left alone, and said."""
    path, job = demo
    text = path.read_text(encoding="utf-8")
    head, rest = text.split("[style.allowances]\n", 1)
    lines, after = rest.split("\n\n", 1)
    inline = "allowances = { " + ", ".join(lines.splitlines()) + " }\n\n"
    sections = head.split("[style.grading]")
    text = "[style.grading]".join([*sections[:-1][:-1], sections[-2] + inline, sections[-1]]) + after
    assert tomllib.loads(text)["style"][0]["allowances"]["toe_mm"] == 14
    with pytest.raises(PlanProblem, match="one key a line"):
        revised_text(text, (revision(job, toe_mm=11.0),))


def test_files_of_a_job(demo):
    """Every file that the job names, and every drawing of its hide index; nothing else of the folder."""
    path, job = demo
    (path.parent / "letter.txt").write_text("private", encoding="utf-8")
    found = {str(Path(file).as_posix()) for file in files_of_job(path)}
    assert {"order.csv", "hides.csv", "linden-39.dxf", "alder-39.dxf", "hides/H01.dxf", "hides/H12.dxf"} <= found
    assert len(found) == 4 + len(job.hides) and "letter.txt" not in found


@pytest.mark.parametrize("length", [200, 300, 3000, 30_000])
def test_a_long_note_of_a_job_names_no_file(tmp_path, length):
    """A text that cannot be a path is no file, however long, with slashes or without; the files beside it are found."""
    (tmp_path / "order.csv").write_text("size,pairs\n", encoding="utf-8")
    for note in ("skive " * (length // 6), "skive/" * (length // 6), "skive" * (length // 5)):
        text = f'order = "order.csv"\nnotes = ["{note}", "", "\\u0000"]\n'
        (tmp_path / "job.toml").write_text(text, encoding="utf-8")
        assert files_of_job(tmp_path / "job.toml") == (Path("order.csv"),)
