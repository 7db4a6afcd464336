"""Files and folders appear whole or not at all."""

import os
import resource
import subprocess
import sys
from pathlib import Path
from unittest.mock import Mock

import pytest

from nest import atomic
from nest.atomic import atomic_folder, atomic_path, parts_of
from nest.errors import PlanProblem


def listing(folder):
    """Names in a folder, hidden ones too."""
    return sorted(path.name for path in folder.iterdir())


def test_file_replaces_the_old_one_only_when_complete(tmp_path):
    """A block that fails leaves the old file as it was, and no spare part beside it."""
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(RuntimeError), atomic_path(target) as part:
        part.write_text("half")
        raise RuntimeError
    assert target.read_text() == "old"
    with atomic_path(target) as part:
        assert part.suffix == ".txt"
        part.write_text("new")
        assert target.read_text() == "old"
    assert target.read_text() == "new"
    assert listing(tmp_path) == ["a.txt"]


def test_file_in_a_missing_folder_is_one_clear_sentence(tmp_path):
    """A folder that is not there, or a folder where a file should be, is a plan problem."""
    with pytest.raises(PlanProblem, match="does not exist"), atomic_path(tmp_path / "no" / "a.txt"):
        pass
    with pytest.raises(PlanProblem, match="is a folder"), atomic_path(tmp_path):
        pass


def test_folder_appears_whole(tmp_path):
    """Nothing is seen under the name until the block has ended; missing parents are made."""
    target = tmp_path / "deep" / "out"
    with atomic_folder(target, marker="plan.json") as part:
        (part / "plan.json").write_text("{}")
        assert not target.exists()
    assert listing(target) == ["plan.json"]
    assert listing(target.parent) == ["out"]


def test_failed_folder_leaves_nothing(tmp_path):
    """A block that fails leaves the earlier folder as it was and nothing beside it."""
    target = tmp_path / "out"
    with atomic_folder(target, marker="plan.json") as part:
        (part / "plan.json").write_text("first")
    with pytest.raises(RuntimeError), atomic_folder(target, marker="plan.json") as part:
        (part / "plan.json").write_text("second")
        raise RuntimeError
    assert (target / "plan.json").read_text() == "first"
    assert listing(tmp_path) == ["out"]


@pytest.mark.parametrize("spare", range(4))
def test_a_failed_folder_is_removed_where_few_files_can_be_opened(tmp_path, spare):
    """The cause may be that no more can be: a folder is walked through with two or three open at once, or with one."""
    limits = resource.getrlimit(resource.RLIMIT_NOFILE)
    try:
        with pytest.raises(OSError, match="Too many"), atomic_folder(tmp_path / "out", marker="plan.json") as part:
            (part / "deep/deeper").mkdir(parents=True)
            (part / "deep/deeper/file.txt").write_text("whole")
            (part / "file.txt").write_text("whole")
            free = os.dup(0)
            os.close(free)
            resource.setrlimit(resource.RLIMIT_NOFILE, (free + spare, limits[1]))
            raise OSError(24, "Too many open files")
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, limits)
    assert list(tmp_path.iterdir()) == []


def test_earlier_folder_is_kept_whole_under_another_name(tmp_path):
    """The earlier output, with what a user put into it, is renamed and neither mixed nor deleted."""
    target = tmp_path / "out"
    for text in ("first", "second", "third"):
        with atomic_folder(target, marker="plan.json") as part:
            (part / "plan.json").write_text(text)
        if text == "first":
            (target / "note.txt").write_text("mine")
    assert listing(tmp_path) == ["out", "out.old-1", "out.old-2"]
    assert (target / "plan.json").read_text() == "third"
    assert listing(tmp_path / "out.old-1") == ["note.txt", "plan.json"]


def test_foreign_folder_and_file_are_refused_untouched(tmp_path):
    """A folder with other files, or a file, is never taken over; an empty folder is."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("dear")
    (tmp_path / "file").write_text("x")
    for name in ("mine", "file"):
        with pytest.raises(PlanProblem, match="name a"), atomic_folder(tmp_path / name, marker="plan.json"):
            pytest.fail("the block must not run")
    (tmp_path / "empty").mkdir()
    with atomic_folder(tmp_path / "empty", marker="plan.json") as part:
        (part / "plan.json").write_text("{}")
    assert listing(tmp_path) == ["empty", "file", "mine"]
    assert listing(tmp_path / "mine") == ["letter.txt"]


def test_a_link_that_leads_nowhere_is_in_the_way_of_no_results(tmp_path):
    """The earlier folder gets the next free number, and the link stays."""
    target, link = tmp_path / "out", tmp_path / "out.old-1"
    link.symlink_to("nowhere")
    for text in ("first", "second"):
        with atomic_folder(target, marker="plan.json") as part:
            (part / "plan.json").write_text(text)
    assert (target / "plan.json").read_text() == "second" and link.is_symlink()
    assert (tmp_path / "out.old-2" / "plan.json").read_text() == "first"


def test_parts_of_a_target_are_its_own(tmp_path):
    """A folder that is being filled is found by its target's name: no other run's, and nothing of a user's."""
    for name in (".mine.part", ".other.0123abcd.part", ".out.old.part", "out.0123abcd.part"):
        (tmp_path / name).mkdir()
    (tmp_path / ".out.89abcdef.part").write_text("a file")
    with atomic_folder(tmp_path / "out", marker="plan.json") as part:
        assert parts_of(tmp_path / "out") == {part}
        assert parts_of(tmp_path / "ou") == set()
    assert parts_of(tmp_path / "out") == set() and parts_of(tmp_path / "no" / "out") == set()


def test_long_names_leave_room_for_the_part(tmp_path):
    """A folder whose name is as long as the disk allows can still be written."""
    with atomic_folder(tmp_path / ("n" * 250), marker="plan.json") as part:
        (part / "plan.json").write_text("{}")
    assert listing(tmp_path) == ["n" * 250]


WRITING = """
import sys, time
from pathlib import Path
from unittest.mock import Mock
from nest.atomic import atomic_folder, atomic_path
path = Path(sys.argv[1])
with atomic_path(path / "list.csv") as part, atomic_folder(path / "out", marker="plan.json") as folder:
    part.write_text("half")
    (folder / "plan.json").write_text("half")
    print("writing", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def writing(tmp_path):
    """A process that is in the middle of writing a file and a folder."""
    with subprocess.Popen([sys.executable, "-c", WRITING, tmp_path], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline() == "writing\n"
        yield process
        process.kill()


def write_both(folder: Path) -> None:
    """What the process writes, written whole."""
    with atomic_path(folder / "list.csv") as part:
        part.write_text("whole")
    with atomic_folder(folder / "out", marker="plan.json") as part:
        (part / "plan.json").write_text("whole")


def test_what_a_killed_process_left_is_swept_by_the_next_that_writes_there(tmp_path, writing):
    """Nothing half-written stays for ever, and nobody else's part is touched."""
    stranger = tmp_path / ".other.csv.0123abcd.part.csv"
    stranger.write_text("somebody else's")
    writing.kill()
    writing.wait()
    assert len(listing(tmp_path)) == 3
    write_both(tmp_path)
    assert listing(tmp_path) == [stranger.name, "list.csv", "out"]


def test_what_another_process_is_writing_is_left_alone(tmp_path, writing):
    """Two that write to one place at once do not take each other's parts away."""
    before = set(listing(tmp_path))
    write_both(tmp_path)
    assert writing.poll() is None
    assert set(listing(tmp_path)) == before | {"list.csv", "out"}


def test_writing_many_files_into_a_new_folder_takes_no_longer_for_each(tmp_path, monkeypatch):
    """A folder that is being filled is not looked through for every file in it."""
    looked = []
    monkeypatch.setattr("nest.atomic._parts", lambda *args: looked.append(args) or set())
    with atomic_folder(tmp_path / "out", marker="0.csv") as folder:
        (folder / "sheets").mkdir()
        for number in range(20):
            with atomic_path(folder / "sheets" / f"{number}.csv") as part:
                part.write_text("x")
    assert len(looked) == 1


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_is_to_be_new_takes_nobodys_place(tmp_path, monkeypatch, links):
    """It appears whole; where another has its name meanwhile, that one stays, on disks without links too."""
    if not links:
        monkeypatch.setattr(atomic.os, "link", Mock(side_effect=PermissionError("no links here")))
    target = tmp_path / "one.txt"
    with atomic_path(target, new=True) as part:
        part.write_text("first")
    assert target.read_text() == "first"
    with pytest.raises(FileExistsError), atomic_path(target, new=True) as part:
        part.write_text("second")
    assert target.read_text() == "first" and listing(tmp_path) == ["one.txt"]
