"""Files and folders appear whole or not at all."""

import pytest

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
