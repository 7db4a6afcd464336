"""What stands in for the processes of the desk in tests: threads, for a process takes seconds to start."""

import multiprocessing
import threading


class _Thread(threading.Thread):
    def kill(self):
        """It ends by itself."""


class _Kept:
    """The end of a pipe that one side closes its copy of, and both have the same: the second close counts."""

    def __init__(self, pipe):
        self.send, self.recv, self._pipe, self._closed = pipe.send, pipe.recv, pipe, False

    def close(self):
        """The first time nothing."""
        if self._closed:
            self._pipe.close()
        self._closed = True


class InThreads:
    """As a context of multiprocessing has them."""

    Event, Process = threading.Event, _Thread

    @staticmethod
    def Pipe(duplex=True):
        """Two ends of a pipe."""
        one, other = multiprocessing.Pipe(duplex)
        return one, _Kept(other)
