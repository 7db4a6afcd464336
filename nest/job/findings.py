"""What reading a job finds: problems that refuse it, warnings of repairs, and notes for those who ask."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

from nest.errors import InputProblems, Problem
from nest.limits import MOST_PROBLEMS, MOST_WARNINGS

MORE_WARNINGS = f"There is more of the kind; the first {MOST_WARNINGS} are shown."


@dataclass(slots=True)
class Findings:
    """Collects what is found while files are read, in order; each thing once."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    refused: int = 0
    _noted: set[Problem | str] = field(default_factory=set)

    def refuse(self, where: str, expected: str, found: str, remedy: str) -> None:
        """Note a problem; the job cannot be used. Beyond `MOST_PROBLEMS` they are only counted, in `refused`."""
        problem = Problem(where, expected, found, remedy)
        if problem in self._noted:
            return
        self.refused += 1
        if len(self.problems) < MOST_PROBLEMS:
            self._noted.add(problem)
            self.problems.append(problem)

    def refuse_name(self, where: str, expected: str, name: str, known: Iterable[str]) -> None:
        """Note a name that is not known, with the likeliest that is."""
        self.refuse(where, expected, repr(name), meant(name, known))

    def warn(self, where: str, said: str) -> None:
        """Note something repaired, dropped or doubtful; the job can be used."""
        self._say(self.warnings, f"{where}: {said}.")

    def note(self, where: str, said: str) -> None:
        """Note something done as it should be, such as curves made into chords."""
        self._say(self.notes, f"{where}: {said}.")

    def _say(self, sentences: list[str], sentence: str) -> None:
        if sentence in self._noted or len(sentences) > MOST_WARNINGS:
            return
        self._noted.add(sentence)
        sentences.append(sentence if len(sentences) < MOST_WARNINGS else MORE_WARNINGS)

    def raise_problems(self) -> None:
        """Raise InputProblems if there are any problems."""
        if self.problems:
            raise self.error()

    def error(self) -> InputProblems:
        """The problems as the error that refuses the job."""
        return InputProblems(self.problems, self.refused - len(self.problems))


def listed(names: Iterable[object], last: str = "or") -> str:
    """Names in words: "a, b or c"."""
    words = [str(name) for name in names]
    return f" {last} ".join(filter(None, (", ".join(words[:-1]), words[-1]))) if words else "nothing"


def is_guess(remedy: str) -> bool:
    """Whether a remedy from `meant` is a likely name, not just a list of all."""
    return remedy.startswith("correct it (")


def meant(name: str, known: Iterable[str]) -> str:
    """Remedy for a name that is not known: the likeliest one that is, or all of them."""
    known = list(known)
    close = get_close_matches(name.casefold(), [other.casefold() for other in known], n=1, cutoff=0.6)
    if close:
        guess = next(str(other) for other in known if other.casefold() == close[0])
        return f"correct it (did you mean {guess!r}?)"
    return f"use {listed(known)}" if known else "remove it"


def clipped(value: object) -> str:
    """A value as the user wrote it, cut short when long."""
    try:
        text = repr(value) if isinstance(value, str) else str(value)
    except (RecursionError, ValueError):  # a whole number of more digits than Python writes
        return "something without end"
    return text if len(text) <= 60 else text[:57] + "..."
