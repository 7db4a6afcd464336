"""Where compiled loops are kept between runs: in a folder for each state of their sources.

numba holds a loop that it kept against the loop's own file alone. But a loop has the code of those it calls in it: kept
by file it would go on as they were before they were changed.

Keeping saves time and nothing else: a run never fails because of what is kept, or because nothing can be.
"""

import hashlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from pickle import PickleError
from shutil import rmtree
from typing import Any

from numba.core.caching import FunctionCache

_ROOT = Path(__file__).parent.parent

SOURCES = "geometry/*.py", "nest/placement/*.py", "nest/cutplan/_*.py"
"""Files with loops, and with constants that are compiled into them."""

KEPT_DAYS = 7.0
"""Loops of another state of the sources are kept this long after they were last used."""


class KeptLoop(FunctionCache):
    """What is kept of one loop, made anew where that cannot be used."""

    def __init__(self, loop: Callable[..., Any]):
        base: Any = super()
        base.__init__(loop)

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The loop for these arguments, or None where it is not kept, or what is kept is damaged."""
        base: Any = super()
        try:
            kept = base.load_overload(sig, target_context)
        except Exception:  # whatever comes of a file that a power cut or a full disk has cut short
            with suppress(OSError):
                base.flush()
            return None
        # Two processes that compile at once may give two loops one file.
        return kept if kept is not None and tuple(kept.signature.args) == tuple(sig) else None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep a loop, if there is room and right to."""
        base: Any = super()
        with suppress(OSError, EOFError, PickleError):  # the last two of a damaged list that cannot be mended
            base.save_overload(sig, data)


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
