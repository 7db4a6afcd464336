"""How many threads pay."""

import os


def cores() -> int:
    """How many processor cores this process may use, at least one."""
    allowed = getattr(os, "sched_getaffinity", None)  # not on every system
    return len(allowed(0)) if allowed else os.cpu_count() or 1
