"""Runs a job and prints the check sums of all that was written, the time on the clock held still.

    python tests/nest/same_everywhere.py JOB OUT [OPTIONS of run]
"""

import hashlib
import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from nest import clock


def sums(folder: Path) -> dict[str, str]:
    """SHA-256 of every file below a folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*")) if path.is_file()
    }


if __name__ == "__main__":
    clock.now = lambda: datetime(2026, 3, 31, 12, 0, tzinfo=UTC)
    # What is imported only now takes this clock.
    from nest.cli import main

    code = main(["run", sys.argv[1], "--out", sys.argv[2], "--quiet", *sys.argv[3:]])
    print(json.dumps({"code": code} | sums(Path(sys.argv[2]))))
