"""Ctrl-C: once to stop with the best found so far, twice to abort."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def stop_on_interrupt(
    say: Callable[[str], None], kept: str = "the best plan found so far is kept and written"
) -> Iterator[Callable[[], bool]]:
    """Yield a function that tells whether the user has pressed Ctrl-C.

    The first interrupt only sets what that function returns, and the second raises
    KeyboardInterrupt; both are acknowledged through `say`. The handler that stood before is put back at the end.
    """
    asked = threading.Event()

    def on_interrupt(signum, frame) -> None:
        if asked.is_set():
            say("Aborted: nothing is written.")
            raise KeyboardInterrupt
        asked.set()
        say(f"Stopping: {kept}. Ctrl-C again aborts and writes nothing.")

    before = signal.signal(signal.SIGINT, on_interrupt)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)
