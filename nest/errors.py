"""What can go wrong for a user, as one tree.

    VampYieldError
    ├── InputProblems      what the user gave cannot be used; carries every problem found
    ├── PlanProblem        a plan cannot be made, read or written
    ├── LedgerProblem      the ledger cannot be used, or cannot book what is asked
    │   └── Taken          somebody else booked the same thing first
    └── NoRoom             what is asked for is right, but no ground is left for it
"""

from collections.abc import Iterable
from dataclasses import dataclass

from nest.limits import MOST_PROBLEMS
from nest.text import shown


class VampYieldError(Exception):
    """Base of every error a user may see; its text is one clear sentence or a list of them."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong with the input.

    `where` names file and line or entity ("order.csv, line 4"); `expected` and `found` say what is
    wrong, `remedy` how to mend it.
    """

    where: str
    expected: str
    found: str
    remedy: str

    def __str__(self) -> str:
        # Whatever a file brought along, one problem stays one line.
        return shown(f"{self.where}: expected {self.expected}, found {self.found}; {self.remedy}.")


class InputProblems(VampYieldError, ValueError):
    """Everything that is wrong with the input, reported together: `MOST_PROBLEMS` at most, and how many `more`.

    `more` is None where reading stopped at that many.
    """

    def __init__(self, problems: Iterable[Problem], more: int | None = 0):
        found = tuple(problems)
        self.problems = found[:MOST_PROBLEMS]
        lines = [str(problem) for problem in self.problems]
        if more is None:
            lines.append("There may be more; mend these first.")
        elif more := more + len(found) - len(self.problems):
            lines.append(f"And {more} more; mend these first.")
        super().__init__("\n".join(lines))


class PlanProblem(VampYieldError, ValueError):
    """A plan that cannot be made, read or written; the text is one sentence with the remedy."""


class NoRoom(VampYieldError):
    """There is no room for a piece that may be cut; the text says which piece, where, and why."""


class LedgerProblem(VampYieldError):
    """The ledger cannot be opened, read or written, or what is to be booked does not fit what it holds."""


class Taken(LedgerProblem):
    """Somebody else has booked the same hide, roll or order since it was read; nothing was booked."""
