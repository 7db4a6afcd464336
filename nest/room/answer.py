"""What the search for room answers, and what the answer proves."""

from dataclasses import dataclass

from geometry.pose import Pose


@dataclass(frozen=True, slots=True)
class Answer:
    """Poses of a unit's pieces, or none, and how far that is proved.

    complete : nothing that was to be looked at was left out: where there are no poses, none exist at the headings
        looked at. Always so with poses.
    every_heading : that holds for all allowed headings, those between the ones looked at too.
    step_deg : width of the narrowest range of headings that had to be looked at by itself; 0 if none had to.
    why : what stands in the way, in words; empty with poses.
    """

    poses: tuple[Pose, ...] = ()
    complete: bool = True
    every_heading: bool = True
    step_deg: float = 0.0
    why: str = ""

    @property
    def found(self) -> bool:
        """Whether there is room."""
        return bool(self.poses)


def together(answers: list[Answer], why: str = "") -> Answer:
    """The first answer with poses, else one for all of them: no better proved than the least of them.

    why : what stands in the way, if all are complete; by default what the first says.
    """
    for answer in answers:
        if answer.found:
            return answer
    return Answer(
        (), all(one.complete for one in answers), all(one.every_heading for one in answers),
        min((one.step_deg for one in answers if one.step_deg > 0.0), default=0.0),
        next((one.why for one in answers if not one.complete), why or answers[0].why),
    )
