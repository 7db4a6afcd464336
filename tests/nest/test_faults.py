"""Commands under faults of the disk, the clock and the system; `tests/bench/soak.py` goes on for hours."""

import subprocess
import sys
from pathlib import Path

import pytest
from faulty_files import disturbed, steps_of

SOAK = Path(__file__).parent.parent / "bench/soak.py"


@pytest.mark.slow
@pytest.mark.parametrize(
    "tasks", [("ledger", "used"), ("place", "run", "replan"), ("cut", "edit"), ("batch",)], ids="-".join)
def test_nothing_is_half_written_under_any_fault(tasks):
    """Three minutes of random faults: what stands is whole or not there, and the next run goes well."""
    words = [sys.executable, SOAK, "0.05", "--tasks", *tasks]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("again", [0, 1], ids=["first", "again"])
@pytest.mark.parametrize("name", ["desk", "used", "ledger"])
def test_what_is_somebody_elses_is_refused_in_a_sentence(name, again):
    """Files and folders that may be read only, for the first time or where the command has written before: code 2."""
    steps_of(name)  # what is loaded on the way may be where somebody else must not look
    assert disturbed(name, "rights", again) == ""
