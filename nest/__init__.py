"""Graded rough vamps and reinforcements, placed on hides and rolls, costed and ready to cut.

    job = nest.read_job("job.toml")
    plan = nest.make_plan(job)
    verdict = nest.verify_plan(plan)
    accounts = nest.account(plan)
    nest.write_outputs(plan, accounts, verdict, "out")

Everything is loaded when it is first asked for: `import nest` alone takes no time.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nest.accounts import Accounts as Accounts
    from nest.accounts import account as account
    from nest.errors import InputProblems as InputProblems
    from nest.errors import PlanProblem as PlanProblem
    from nest.errors import Problem as Problem
    from nest.errors import VampYieldError as VampYieldError
    from nest.job.job import Job as Job
    from nest.job.read import read_job as read_job
    from nest.output import write_outputs as write_outputs
    from nest.pieces.make import make_pieces as make_pieces
    from nest.plan import Plan as Plan
    from nest.planfile import read_plan as read_plan
    from nest.planfile import write_plan as write_plan
    from nest.planning.make import make_plan as make_plan
    from nest.room.plan import room_in_plan as room_in_plan
    from nest.verify import Verdict as Verdict
    from nest.verify import verify as _verify

    verify_plan = _verify

_HOMES = {
    "read_job": ("nest.job.read", "read_job"),
    "make_pieces": ("nest.pieces.make", "make_pieces"),
    "make_plan": ("nest.planning.make", "make_plan"),
    "verify_plan": ("nest.verify", "verify"),
    "room_in_plan": ("nest.room.plan", "room_in_plan"),
    "account": ("nest.accounts", "account"),
    "write_plan": ("nest.planfile", "write_plan"),
    "read_plan": ("nest.planfile", "read_plan"),
    "write_outputs": ("nest.output", "write_outputs"),
    "Job": ("nest.job.job", "Job"),
    "Plan": ("nest.plan", "Plan"),
    "Verdict": ("nest.verify", "Verdict"),
    "Accounts": ("nest.accounts", "Accounts"),
    "VampYieldError": ("nest.errors", "VampYieldError"),
    "InputProblems": ("nest.errors", "InputProblems"),
    "PlanProblem": ("nest.errors", "PlanProblem"),
    "Problem": ("nest.errors", "Problem"),
}
"""Where each public name lives: module, and its name there."""

__all__ = list(_HOMES)


def __getattr__(name: str):
    """Load a public name when it is first asked for."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, inner = _HOMES[name]
    value = getattr(import_module(module), inner)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Name everything that can be asked for."""
    return sorted({*globals(), *_HOMES})
