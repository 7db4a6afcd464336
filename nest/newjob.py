"""A new job file beside an old one, which stays as it is: the new one names the same drawings and tables."""

from pathlib import Path

from nest.atomic import atomic_path
from nest.errors import PlanProblem


def check_new_job(old: Path, new: Path, *others: Path) -> None:
    """Refuse a place for a new job, and for `others` that come with it, before time is spent.

    Raises
    ------
    PlanProblem
        If `new` is in another folder than `old`, or any of them exists: nothing is ever written over.
    """
    if new.resolve().parent != old.resolve().parent:
        raise PlanProblem(f"the new job must lie beside {old}, whose drawings it names; give a name in that folder")
    for path in (new, *others):
        if path.exists():
            raise PlanProblem(f"{path} exists and is never written over; choose another name")


def write_new_job(text: str, new: Path) -> None:
    """Write the text of a new job; errors as `nest.atomic.atomic_path`."""
    with atomic_path(new) as part:
        part.write_text(text, encoding="utf-8", newline="")
