"""Which plan a drawing is of, and when it was written: nothing but that time differs between two writes of a plan."""

import os
import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256

from nest.clock import now
from nest.errors import PlanProblem
from nest.job.cutting_table import PLAIN_TABLE
from nest.job.job import Settings
from nest.plan import Plan
from nest.planfile import plan_text

EPOCH = "SOURCE_DATE_EPOCH"
"""Environment variable that states the time of writing (reproducible-builds.org, SOURCE_DATE_EPOCH specification)."""

STAMPED = re.compile(r"Plan (?P<plan_id>[0-9a-f]{8}), written (?P<written>\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ)\.")
"""The sentence of a stamp."""

_DIGITS = 8


@dataclass(frozen=True, slots=True)
class Stamp:
    """The id of a plan, and a time in UTC as ISO 8601 has it: 2026-03-02T05:50:00Z."""

    plan_id: str
    written: str

    def told(self) -> str:
        """The sentence that a drawing bears."""
        return f"Plan {self.plan_id}, written {self.written}."


def stamp_of(plan: Plan, time: str = "") -> Stamp:
    """The stamp of `plan` at a stated time, or now. Raises PlanProblem for what is no time."""
    return Stamp(plan_id(plan), stated_time(time) if time else time_now())


def plan_id(plan: Plan) -> str:
    """The first digits of the SHA-256 of what the plan file holds, but for the cutting table and the DXF version.

    So the drawings of one plan for several tables have one id.
    """
    settings = replace(plan.settings, table=PLAIN_TABLE, dxf_version=Settings().dxf_version)
    return sha256(plan_text(replace(plan, settings=settings)).encode()).hexdigest()[:_DIGITS]


def stated_time(text: str) -> str:
    """A time in ISO 8601 as a stamp has it, UTC where it names no zone. Raises PlanProblem for what is none."""
    try:
        time = datetime.fromisoformat(text)
        return _told(time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC))
    except (ValueError, OverflowError):
        raise PlanProblem(f"the time {text!r} cannot be read; write it like 2026-03-02T05:50:00Z") from None


def time_now() -> str:
    """The time of writing: as the environment states it, else the clock's. Raises PlanProblem for a malformed one."""
    stated = os.environ.get(EPOCH, "")
    if not stated:
        return _told(now())
    try:
        return _told(datetime.fromtimestamp(int(stated), UTC))
    except (ValueError, OverflowError, OSError):
        raise PlanProblem(
            f"the environment variable {EPOCH} is {stated[:40]!r}; set it to whole seconds since 1970, or unset it"
        ) from None


def without_time(text: str) -> str:
    """A text, the time left out if it is a stamp: what check sums are taken over."""
    match = STAMPED.fullmatch(text)
    return f"Plan {match['plan_id']}, written." if match else text


def _told(time: datetime) -> str:
    return f"{time.year:04d}-{time:%m-%dT%H:%M:%SZ}"
