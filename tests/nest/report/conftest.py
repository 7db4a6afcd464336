"""A plan with its accounts and verdict, made once for the tests of the report; builders of box jobs by name."""

import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from vamp_plans import vamp_plan

from nest.accounts import account
from nest.verify import verify

sys.path.append(str(Path(__file__).parents[1] / "planning"))


@pytest.fixture(scope="session")
def run():
    """Two hides of vamps and their reinforcements; interlock density given, so that only the report is tested."""
    plan = vamp_plan(2)
    accounts = account(plan, lattice=lambda ring, gap: SimpleNamespace(density=0.88))
    return SimpleNamespace(plan=plan, accounts=accounts, verdict=verify(plan))
