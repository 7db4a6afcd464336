"""What stands where a journal of edits is to be, and what stands in it."""

import os
import resource
import signal
import zlib

import pytest
from edited_plans import two_hides

from nest.edits import EditProblem, Journal
from nest.edits.commands import Hold
from nest.edits.history import played


@pytest.mark.parametrize(("kind", "words"), [
    ("pipe", "found a pipe"), ("folder", "found a folder"), ("link out", "is a link to"), ("link to none", "is a link"),
])
def test_a_journal_is_a_plain_file_of_its_own(kind, words, tmp_path):
    """A pipe would wait, and through a link a file elsewhere would be begun: refused before it is opened."""
    path, elsewhere = tmp_path / "out/edits.log", tmp_path / "elsewhere"
    path.parent.mkdir()
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to(elsewhere)
        if kind == "link out":
            elsewhere.write_bytes(b"")
    with pytest.raises(EditProblem, match=words):
        Journal(path, two_hides())
    assert not elsewhere.exists() or elsewhere.read_bytes() == b""
    assert elsewhere.exists() == (kind == "link out")


def test_a_line_of_a_journal_that_is_no_json_ends_it(tmp_path):
    """A line with a sound check sum about anything else than a step: the state is that of the line before."""
    path = tmp_path / "edits.log"
    Journal(path, two_hides()).close()
    with open(path, "ab") as stream:
        stream.write(b"%08x %s\n" % (zlib.crc32(b"{]"), b"{]"))
    with Journal(path, two_hides()) as journal:
        assert journal.steps == 0


def test_a_step_that_finds_no_room_leaves_nothing_behind(tmp_path):
    """Room for half of its line: it does not count, and the steps after it are there when the journal is read again."""
    before, limits = signal.signal(signal.SIGXFSZ, signal.SIG_IGN), resource.getrlimit(resource.RLIMIT_FSIZE)
    path = tmp_path / "edits.log"
    with Journal(path, two_hides()) as journal:
        def hold(number):
            journal.add(*played(journal.history, Hold("H1", (number,)), None))

        hold(1)
        try:
            resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 20, limits[1]))
            with pytest.raises(EditProblem, match=r"edits.log cannot be written \(file too large\); see to the disk"):
                hold(2)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, limits)
            signal.signal(signal.SIGXFSZ, before)
        hold(3)
        state = journal.history.state
    with Journal(path, two_hides()) as again:
        assert again.steps == 2 and again.history.state.held == state.held == {("H1", 1), ("H1", 3)}


def test_a_journal_that_cannot_be_cut_back_takes_no_more(tmp_path, monkeypatch):
    """What follows half a line would be lost: it is refused until the journal is opened again."""
    path = tmp_path / "edits.log"

    class Broken:
        """A file on a disk that holds the data no more, and does not shorten files either."""

        closed = False

        def __init__(self, stream):
            self.stream = stream

        def __getattr__(self, name):
            return getattr(self.stream, name)

        def write(self, data):
            return self.stream.write(data[:9])

        def truncate(self, size):
            raise OSError(5, "Input/output error")

        def close(self):
            self.closed = True
            self.stream.close()

    with Journal(path, two_hides()) as journal:
        step = played(journal.history, Hold("H1", (1,)), None)
        monkeypatch.setattr(journal, "_stream", Broken(journal._stream))
        monkeypatch.setattr(os, "fsync", lambda _: Broken(None).truncate(0))
        for words in (r"\(input/output error\); see to the disk, and open the desk", "could not be written before"):
            with pytest.raises(EditProblem, match=words):
                journal.add(*step)
        monkeypatch.undo()
    with Journal(path, two_hides()) as again:
        assert again.steps in (0, 1)
        again.add(*played(again.history, Hold("H1", (3,)), None))
