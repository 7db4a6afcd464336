"""Oldest libraries, other Pythons, and the program as it is installed: each in an empty environment of its own.

    python tests/bench/supply.py oldest
    python tests/bench/supply.py newest --python python3.13
    python tests/bench/supply.py same --python python3.13
    python tests/bench/supply.py built

`oldest` installs the lowest version that `pyproject.toml` allows of every library and runs the fast tests of the rooms
that use them, `newest` does the same with the newest ones under any Python. `same` runs the demo job by passes under
this Python and another, with the same libraries: plan, page, drawings and tables must be the same bytes. `built` makes
sdist and wheel, installs the wheel where the repository is not, and runs the demo job with it. Ends with code 1 where
anything fails.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from importlib.metadata import distributions
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROOMS = (
    "geometry", "nest/verify", "nest/pieces", "nest/job", "nest/accounts", "nest/cutplan", "nest/selection",
    "nest/stock", "nest/ledger", "nest/edits", "nest/sheets", "nest/stretch", "nest/trial", "nest/test_planfile.py",
    "nest/test_cli.py", "nest/report/test_workbook.py", "nest/placement/test_settle.py",
    "nest/placement/test_resize.py", "test_public.py",
)
"""Tests that between them use every library that the program needs."""

NOT_COMPARED = 3
"""Exit code where another Python has not the libraries of this one."""

COMPARED = {".json", ".html", ".dxf", ".csv", ".xlsx"}


def run(*command: str | Path, cwd: Path, **environment: str) -> bool:
    """Run a command; whether it ended well."""
    print("$", *command, flush=True)
    begin = time.monotonic()
    code = subprocess.run([*map(str, command)], cwd=cwd, env=os.environ | environment, check=False).returncode
    print(f"  code {code}, {time.monotonic() - begin:.0f} s", flush=True)
    return code == 0


def tested(folder: Path, python: str, *resolution: str) -> bool:
    """Install the program with its test libraries, and run the tests."""
    mine = folder / "venv/bin/python"
    install = ("-m", "uv", "pip", "install", "--quiet", "--python", mine, *resolution, f"{ROOT}[test]")
    return (
        run(python, "-m", "venv", folder / "venv", cwd=folder)
        and run(mine, "-m", "pip", "install", "--quiet", "uv", cwd=folder)
        and run(mine, *install, cwd=folder)
        and run(mine, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *(f"tests/{room}" for room in ROOMS),
                cwd=ROOT, PYTHONPATH=str(ROOT), NUMBA_CACHE_DIR=str(folder / "compiled"))
    )


def same(folder: Path, python: str) -> bool:
    """Run the demo job under this Python and another, and hold what they write side by side."""
    mine, job = folder / "venv/bin/python", ROOT / "demo_data/job.toml"
    program = ("-c", "from nest.cli import main; main()")
    command = (*program, "run", job, "--passes", "1", "--no-figures", "--quiet", "--out")
    # in one place and at one time, for drawings and sheets state both
    settled = {"SOURCE_DATE_EPOCH": "1", "PYTHONPATH": str(ROOT)}
    libraries = folder / "libraries.txt"
    libraries.write_text("".join(f"{one.name}=={one.version}\n" for one in distributions() if one.name != "vampyield"))
    if not (
        run(python, "-m", "venv", folder / "venv", cwd=folder)
        and run(mine, "-m", "pip", "install", "--quiet", "--constraint", libraries, ROOT, cwd=folder)
    ):
        print(f"the libraries cannot be installed under {python}: nothing is compared")
        sys.exit(NOT_COMPARED)
    if not (
        run(sys.executable, *command, folder / "here", cwd=folder, **settled)
        and run(mine, *command, folder / "there", cwd=folder, NUMBA_CACHE_DIR=str(folder / "compiled"), **settled)
    ):
        return False
    here, there = (
        {path.relative_to(out): path.read_bytes() for path in out.rglob("*") if path.suffix in COMPARED}
        for out in (folder / "here", folder / "there")
    )
    differ = sorted(str(name) for name in here.keys() | there.keys() if here.get(name) != there.get(name))
    print(f"  {len(here)} files, {len(differ)} differ {' '.join(differ[:5])}")
    return bool(here) and not differ


def built(folder: Path, python: str) -> bool:
    """Build sdist and wheel, install the wheel in an empty environment, and run the demo with it."""
    maker, mine = folder / "maker/bin/python", folder / "venv/bin/python"
    if not (
        run(python, "-m", "venv", folder / "maker", cwd=folder)
        and run(maker, "-m", "pip", "install", "--quiet", "build", cwd=folder)
        and run("git", "clone", "--quiet", ROOT, folder / "source", cwd=folder)
        and run(maker, "-m", "build", "--outdir", folder / "dist", folder / "source", cwd=folder)
    ):
        return False
    (wheel,), (source,) = (folder / "dist").glob("*.whl"), (folder / "dist").glob("*.tar.gz")
    print(f"  {wheel.name}: {wheel.stat().st_size / 1e3:.0f} kB; {source.name}: {source.stat().st_size / 1e3:.0f} kB")
    away, program = folder / "away", folder / "venv/bin/vampyield"
    away.mkdir()
    return (
        run(python, "-m", "venv", folder / "venv", cwd=away)
        and run(mine, "-m", "pip", "install", "--quiet", wheel, cwd=away)
        and run(program, "demo", "job", cwd=away, PYTHONPATH="")
        and run(program, "guide", "files", "--help", cwd=away, PYTHONPATH="")
        and run(program, "estimate", "job/job.toml", cwd=away, PYTHONPATH="")
        and run(program, "run", "job/job.toml", "--out", "out", "--seconds", "10", "--quiet", cwd=away, PYTHONPATH="")
        and run(program, "verify", "out/drawings/hide-H05.dxf", cwd=away, PYTHONPATH="")
    )


def main() -> int:
    """Do what is asked in a folder that is removed afterwards."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=("oldest", "newest", "same", "built"))
    parser.add_argument("--python", default=sys.executable, help="Python to make the environments with")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if arguments.what in {"same", "built"}:
            well = {"same": same, "built": built}[arguments.what](folder, arguments.python)
        else:
            lowest = ("--resolution", "lowest-direct") if arguments.what == "oldest" else ()
            well = tested(folder, arguments.python, *lowest)
    print(f"{arguments.what}: {'all well' if well else 'FAILED'}")
    return 0 if well else 1


if __name__ == "__main__":
    sys.exit(main())
