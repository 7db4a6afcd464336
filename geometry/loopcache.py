"""Where compiled loops are kept between runs: in a folder for each state of their sources.

numba holds a loop that it kept against the loop's own file alone. But a loop has the code of those it calls in it: kept
by file it would go on as they were before they were changed.
"""

import hashlib
import time
from contextlib import suppress
from pathlib import Path
from shutil import rmtree

_ROOT = Path(__file__).parent.parent

SOURCES = "geometry/*.py", "nest/placement/*.py", "nest/cutplan/_*.py"
"""Files with loops, and with constants that are compiled into them."""

KEPT_DAYS = 7.0
"""Loops of another state of the sources are kept this long after they were last used."""


def loop_folder() -> Path:
    """The folder for loops as their sources are now; those long unused are swept."""
    state = hashlib.sha256()
    for some in SOURCES:
        for file in sorted(_ROOT.glob(some)):
            state.update(file.name.encode() + file.read_bytes())
    folder = Path(__file__).parent / "__pycache__" / f"loops-{state.hexdigest()[:16]}"
    with suppress(OSError):  # where nothing can be written numba finds another place
        if not folder.is_dir():
            _sweep(folder.parent)
            folder.mkdir(parents=True, exist_ok=True)
        folder.touch()
    return folder


def _sweep(above: Path) -> None:
    """Remove folders of loops that were not used for KEPT_DAYS."""
    for other in above.glob("loops-*"):
        if time.time() - other.stat().st_mtime > 86400.0 * KEPT_DAYS:
            rmtree(other, ignore_errors=True)
