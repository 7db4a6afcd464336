"""What the last half of a search brought, and what twice the time would likely bring, from the course of the plan.

Twice the time seldom brings more than the doubling before it: each hide that is saved is harder to save than the last.
So what the last half brought is the most that is to be expected; and where the half before it brought more, the fall
from the one to the other is taken to go on. Whole hides are saved or none: of one order the figure says how much there
is to hope for, not what will come. Where there was no plan of the whole order by half of the time nobody can tell.
"""

from dataclasses import dataclass
from decimal import Decimal

from nest.plan import Course, Step


@dataclass(frozen=True, slots=True)
class MoreTime:
    """One leather: its plan at the end of its search, and by half of it; None where there was none by then.

    effort : of the search, seconds or searches.
    likely : what twice the effort would likely save; None where it is not known.
    """

    leather: str
    effort: float
    now: Step | None
    before: Step | None
    likely: Decimal | None

    @property
    def saved(self) -> Decimal | None:
        """What the last half saved; None where the plan by half was none, or short of more."""
        if self.now is None or self.before is None or self.before.missing_mm2 > self.now.missing_mm2:
            return None
        return self.before.cost - self.now.cost

    @property
    def hides_saved(self) -> int:
        """Hides that the last half saved."""
        return 0 if self.now is None or self.before is None else self.before.hides - self.now.hides


def more_time(course: Course) -> MoreTime:
    """What there is to say of the search for one leather."""
    effort = course.end - course.begin
    now, before, early = (_by(course, course.begin + share * effort) for share in (1.0, 0.5, 0.25))
    found = MoreTime(course.leather, effort, now, before, None)
    likely = found.saved
    if now is None or before is None or likely is None:
        return found
    if early is not None and early.missing_mm2 <= now.missing_mm2 and early.cost > before.cost:
        likely = min(likely, likely * likely / (early.cost - before.cost))
    return MoreTime(course.leather, effort, now, before, likely)


def _by(course: Course, spent: float) -> Step | None:
    """The plan that was known by then."""
    return next((step for step in reversed(course.steps) if step.spent <= spent), None)
