"""Commands under faults: killed, out of room, refused by the disk, short of descriptors, the clock set about.

A command runs in a process forked from this one, so that libraries are loaded once. Every step that makes or moves a
file is counted, and one of them fails as the disk would; what is written past a size fails by the system's own limit.
"""

import builtins
import errno
import functools
import io
import os
import re
import resource
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext, redirect_stdout
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from grammar import STEPS_OF_A_DAY
from killed_runs import forked, state_of
from small_jobs import small_job
from tiny_plans import box_plan

from nest import clock
from nest.cli import main
from nest.cli.codes import Exit
from nest.desk.session import JOURNAL, Desk
from nest.edits.journal import Journal
from nest.edits.script import read_steps
from nest.errors import VampYieldError
from nest.ledger.rows import hide_rows
from nest.ledger.store import open_ledger
from nest.planfile import plan_text, read_plan, write_plan
from nest.verify import verify

ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)
NOBODY = 65534
"""Number of a user and a group that have no rights of their own, common practice."""


class FileLayer:
    """Counts files opened for writing, renames, folders made and flushes; fails at one of them with this error."""

    def __init__(self, fails_at: int | None = None, code: int = errno.ENOSPC):
        self.count, self.fails_at, self.code = 0, fails_at, code
        opened = io.open

        def open_(file, mode="r", *args, **more):
            if any(letter in mode for letter in "wax+") and not isinstance(file, int) and str(file) != os.devnull:
                self._step(file)
            return opened(file, mode, *args, **more)

        builtins.open = io.open = open_
        for name in ("rename", "replace", "mkdir", "fsync"):
            setattr(os, name, self._counted(getattr(os, name)))

    def _counted(self, call):
        def counted(*args, **more):
            self._step(args[0])
            return call(*args, **more)

        return counted

    def _step(self, file) -> None:
        self.count += 1
        if self.count == self.fails_at:
            raise OSError(self.code, os.strerror(self.code), None if isinstance(file, int) else str(file))


@dataclass(frozen=True)
class Task:
    """A command, or what is done in its place, and whether what stands after it is as it should be: nothing, or all."""

    words: Callable[[Path], list[str]]
    sound: Callable[[Path], bool]
    done: Callable[[Path], int] | None = None

    def run(self, folder: Path) -> int:
        """Do it; the exit code."""
        return self.done(folder) if self.done else main(self.words(folder))


@functools.cache
def placed_before() -> str:
    """The plan of the job below, as text."""
    with tempfile.TemporaryDirectory() as place:
        job, out = small_job(Path(place) / "job", pairs={"39": 1}, hides=2), Path(place) / "out"
        code, said, _ = forked(lambda: main(["place", str(job), "-o", str(out), "--passes", "1", "-q"]))
        assert code in (Exit.DONE, Exit.SHORT), said
        return (out / "plan.json").read_text(encoding="utf-8")


def prepared(folder: Path, name: str) -> None:
    """A plan, commands for it, what was cut of it, and a job beside it; with a plan of its own if that is needed."""
    write_plan(box_plan(), folder / "plan.json")
    (folder / "edit.json").write_text('[{"do": "hold", "hide": "H1", "numbers": [1]}]')
    (folder / "day.json").write_text(STEPS_OF_A_DAY)
    (folder / "cut.csv").write_text("material,state\nH1,cut\n")
    small_job(folder / "job", pairs={"39": 1}, hides=2)
    if name == "replan":
        (folder / "before.json").write_text(placed_before(), encoding="utf-8")
    (folder / "gone.csv").write_text("material,state\nH02,withdrawn\n")


def _whole_or_nothing(folder: Path) -> bool:
    return not (folder / "out").exists() or state_of(folder / "out") == "whole"


def _jobs_whole_or_nothing(folder: Path) -> bool:
    return not (folder / "out").exists() or all(
        state_of(path) == "whole" for path in (folder / "out").iterdir() if path.is_dir() and path.name[0] != "."
    )


def _plan_or_nothing(folder: Path) -> bool:
    path = folder / "out/plan.json"
    return not (folder / "out").exists() or verify(read_plan(path)).ok


def _cut_or_nothing(folder: Path) -> bool:
    out = folder / "out"
    return not out.exists() or (
        (out / "print.pdf").is_file() and len(list((out / "drawings").glob("*.dxf"))) == 2
        and plan_text(read_plan(out / "plan.json")) == plan_text(box_plan())
    )


def _day_at_the_desk(folder: Path) -> int:
    """Do the steps of a day that are not done yet; a dot for each that the desk has answered."""
    try:
        desk = Desk(read_plan(folder / "plan.json"), folder)
        answered = os.open(folder / "answered", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        for step in read_steps(folder / "day.json")[desk.revision:]:
            desk.do(step, desk.revision)
            os.write(answered, b".")
    except (VampYieldError, OSError, MemoryError) as error:
        print(str(error) or "There is too little memory.")
        return Exit.BAD_INPUT
    return Exit.DONE


def _no_step_lost(folder: Path) -> bool:
    """The journal opens, and holds what was answered and at most the step in hand."""
    answered = (folder / "answered").stat().st_size if (folder / "answered").exists() else 0
    with Journal(folder / JOURNAL, read_plan(folder / "plan.json")) as journal:
        return answered <= journal.steps <= answered + 1


def _all_or_none_received(folder: Path) -> bool:
    if not (folder / "ledger.db").exists():
        return True
    try:
        with open_ledger(folder / "ledger.db").reading() as connection:
            return len(hide_rows(connection)) in (0, 2)
    except VampYieldError:
        # One that was killed while it was made is no ledger yet; it is said, and another can be made.
        return (folder / "ledger.db").stat().st_size == 0


_DAY = Task(lambda f: [], _no_step_lost, _day_at_the_desk)
_QUICKLY = ("--passes", "1", "--no-figures", "-q")

TASKS = {
    "cut": Task(lambda f: ["cut", str(f / "plan.json"), "-o", str(f / "out"), "-q"], _cut_or_nothing),
    "desk": _DAY,
    "edit": Task(lambda f: ["edit", str(f / "plan.json"), str(f / "edit.json"), "-o", str(f / "out"), "--no-figures",
                            "-q"], lambda f: not (f / "out").exists() or (f / "out/plan.json").is_file()),
    "used": Task(lambda f: ["used", str(f / "plan.json"), "--cut", str(f / "cut.csv"), "-o", str(f / "out"), "-q"],
                 lambda f: not (f / "out").exists() or len(list((f / "out").iterdir())) == 2),
    "place": Task(lambda f: ["place", str(f / "job/job.toml"), "-o", str(f / "out"), "--passes", "1", "-q"],
                  _plan_or_nothing),
    "run": Task(lambda f: ["run", str(f / "job/job.toml"), "-o", str(f / "out"), *_QUICKLY], _whole_or_nothing),
    "replan": Task(
        lambda f: ["replan", str(f / "job/job.toml"), "--plan", str(f / "before.json"), "--cut", str(f / "gone.csv"),
                   "-o", str(f / "out"), *_QUICKLY], _whole_or_nothing),
    "batch": Task(lambda f: ["batch", str(f / "job"), "-o", str(f / "out"), "--passes", "1", "--workers", "1", "-q"],
                  _jobs_whole_or_nothing),
    "ledger": Task(
        lambda f: ["stock", "receive", str(f / "job/hides.csv"), "--job", str(f / "job/job.toml"),
                   "--ledger", str(f / "ledger.db"), "-q"], _all_or_none_received),
}
"""Commands that write, by name."""


def _done_here(name: str) -> None:
    with tempfile.TemporaryDirectory() as place, open(os.devnull, "w") as nowhere, redirect_stdout(nowhere):
        prepared(Path(place), name)
        code = TASKS[name].run(Path(place))
        assert code in (Exit.DONE, Exit.SHORT), f"{name}: {code}"
        assert TASKS[name].sound(Path(place)), name


def steps_of(name: str) -> tuple[int, float]:
    """Steps that make or move files in an undisturbed run of a task, and its processor time, s.

    It is done here before: what is loaded and compiled on the way is then there for every process that is forked. Not
    so a batch, which starts processes of its own: what it has of them is no good in a fork.
    """
    if name != "batch":
        _done_here(name)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        prepared(folder, name)

        def counted() -> int:
            layer = FileLayer()
            code = TASKS[name].run(folder)
            print(f"\nsteps {layer.count}")
            return code

        code, said, seconds = forked(counted)
        assert code in (Exit.DONE, Exit.SHORT), said
        return int(said.split("steps ")[-1]), seconds


def disturbed(name: str, fault: str, amount: float, code: int = errno.ENOSPC, seconds: float = 1.0) -> str:
    """What is wrong after a task under a fault and once more without it; "" if nothing is.

    `fault` is step (the number `amount` fails with this error), kill (after a share `amount` of `seconds`), size
    (no file beyond `amount` bytes), descriptors (this many), memory (this many MB more than now), clock (wrong by up
    to `amount` days, each time by another number) or rights (files and folders are somebody else's, to be read only; if
    `amount` is 1 the task was done there before).
    """
    task = TASKS[name]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        prepared(folder, name)
        if fault == "rights" and amount:
            forked(lambda: task.run(folder))
        before, stood = (folder / "plan.json").read_bytes(), _contents(folder)

        def work() -> int:
            if fault == "step":
                FileLayer(int(amount), code)
            elif fault == "size":
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (int(amount), int(amount)))
            elif fault == "descriptors":
                resource.setrlimit(resource.RLIMIT_NOFILE, (int(amount), int(amount)))
            elif fault == "memory":
                now = int(re.search(r"VmSize:\s+(\d+) kB", Path("/proc/self/status").read_text())[1]) * 1024
                resource.setrlimit(resource.RLIMIT_AS, (now + int(amount * 1e6), now + int(amount * 1e6)))
            elif fault == "clock":
                _jumping(amount)
            elif fault == "rights" and os.getuid() == 0:  # to whom rights mean nothing
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            return task.run(folder)

        with read_only(folder) if fault == "rights" else nullcontext():
            end, said, _ = forked(work, amount * seconds if fault == "kill" else None)
        if fault == "rights" and end != Exit.BAD_INPUT:
            return f"code {end} without a right to write: {said}"
        same = _contents(folder) == stood
        wrong = _why_wrong(end, said, task, folder, before)
        if wrong or same:
            return wrong  # as it was before any of it: what comes next is the undisturbed run that was done already
        end, said, _ = forked(lambda: task.run(folder))
        if end not in (Exit.DONE, Exit.SHORT) and not (name == "ledger" and "found a hide of this id" in said):
            return f"afterwards code {end}: {said}"
        return "" if task.sound(folder) else f"afterwards not whole: {sorted(p.name for p in folder.rglob('*'))[:20]}"


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Files and folders within may be read by everybody, and written by nobody but root."""
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    try:
        yield
    finally:
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o755 if path.is_dir() else 0o644)


def _contents(folder: Path) -> dict[str, bytes | None]:
    """Every file and folder within, and what the files hold."""
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None for path in folder.rglob("*")}


def _why_wrong(end: int, said: str, task: Task, folder: Path, before: bytes) -> str:
    """What is wrong with the end of a disturbed run."""
    if end not in (Exit.DONE, Exit.SHORT, Exit.BAD_INPUT, -signal.SIGKILL):
        return f"code {end}: {said}"
    if end == Exit.BAD_INPUT and len(said.strip().splitlines()) != 1:
        return f"not one sentence: {said}"
    if (folder / "plan.json").read_bytes() != before:
        return "the plan that was given has changed"
    if not task.sound(folder):
        return f"half-written: {sorted(str(p.relative_to(folder)) for p in folder.rglob('*'))[:30]}"
    left = [path.name for path in folder.iterdir() if path.name.startswith(".") or path.name.endswith(".part")]
    return f"left behind: {left}" if left and end != -signal.SIGKILL else ""


def _jumping(days: float) -> None:
    """The clock on the wall goes back and forth by this many days each time it is looked at."""
    looks = [0]

    def now() -> datetime:
        looks[0] += 1
        return datetime.now(UTC) + timedelta(days=days * (-1) ** looks[0])

    for module in [clock, *(one for name, one in list(sys.modules.items()) if name.startswith("nest."))]:
        if getattr(module, "now", None) is not None and getattr(module.now, "__module__", "") == "nest.clock":
            module.now = now
    real = time.time
    time.time = lambda: real() + days * 86_400 * (-1) ** looks[0]
