"""How many threads pay."""

import os

CORES_VARIABLE = "VAMPYIELD_CORES"
"""Environment variable with the most cores that a process may use, where several share the machine."""


def processor_cores() -> int:
    """How many processor cores this process may use, at least one: those it is bound to, and no more than is said."""
    allowed = getattr(os, "sched_getaffinity", None)  # not on every system
    found = len(allowed(0)) if allowed else os.cpu_count() or 1
    said = os.environ.get(CORES_VARIABLE, "")
    return max(1, min(found, int(said))) if said.isdecimal() else found


def one_core() -> None:
    """Limit this process to one core for each thing it does, unless its environment says otherwise."""
    os.environ.setdefault(CORES_VARIABLE, "1")
