"""What a command's exit code says."""

from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nest.verify import Verdict


class Exit(IntEnum):
    """Exit codes; a usage error of the command line is bad input too."""

    DONE = 0
    """Done; where there is a plan, it passed its checks and meets the order, or what is short has room nowhere."""
    WRONG = 1
    """Done, but the checks found something wrong: nothing of the plan may be cut."""
    BAD_INPUT = 2
    """The input cannot be used or the output folder cannot be written; nothing was written."""
    SHORT = 3
    """Fewer pieces are placed than are needed: the plan passed its checks, but the order is short; or there is no room
    for a piece that is to be cut again, and nothing was written."""
    FAULT = 70
    """A fault in the program itself (EX_SOFTWARE of the BSD header sysexits.h)."""
    STOPPED = 130
    """Stopped with Ctrl-C (128 + signal 2, as shells have it)."""


def code_of(verdict: "Verdict") -> Exit:
    """The exit code for a judged plan; what is wrong weighs more than what is missing."""
    if not verdict.ok:
        return Exit.WRONG
    return Exit.DONE if verdict.order_met else Exit.SHORT
