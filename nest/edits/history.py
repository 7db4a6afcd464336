"""Every state that a plan has been in: undone and redone, named, and gone back to."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from nest.edits.change import changed
from nest.edits.commands import (
    Command,
    EditProblem,
    Found,
    GoTo,
    NameVersion,
    PlaceAgain,
    PlaceWith,
    Redo,
    SearchCommand,
    Step,
    Undo,
)
from nest.edits.state import State


@dataclass(frozen=True, slots=True)
class Version:
    """A state, the command that made it (None of the first), and the name it was given, if any."""

    state: State
    command: Command | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """States in the sequence they came in; `at` is the index of the one that holds. What lies behind can be redone."""

    versions: tuple[Version, ...]
    at: int = 0

    @classmethod
    def of(cls, state: State) -> "History":
        """A history that begins."""
        return cls((Version(state),))

    @property
    def state(self) -> State:
        """The state that holds."""
        return self.versions[self.at].state

    @property
    def can_undo(self) -> bool:
        """Whether there is a state before."""
        return self.at > 0

    @property
    def can_redo(self) -> bool:
        """Whether there is a state behind."""
        return self.at + 1 < len(self.versions)

    def then(self, command: Command, state: State) -> "History":
        """The history with a state more; what could be redone is gone."""
        return History((*self.versions[: self.at + 1], Version(state, command)), self.at + 1)

    def undone(self) -> "History":
        """One state back; EditProblem at the first."""
        if not self.can_undo:
            raise EditProblem("there is nothing to undo.")
        return replace(self, at=self.at - 1)

    def redone(self) -> "History":
        """One state on; EditProblem at the last."""
        if not self.can_redo:
            raise EditProblem("there is nothing to redo.")
        return replace(self, at=self.at + 1)

    def named(self, name: str) -> "History":
        """The state that holds under a name; EditProblem if another has it."""
        if any(version.name == name for version in self.versions):
            raise EditProblem(f"another version is named {name!r}; choose another name.")
        versions = (*self.versions[: self.at], replace(self.versions[self.at], name=name), *self.versions[self.at + 1:])
        return replace(self, versions=versions)

    def gone_to(self, name: str, number: int | None = None) -> "History":
        """The state of this name, or of this number from 0; EditProblem if there is none."""
        if number is not None:
            if not 0 <= number < len(self.versions):
                raise EditProblem(f"there is no version {number}; see the versions.")
            return replace(self, at=number)
        for at, version in enumerate(self.versions):
            if version.name == name:
                return replace(self, at=at)
        raise EditProblem(f"no version is named {name!r}; see the versions.")


def played(history: History, step: Step, search: Callable[[State, SearchCommand], Found]) -> tuple[History, Step]:
    """The history after a step, and the step that comes to the same without a search.

    Raises
    ------
    EditProblem
        If it cannot be done; the history is as it was.
    """
    match step:
        case Undo():
            return history.undone(), step
        case Redo():
            return history.redone(), step
        case NameVersion(name):
            return history.named(name), step
        case GoTo(name, number):
            return history.gone_to(name, number), step
        case PlaceAgain() | PlaceWith():
            step = search(history.state, step)
    return history.then(step, changed(history.state, step)), step
