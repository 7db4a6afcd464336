"""Commands under faults of the disk, the clock and the system; `tests/bench/soak.py` goes on for hours."""

import subprocess
import sys
from pathlib import Path

import pytest

SOAK = Path(__file__).parent.parent / "bench/soak.py"


@pytest.mark.slow
@pytest.mark.parametrize(
    "tasks", [("ledger", "used"), ("place", "run", "replan"), ("cut", "edit"), ("batch",)], ids="-".join)
def test_nothing_is_half_written_under_any_fault(tasks):
    """Three minutes of random faults: what stands is whole or not there, and the next run goes well."""
    words = [sys.executable, SOAK, "0.05", "--tasks", *tasks]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
