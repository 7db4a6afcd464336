"""Which jobs a batch holds, what is finished, and what is run again."""

from dataclasses import replace
from pathlib import Path

import pytest

from nest.batch.jobs import (
    BatchJob,
    BatchLimits,
    BatchRow,
    check_places,
    counted,
    find_jobs,
    fingerprint,
    finished_row,
    write_record,
)
from nest.batch.task import run_one
from nest.cli.batch import check_summary, code_of_rows, summary_table
from nest.cli.codes import Exit
from nest.errors import PlanProblem
from nest.report.tables import write_csv


@pytest.fixture
def job(tmp_path) -> BatchJob:
    """A job whose results are there."""
    (tmp_path / "jobs").mkdir()
    path = tmp_path / "jobs" / "a.toml"
    path.write_text("name = 'a'")
    out = tmp_path / "out" / "a"
    out.mkdir(parents=True)
    (out / "plan.json").write_text("{}")
    return BatchJob("a", path, out)


def test_jobs_go_by_their_file_or_their_folder(tmp_path):
    """Job files of the folder and its direct subfolders are found, each with its own name; others are passed over."""
    for name in ("one.toml", "boots/job.toml", "boots/other.toml", "one/job.toml", "deep/er/job.toml", "note.txt"):
        (tmp_path / "jobs" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "jobs" / name).write_text("")
    (tmp_path / "jobs" / "boots" / "scenarios.toml").write_text("place = 1\n[[rolls]]\nwidth_mm = 1400\n")
    (tmp_path / "jobs" / "broken.toml").write_text("name = ")
    found = find_jobs(tmp_path / "jobs", tmp_path / "out")
    assert {job.name: job.path.relative_to(tmp_path / "jobs").as_posix() for job in found} == {
        "boots": "boots/job.toml", "boots-other": "boots/other.toml", "one": "one.toml", "one-2": "one/job.toml",
        "broken": "broken.toml",
    }
    assert len({job.out for job in found}) == 5


@pytest.mark.parametrize(("folder", "out", "words"), [
    ("none", "out", "no folder"), ("empty", "out", "no job files"), ("empty", "empty/out", "beside it"),
])
def test_folders_that_cannot_be_used_are_refused(tmp_path, folder, out, words):
    """A missing folder, one without jobs, and results among the jobs each give one sentence."""
    (tmp_path / "empty").mkdir()
    with pytest.raises(PlanProblem, match=words):
        find_jobs(tmp_path / folder, tmp_path / out)


def test_a_finished_job_is_known_until_something_changes(job):
    """A record counts for the same files and limits alone, and only while the results are there."""
    limits = BatchLimits(seconds=5.0)
    mark, row = fingerprint(job, limits), BatchRow("a", "met", hides_used=2, cost="12.50")
    assert finished_row(job, mark) is None
    write_record(job, mark, row)
    assert finished_row(job, fingerprint(job, limits)) == row
    assert finished_row(job, fingerprint(job, replace(limits, seed=2))) is None
    (job.path.parent / "order.csv").write_text("size,pairs")
    assert finished_row(job, fingerprint(job, limits)) is None
    (job.path.parent / "order.csv").unlink()
    (job.out / "plan.json").unlink()
    assert finished_row(job, fingerprint(job, limits)) is None


def test_results_that_were_changed_or_cut_short_are_made_again(job):
    """Every file of the results counts, byte for byte; a file of the user's beside them does not."""
    mark, row, sheet = fingerprint(job, BatchLimits()), BatchRow("a", "met"), job.out / "sheets" / "H01.pdf"
    sheet.parent.mkdir()
    sheet.write_bytes(b"%PDF whole")
    write_record(job, mark, row)
    (job.out / "note.txt").write_text("mine")
    assert finished_row(job, mark) == row
    sheet.write_bytes(b"%PDF who")
    assert finished_row(job, mark) is None
    sheet.write_bytes(b"%PDF whole")
    assert finished_row(job, mark) == row
    sheet.unlink()
    assert finished_row(job, mark) is None


@pytest.mark.parametrize("text", ["", "{", "[]", '{"fingerprint": "x"}', '{"fingerprint": "x", "row": {"no": 1}}'])
def test_a_damaged_record_is_no_record(job, text):
    """A record cut short or changed by hand makes the job run again."""
    job.record.write_text(text)
    assert finished_row(job, "x") is None


def test_the_exit_code_is_that_of_the_worst_job():
    """A fault outweighs a wrong plan, that a refused job, that a short one."""
    rows = tuple(BatchRow(state, state) for state in ("met", "short", "refused", "wrong", "failed"))
    codes = [code_of_rows(rows[:n]) for n in range(1, 6)]
    assert codes == [Exit.DONE, Exit.SHORT, Exit.BAD_INPUT, Exit.WRONG, Exit.FAULT]
    assert counted(rows) == {"met": 1, "short": 1, "wrong": 1, "refused": 1, "failed": 1}
    assert not BatchRow("a", "refused").finished


def test_paths_are_plain_data():
    """A job can be sent to another process."""
    import pickle

    job = BatchJob("a", Path("a.toml"), Path("out/a"))
    assert pickle.loads(pickle.dumps(job)) == job


def link(place):
    """A link where a file should be."""
    place.symlink_to("elsewhere")


def folder(place):
    """A folder where a file should be."""
    place.mkdir()


def text(place):
    """A file of the user's."""
    place.write_text("mine")


@pytest.mark.parametrize("make", [link, folder, text])
def test_a_record_in_the_place_of_something_else_is_refused_before_the_work(tmp_path, make):
    """The job is refused in one sentence, and what stands there stays."""
    job = BatchJob("a", tmp_path / "a.toml", tmp_path / "out" / "a")
    (tmp_path / "out").mkdir()
    make(job.record)
    with pytest.raises(PlanProblem, match=r"a\.done\.json"):
        check_places(job)
    row = run_one(job, BatchLimits(passes=1), "x")
    assert row.state == "refused" and "rename it" in row.message
    assert job.record.is_symlink() or job.record.is_dir() or job.record.read_text() == "mine"


def test_results_of_somebody_else_are_refused_before_the_work(tmp_path):
    """A folder with other files, and a file, are no place for results."""
    job = BatchJob("a", tmp_path / "a.toml", tmp_path / "out" / "a")
    job.out.mkdir(parents=True)
    check_places(job)
    (job.out / "mine.txt").write_text("mine")
    assert "holds files that no earlier run wrote" in run_one(job, BatchLimits(passes=1), "x").message


@pytest.mark.parametrize("name", ["summary.csv", "summary.xlsx"])
def test_a_summary_of_somebody_else_is_not_written_over(tmp_path, name):
    """Refused before the work; the batch's own, from before, is written again."""
    (tmp_path / name).write_text("date,hours\n")
    with pytest.raises(PlanProblem, match=name):
        check_summary(tmp_path)
    write_csv(summary_table(()), tmp_path / "summary.csv")
    (tmp_path / "summary.xlsx").write_text("as before")
    check_summary(tmp_path)
