"""What stands where a journal of edits is to be, and what stands in it."""

import os
import zlib

import pytest
from edited_plans import two_hides

from nest.edits import EditProblem, Journal


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
