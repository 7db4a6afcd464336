"""Where compiled loops are kept between runs: in a folder for each state of their sources.

numba holds a loop that it kept against the loop's own file alone. But a loop has the code of those it calls in it: kept
by file it would go on as they were before they were changed.
"""

import hashlib
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
        new = not folder.is_dir()
        folder.mkdir(parents=True, exist_ok=True)
        folder.touch()
        if new:
            _sweep(folder)
    return folder


def _sweep(mine: Path) -> None:
    """Remove the folders beside it that were last used KEPT_DAYS before."""
    now = mine.stat().st_mtime
    for other in mine.parent.glob("loops-*"):
        if now - other.stat().st_mtime > 86400.0 * KEPT_DAYS:
            rmtree(other, ignore_errors=True)
