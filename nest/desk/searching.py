"""A search in a process of its own, so that the desk answers meanwhile and a search that hangs can be ended."""

import multiprocessing
import threading
from collections.abc import Callable

from nest.edits import EditProblem, State, searched
from nest.edits.commands import Found, SearchCommand

_SPAWN = multiprocessing.get_context("spawn")

PATIENCE_S = 20.0
"""A search that does not stop within this time of being asked is killed."""


class Search:
    """A search that is running, or has ended."""

    def __init__(
        self, state: State, command: SearchCommand, heard: Callable[[dict], None], better: Callable[[Found], None],
        found: Callable[[Found | str], None],
    ):
        """Begin. `heard` gets how far it is, `better` what is found on the way, `found` what it came to in the end, or
        why it came to nothing.
        """
        self._stopping = _SPAWN.Event()
        ours, theirs = _SPAWN.Pipe(duplex=False)
        self._process = _SPAWN.Process(target=_searched, args=(state, command, theirs, self._stopping), daemon=True)
        self._process.start()
        theirs.close()
        self._over = False
        self._thread = threading.Thread(target=self._listen, args=(ours, heard, better, found), daemon=True)
        self._thread.start()

    @property
    def running(self) -> bool:
        """Whether it has not ended."""
        return not self._over

    def stop(self) -> None:
        """Have it end with the best it has found; kill it if it does not."""
        self._stopping.set()
        threading.Thread(target=self._lose_patience, daemon=True).start()

    def kill(self) -> None:
        """End it at once, without a result."""
        self._process.kill()

    def _lose_patience(self) -> None:
        self._process.join(PATIENCE_S)
        if self._process.is_alive():
            self._process.kill()

    def _listen(
        self, pipe, heard: Callable[[dict], None], better: Callable[[Found], None], found: Callable[[Found | str], None]
    ) -> None:
        result: Found | str = "The search ended without a result; place again."
        try:
            while True:
                kind, data = pipe.recv()
                if kind == "progress":
                    heard(data)
                elif kind == "better":
                    better(data)
                else:
                    result = data
        except EOFError:
            pass
        finally:
            pipe.close()
            self._process.join()
            self._over = True
        found(result)


def _searched(state: State, command: SearchCommand, pipe, stopping) -> None:
    """Runs in the other process."""

    def hear(progress) -> None:
        pipe.send(("progress", {
            "hide": progress.material_id, "stage": progress.stage, "yield": round(100.0 * progress.yield_so_far, 1),
            "seconds": round(progress.seconds, 1),
        }))

    result: Found | str
    try:
        result = searched(state, command, cancelled=stopping.is_set, listener=hear,
                          better=lambda found: pipe.send(("better", found)))
    except EditProblem as error:
        result = str(error)
    except Exception as error:  # the desk goes on without it
        result = f"The search failed ({type(error).__name__} {error}); please report it with the plan."
    pipe.send(("result", result))
    pipe.close()
