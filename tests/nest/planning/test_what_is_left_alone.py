"""Beside the results only what the program made itself is touched: what somebody else put there stays as it is."""

import os
from functools import cache
from pathlib import Path

import pytest
from box_jobs import ROWS, hide, job, style

from nest.planfile import plan_text
from nest.planning.keeping import MARKER, Keeper, unfinished_folder, why_left_alone
from nest.planning.make import make_plan

JOB = job(styles=(style(),), order=(("box", "38", 4),), hides=[hide("H1"), hide("H2")])


@cache
def whole() -> str:
    """The plan of the job where nothing is kept."""
    return plan_text(make_plan(JOB, passes=1, engine=ROWS))


def run_with(folder) -> Keeper:
    """A whole run that keeps its layouts in `folder`; the plan is the same whatever stands there."""
    keeper = Keeper(folder, ROWS)
    assert plan_text(make_plan(JOB, passes=1, engine=keeper.keeping())) == whole()
    return keeper


def tree(folder) -> dict[str, str]:
    """Every file below a folder with its text, links as what they lead to."""
    return {
        path.relative_to(folder).as_posix(): os.readlink(path) if path.is_symlink() else path.read_text()
        for path in sorted(folder.rglob("*")) if path.is_symlink() or path.is_file()
    }


def folder_of_mine(place):
    """A folder with the user's own files, some named as the program's are."""
    place.mkdir()
    (place / "diary.txt").write_text("mine")
    (place / f"{'a' * 64}.layouts.json").write_text("mine too")


def link_to_mine(place):
    """A link to a folder of the user's."""
    folder_of_mine(place.with_name("elsewhere"))
    place.symlink_to("elsewhere")


def link_to_empty(place):
    """A link to an empty folder."""
    place.with_name("elsewhere").mkdir()
    place.symlink_to("elsewhere")


def link_to_nothing(place):
    """A link that leads nowhere."""
    place.symlink_to("nowhere")


def file_of_mine(place):
    """A file of the name."""
    place.write_text("mine")


@pytest.mark.parametrize("make", [folder_of_mine, link_to_mine, link_to_empty, link_to_nothing, file_of_mine])
def test_what_somebody_else_made_is_left_alone(tmp_path, make):
    """A folder, file or link of that name stays as it is to the last byte, and it is said before the work begins."""
    place = tmp_path / "out.unfinished"
    make(place)
    before = tree(tmp_path)
    keeper = Keeper(place, ROWS)
    assert str(place) in keeper.left_alone and keeper.left_alone.endswith(".")
    run_with(place).forget()
    assert tree(tmp_path) == before and run_with(place).reused == 0


def test_files_put_into_the_program_s_own_folder_stay(tmp_path):
    """Only what the program wrote goes; the folder stays for the sake of the rest."""
    place = tmp_path / "out.unfinished"
    run_with(place)
    assert (place / MARKER).is_file()
    (place / "note.txt").write_text("mine")
    again = run_with(place)
    assert again.reused > 0 and not again.left_alone
    again.forget()
    assert tree(place) == {"note.txt": "mine"}


def test_a_folder_left_by_a_version_without_a_mark_is_taken_up(tmp_path):
    """Where nothing but kept layouts is in it, it is the program's: used, and removed at the end."""
    place = tmp_path / "out.unfinished"
    run_with(place)
    (place / MARKER).unlink()
    again = run_with(place)
    assert again.reused > 0
    again.forget()
    assert not place.exists()


def test_a_link_put_in_while_a_run_goes_on_is_not_followed(tmp_path):
    """Layouts are written to the folder itself at each step, or not at all."""
    place, elsewhere = tmp_path / "out.unfinished", tmp_path / "elsewhere"
    elsewhere.mkdir()
    keeper = Keeper(place, ROWS)
    place.symlink_to(elsewhere)
    make_plan(JOB, passes=1, engine=keeper.keeping())
    keeper.forget()
    assert not list(elsewhere.iterdir()) and place.is_symlink()


def test_the_name_of_a_folder_that_is_no_name(tmp_path, monkeypatch):
    """Results in the current folder, or the one above, keep their layouts beside that folder too."""
    (tmp_path / "a" / "b").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "a" / "b")
    assert unfinished_folder(Path()) == tmp_path / "a" / "b.unfinished"
    assert unfinished_folder(Path("..")) == tmp_path / "a.unfinished"
    assert why_left_alone(tmp_path / "none") == why_left_alone(tmp_path / ("n" * 300)) == ""
    run_with(tmp_path / ("n" * 300)).forget()
