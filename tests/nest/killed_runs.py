"""Runs that are ended hard: a program of its own, that forks a run of the command line again and again.

    python killed_runs.py JOB WORK MODE:VALUE...

The libraries are loaded once, in the parent, so that a run begins at once. Modes:

kill:SHARE     SIGKILL after this share of the processor time an undisturbed run takes
file:NUMBER    SIGKILL before this call, from the last one back, that renames a file or has the disk hold it;
               results of an earlier run are there and have to make room
size:BYTES     no file may grow beyond this (RLIMIT_FSIZE): a full disk, as far as a program can tell
cores:NUMBER   on so many processor cores

Runs of one mode write to WORK/MODE/out (of "file" to WORK/file-NUMBER/out); each begins in the state the one before
left behind. Runs that nothing disturbs write to WORK/undisturbed. Prints one JSON object a run: how it ended (exit
code, or -9), what it said, and what stands beside OUT then.
"""

import json
import os
import resource
import shutil
import signal
import sys
import time
from functools import cache
from pathlib import Path

from nest.accounts import account
from nest.cli import main
from nest.errors import VampYieldError
from nest.placement.solve import warm_up
from nest.plan import Plan
from nest.planfile import plan_from_text
from nest.verify import verify

WORDS = ("--passes", "1", "--no-figures", "--quiet")


class Calls:
    """Counts renames and flushes; kills the process before one of them."""

    def __init__(self, deadly: int | None = None):
        self.count, self.deadly = 0, deadly
        for name in ("rename", "replace", "fsync"):
            setattr(os, name, self._counted(getattr(os, name)))

    def _counted(self, call):
        def counted(*args, **more):
            self.count += 1
            if self.count == self.deadly:
                os.kill(os.getpid(), signal.SIGKILL)
            return call(*args, **more)

        return counted


def forked(work, seconds: float | None = None) -> tuple[int, str, float]:
    """Do `work()` in a process of its own, killed after `seconds` of processor time.

    Returns its exit code or minus the signal, its words, and the processor time it took.
    """
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.dup2(write, 1)
        os.dup2(write, 2)
        os.close(read)
        # Those of the parent may think that they are files.
        sys.stdout, sys.stderr = open(1, "w", closefd=False), open(2, "w", closefd=False)  # noqa: SIM115
        code = 99
        try:
            code = work()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    os.close(write)
    while seconds is not None and running(child):
        if processor_time(child) >= seconds:
            os.kill(child, signal.SIGKILL)
            break
        time.sleep(0.002)
    said = b""
    while piece := os.read(read, 65536):
        said += piece
    os.close(read)
    _, status, used = os.wait4(child, 0)
    return os.waitstatus_to_exitcode(status), said.decode(errors="replace"), used.ru_utime + used.ru_stime


def running(child: int) -> bool:
    """Whether a process of ours has not come to its end; it is left to be waited for."""
    return os.waitid(os.P_PID, child, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None


def processor_time(child: int) -> float:
    """Processor time of a process so far, seconds; whatever else the machine does."""
    fields = Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def standing(out: Path) -> dict[str, str]:
    """What stands beside OUT by name: for the folder of a run its state, else "other"."""
    found = {}
    for path in sorted(out.parent.iterdir()):
        if path.name.startswith(".") or path.name == f"{out.name}.unfinished":
            continue
        found[path.name] = state_of(path) if path.is_dir() else "other"
    return found


def state_of(folder: Path) -> str:
    """"whole" for a complete output folder with a plan that passes its checks; else what is missing."""
    for name in ("plan.json", "report.html", "consumption.csv", "consumption.xlsx"):
        if not (folder / name).is_file():
            return f"no {name}"
    plan = _plan_in((folder / "plan.json").read_bytes())
    if isinstance(plan, str):
        return plan
    cut = [layout for layout in (*plan.layouts, *plan.lays) if layout.placed]
    if len(list((folder / "drawings").glob("*.dxf"))) != len(cut):
        return "drawings are missing"
    hidden = [path.name for path in folder.rglob(".*")]
    return f"left behind: {hidden}" if hidden else "whole"


@cache
def _plan_in(data: bytes) -> Plan | str:
    """The plan of a file, where it is right and can be accounted for; else why not. Of the same bytes the same."""
    try:
        plan = plan_from_text(data.decode("utf-8"))
        account(plan)
    except (VampYieldError, UnicodeDecodeError) as error:
        return str(error)
    return plan if verify(plan).ok else "wrong"


def run(job: str, work: Path, wanted: list[tuple[str, float]]) -> None:
    """One run for each mode and value."""
    warm_up()
    (work / "undisturbed").mkdir()
    main(["run", job, "-o", str(work / "undisturbed" / "out"), *WORDS])  # loads what is loaded on the way

    def counted() -> int:
        calls = Calls()
        main(["run", job, "-o", str(work / "undisturbed" / "out"), *WORDS])
        print(calls.count)
        return 0

    _, said, whole = forked(counted)
    calls = int(said.split()[-1])
    for mode, value in wanted:
        out = work / (f"file-{value:.0f}" if mode == "file" else mode) / "out"
        out.parent.mkdir(exist_ok=True)
        if mode == "file":
            shutil.copytree(work / "undisturbed" / "out", out)

        def disturbed(mode=mode, value=value, out=out) -> int:
            if mode == "file":
                Calls(max(1, calls + 1 - int(value)))
            elif mode == "size":
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (int(value), int(value)))
            elif mode == "cores":
                os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[: int(value)])
            return main(["run", job, "-o", str(out), *WORDS])

        code, said, _ = forked(disturbed, value * whole if mode == "kill" else None)
        end = {"mode": mode, "value": value, "code": code, "said": said, "standing": standing(out)}
        print(json.dumps(end), flush=True)


if __name__ == "__main__":
    asked = [word.split(":") for word in sys.argv[3:]]
    run(sys.argv[1], Path(sys.argv[2]), [(mode, float(value)) for mode, value in asked])
