"""Work shared out among this process and others of its kind, each with one core to itself.

The others are started by name, not forked: this process may hold threads, and a caller's script is never run again.
What they are given and what comes back is pickled. One that dies costs time and nothing else, for this process
does what it left.
"""

import ctypes
import os
import pickle
import signal
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from typing import Any

from geometry.processors import CORES_VARIABLE, processor_cores

MOST = 4
"""No more processes than this: each takes some 200 MB and two seconds to start."""

_START = "import pickle, sys; sys.path[:] = pickle.load(sys.stdin.buffer); from nest.sidebyside import serve; serve()"

Task = tuple[Callable[..., Any], *tuple[Any, ...]]
"""A function of a module, and what it is given after what is shared."""

All = Callable[[Iterable[Task]], list]
"""Does every task, and returns what comes back in their order; of several problems the first is raised."""


@contextmanager
def side_by_side(shared, worth_it: bool = True) -> Iterator[All]:
    """Yield a function that does tasks, each after `shared`, on all cores if that is `worth_it`."""
    count = min(processor_cores(), MOST) - 1 if worth_it and sys.executable else 0
    if count:
        _give_back()
    others = [_Other(shared) for _ in range(count)]

    def do_all(tasks: Iterable[Task]) -> list:
        waiting = deque(enumerate(tasks))
        found: list[tuple[bool, Any]] = [(False, None)] * len(waiting)
        threads = [threading.Thread(target=_take, args=(waiting, found, one.do), daemon=True) for one in others]
        for thread in threads:
            thread.start()

        here = partial(_tried, shared)
        _take(waiting, found, here)
        for thread in threads:
            thread.join()
        _take(waiting, found, here)  # what another has left behind
        for right, result in found:
            if not right:
                raise result
        return [result for _, result in found]

    try:
        yield do_all
    finally:
        for one in others:
            one.end()


def _give_back() -> None:
    """Give memory that is free in this process back, where the C library can: after a search that is some 700 MB."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)


class _Gone(Exception):
    """Another process has ended before its work was done."""


class _Other:
    """Another process that does one thing after another."""

    def __init__(self, shared):
        environment = os.environ | {CORES_VARIABLE: "1", "OPENBLAS_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", _START], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL, env=environment,
        )
        self._first = pickle.dumps(sys.path) + pickle.dumps(shared)

    def do(self, task: Task) -> tuple[bool, Any]:
        """Whether it went well, and the result or what was raised. Raises _Gone."""
        try:
            self._process.stdin.write(self._first + pickle.dumps(task))
            self._process.stdin.flush()
            self._first = b""
            return pickle.load(self._process.stdout)
        except (OSError, EOFError, ValueError, pickle.UnpicklingError) as error:
            raise _Gone from error

    def end(self) -> None:
        """End it, whatever it does."""
        self._process.kill()
        with suppress(OSError):
            self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait()


def _take(waiting: deque, found: list, do: Callable[[Task], tuple[bool, Any]]) -> None:
    """Do what is waiting until nothing is, or whoever does it is gone."""
    while True:
        try:
            index, task = waiting.popleft()
        except IndexError:
            return
        try:
            found[index] = do(task)
        except _Gone:
            waiting.appendleft((index, task))
            return


def _tried(shared, task: Task) -> tuple[bool, Any]:
    work, *given = task
    try:
        return True, work(shared, *given)
    except Exception as error:  # raised again where all is gathered
        return False, error


def serve() -> None:
    """Do what comes in by standard input until it ends; what is printed meanwhile is lost."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that started this one
    asked, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    shared = pickle.load(asked)
    while True:
        try:
            task = pickle.load(asked)
        except EOFError:
            return
        answer = _tried(shared, task)
        try:
            packed = pickle.dumps(answer)
        except Exception as error:  # what cannot be sent goes as words
            packed = pickle.dumps((False, RuntimeError(f"{error}: {answer[1]!r}")))
        answers.write(packed)
        answers.flush()
