"""Tests of a room run again and again, each time with one change to its code, in processes forked from one that has
collected them: nothing is imported or collected twice.

`Room` is a plugin of pytest. It runs the tests once as they are and notes which of them reach which place and how long
each takes. Then every mutant is put into the functions that are already loaded, and the tests that reach it are run,
the quickest first, up to the first that fails. A change outside of functions (a constant of a module, a field of a
class) cannot be put in so; it is handed back.
"""

import builtins
import gc
import itertools
import json
import os
import resource
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from types import CodeType, FunctionType

import pytest
from _pytest.runner import runtestprotocol

NOTE = "_note_of_mutants"
"""The function that changed code calls with the number of a mutant where its place is reached."""

Pairs = list[tuple[CodeType, CodeType]]
SECONDS = 10.0
"""Processor time that tests with a mutant may take beyond four times their usual: a loop without end is noticed."""
PATIENCE_S = 120.0
"""By the clock on the wall: tests that take less than a second of processor time within this wait without end."""


def silenced() -> None:
    """Nothing is printed from here on."""
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)


def forked(work: Callable[[], int], seconds: float) -> tuple[int, float]:
    """Do the work in a process of its own with a limit of processor time; its exit code, and the time that it took."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
            code = work()
        finally:
            os._exit(code)
    since, before = time.monotonic(), 0.0
    while True:
        found, status, used = os.wait4(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime
        if time.monotonic() > since + PATIENCE_S:
            now = _processor_s(child)
            if now < before + 1.0:
                os.kill(child, signal.SIGKILL)
            since, before = time.monotonic(), now
        time.sleep(0.01)


def _processor_s(process: int) -> float:
    """Processor time that a process and those it waited for have taken so far."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Given:
    """A mutant: its file in the tree, and the functions that it changes; None if it changes what is outside of them."""

    file: str
    pairs: Pairs | None


def changed_functions(old: CodeType, new: CodeType) -> Pairs | None:
    """Pairs of code of functions that differ, the outermost first; None if what stands outside of functions does."""
    found = list(_differing(old, new))
    return None if any(not one[0].co_flags & 0x2 for one in found) else found


def _differing(old: CodeType, new: CodeType) -> Iterator[tuple[CodeType, CodeType]]:
    def own(code: CodeType) -> tuple:
        consts = [repr(one) for one in code.co_consts if not isinstance(one, CodeType)]
        return code.co_code, consts, code.co_names, code.co_varnames

    inner = [[one for one in code.co_consts if isinstance(one, CodeType)] for code in (old, new)]
    if len(inner[0]) != len(inner[1]):
        yield old, new  # what can never be reached is not compiled
        return
    below = [pair for one in zip(*inner, strict=True) for pair in _differing(*one)]
    if own(old) != own(new):
        yield old, new
    elif below and old.co_flags & 0x2:
        # A function that holds a changed one makes it anew at every call.
        yield old, new
    yield from below


def put_in(pairs: Sequence[tuple[CodeType, CodeType]]) -> int:
    """Give every loaded function of the old code the new one; how many there were."""
    new = {_key(before): after for before, after in pairs}
    count = 0
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and (after := new.get(_key(one.__code__))) is not None:
            one.__code__ = after
            count += 1
    return count


def _key(code: CodeType) -> tuple[str, str, int]:
    return code.co_filename, code.co_qualname, code.co_firstlineno


class Room:
    """Plugin of pytest: in place of running the tests once, runs them for every mutant.

    Parameters
    ----------
    noted : functions of the tree as they are, and such as note which mutants' places they reach.
    send : takes a dictionary for each result.
    at_once : mutants that are tried at a time.
    most_s : processor time of the tests that a mutant is tried by, the quickest files first; the others are left out.
    """

    def __init__(self, tree: Path, mutants: Sequence[Given], noted: Pairs, send: Callable[[dict], None], at_once: int,
                 most_s: float):
        self.tree, self.mutants, self.noted, self.send = tree, mutants, noted, send
        self.at_once, self.most_s = at_once, most_s

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session) -> bool:
        """All of it."""
        items = session.items
        for one in self.mutants:  # what a command loads when it is asked for, too
            import_module(".".join(Path(one.file).relative_to(self.tree).with_suffix("").parts))
        seen = self._undisturbed(items)
        if seen is None:
            return True
        reached, usual = seen
        self.send({"usual": sum(usual), "tests": len(items)})
        with ThreadPoolExecutor(self.at_once) as pool:
            for result in pool.map(lambda i: self._tried(i, items, reached, usual), range(len(self.mutants))):
                self.send(result)
        return True

    def _tried(self, number: int, items, reached: list[list[int]], usual: list[float]) -> dict:
        mutant = self.mutants[number]
        if mutant.pairs is None:
            near = sorted({items[i].nodeid.partition("::")[0] for one, tests in zip(self.mutants, reached, strict=True)
                           if one.file == mutant.file for i in tests})
            return {"number": number, "outside": True, "near": near}
        hit = reached[number]
        by_file: dict[str, float] = defaultdict(float)
        for i in hit:
            by_file[items[i].nodeid.partition("::")[0]] += usual[i]
        hit = sorted(hit, key=lambda i: (by_file[items[i].nodeid.partition("::")[0]], i))
        spent = list(itertools.accumulate(usual[i] for i in hit))
        reach, hit = len(hit), [i for i, seconds in zip(hit, spent, strict=True) if seconds <= self.most_s]
        code, took = forked(
            lambda: 2 if not put_in(mutant.pairs) else _failed([items[i] for i in hit]),
            SECONDS + 4.0 * sum(usual[i] for i in hit),
        )
        return {"number": number, "survived": code == 0, "unloaded": code == 2, "tests": len(hit),
                "reach": reach, "took": took}

    def _undisturbed(self, items) -> tuple[list[list[int]], list[float]] | None:
        """Which tests reach which mutant, and seconds of each test; None, and said so, if one fails."""
        read, write = os.pipe()

        def work() -> int:
            silenced()
            with os.fdopen(write, "w") as stream:
                json.dump(self._noted(items), stream)
            return 0

        child = os.fork()
        if child == 0:
            code = 99
            try:
                code = work()
            finally:
                os._exit(code)
        os.close(write)
        with os.fdopen(read) as stream:
            said = stream.read()
        os.waitpid(child, 0)
        found = json.loads(said) if said else {"failed": "the tests end the process"}
        if "failed" in found:
            self.send(found)
            return None
        return found["reached"], found["usual"]

    def _noted(self, items) -> dict:
        reached: list[set[int]] = [set() for _ in self.mutants]
        whole: dict[str, set[int]] = defaultdict(set)
        hit: set[int] = set()
        setattr(builtins, NOTE, hit.add)
        put_in(self.noted)
        usual = []
        for i, item in enumerate(items):
            hit.clear()
            begin = time.process_time()
            reports = runtestprotocol(item, log=False, nextitem=items[i + 1] if i + 1 < len(items) else None)
            usual.append(time.process_time() - begin)
            if any(report.failed for report in reports):
                return {"failed": item.nodeid}
            for number in hit:
                reached[number].add(i)
            # What is made once for a file is made by its first test.
            file = item.nodeid.partition("::")[0]
            if i == 0 or not items[i - 1].nodeid.startswith(file):
                whole[file] |= hit
        for file, numbers in whole.items():
            tests = [i for i, item in enumerate(items) if item.nodeid.startswith(file)]
            for number in numbers if len(tests) > 1 and _shares(items[tests[0]]) else ():
                reached[number].update(tests)
        return {"reached": [sorted(tests) for tests in reached], "usual": usual}


def _shares(item) -> bool:
    """Whether a test uses anything of ours that is made once for several."""
    known = getattr(item, "_fixtureinfo", None)
    return known is not None and any(
        one.scope != "function" and "/tests/" in str(getattr(one.func, "__code__", item).co_filename)
        for defined in known.name2fixturedefs.values() for one in defined if hasattr(one.func, "__code__")
    )


def _failed(items) -> int:
    """1 once a test fails; else 0."""
    silenced()
    for i, item in enumerate(items):
        following = items[i + 1] if i + 1 < len(items) else None
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=following)):
            return 1
    return 0


def run_room(
    tree: Path, tests: Sequence[str], mutants: Sequence[Given], noted: Pairs, at_once: int, most_s: float
) -> Iterator[dict]:
    """Results of `Room` as they come, from a process of its own that knows the tree and nothing else of ours."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        code = 99
        try:
            os.close(read)
            _collected(tree, tests, mutants, noted, write, at_once, most_s)
            code = 0
        finally:
            os._exit(code)
    os.close(write)
    with os.fdopen(read) as stream:
        for line in stream:
            yield json.loads(line)
    os.waitpid(child, 0)


def _collected(
    tree: Path, tests: Sequence[str], mutants: Sequence[Given], noted: Pairs, write: int, at_once: int,
    most_s: float,
) -> None:
    os.chdir(tree)
    silenced()
    sys.path.insert(0, str(tree))
    sys.dont_write_bytecode = True
    paths = [f"tests/nest/{name}" for name in tests if (tree / "tests" / "nest" / name).exists()]

    def send(result: dict) -> None:
        os.write(write, (json.dumps(result) + "\n").encode())

    pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", "--basetemp", str(tree.parent / "made"), *paths],
                plugins=[Room(tree, mutants, noted, send, at_once, most_s)])
