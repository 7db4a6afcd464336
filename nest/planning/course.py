"""How the plan of each leather came to be what it is: every time it became better while it was made."""

from dataclasses import dataclass, field, replace

from nest.plan import Course, Step


@dataclass(frozen=True, slots=True)
class Courses:
    """Courses of all leathers; grow as a plan is made, and only by what is better than the last."""

    of_leather: dict[str, Course] = field(default_factory=dict)

    def begin(self, leather: str, spent: float) -> None:
        """A leather is worked on from now; one that was before goes on."""
        self.of_leather.setdefault(leather, Course(leather, spent, spent, ()))

    def note(self, leather: str, step: Step) -> None:
        """Note what a leather's plan is now, if that is better than what was known."""
        course = self.of_leather[leather]
        if not course.steps or _rank(step) < _rank(course.steps[-1]):
            course = replace(course, steps=(*course.steps, step))
        self.of_leather[leather] = replace(course, end=step.spent)

    @property
    def known(self) -> tuple[Course, ...]:
        """Courses of the leathers of which something is cut."""
        return tuple(course for course in self.of_leather.values() if course.steps)


def _rank(step: Step) -> tuple[int, object, int]:
    """Less is better."""
    return round(step.missing_mm2), step.cost, step.hides
