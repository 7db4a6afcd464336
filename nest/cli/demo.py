"""The command `demo`: a copy of the demo job."""

import shutil
from pathlib import Path
from typing import Annotated

import typer

import nest
from nest.atomic import atomic_folder
from nest.cli import options
from nest.cli.screen import Screen
from nest.errors import PlanProblem

DEMO_FOLDER = Path(nest.__file__).parent.parent / "demo_data"
"""Beside the package, both in a clone and where a wheel is installed."""

_JOB_FILE = "job.toml"
_NOT_COPIED = shutil.ignore_patterns("*.py", "__pycache__")
_NEVER_THERE = ".vampyield-demo"


def demo(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new or empty folder.")],
    quiet: options.Quiet = False,
) -> None:
    """Copy the demo job into DIR: an invented order of two styles, with invented sides and rolls."""
    job = copy_demo(folder)
    Screen(quiet).say(f"The demo job is in {folder}; next: vampyield run {job} --out OUT")


def copy_demo(folder: Path) -> Path:
    """Copy the demo job into the new or empty `folder` and return the path of its job file.

    Raises
    ------
    PlanProblem
        If the folder holds files, or the demo data were not installed.
    """
    if not (DEMO_FOLDER / _JOB_FILE).is_file():
        raise PlanProblem("the demo data are not installed beside the program; install it again with its demo data")
    # No folder holds this marker: one with files in it, the user's own jobs, is always refused.
    with atomic_folder(folder, marker=_NEVER_THERE) as out:
        shutil.copytree(DEMO_FOLDER, out, ignore=_NOT_COPIED, dirs_exist_ok=True)
    return folder / _JOB_FILE
