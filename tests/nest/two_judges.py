"""Both judges on one plan, and where they differ."""

import json
from dataclasses import dataclass

from second_counts import Opinion
from second_judge import opinion

from nest.errors import InputProblems, PlanProblem
from nest.plan import Plan
from nest.planfile import plan_from_text, plan_text
from nest.verify import Rule, Verdict, verify

PROMISES = {
    "material": {Rule.OUTSIDE, Rule.HOLE, Rule.MARGIN}, "apart": {Rule.OVERLAP, Rule.DUPLICATE, Rule.GAP},
    "stretch": {Rule.DIRECTION, Rule.ONE_WAY}, "pairs": {Rule.PAIR}, "mirror": {Rule.MIRROR}, "pieces": {Rule.PIECE},
    "ground": {Rule.NET_CLASS, Rule.NET_UNZONED, Rule.NET_FLAW, Rule.TRIM_CLASS, Rule.TRIM_FLAW},
    "rolls": {Rule.ROLL_LENGTH}, "agree": {Rule.IDS, Rule.SHAPE, Rule.FIGURE, Rule.MATERIAL, Rule.WITHDRAWN},
}
"""The second judge's words for what is broken, and the first one's rules."""

@dataclass(frozen=True)
class Compared:
    """What both judges said of one plan: misses and false alarms of the first, and what was too close to tell."""

    missed: tuple[str, ...]
    alarmed: tuple[str, ...]
    close: bool
    first: Verdict
    second: Opinion


def compared(plan: Plan) -> Compared:
    """Both judges on a plan as its file states it; PlanProblem or InputProblems where no file can state it."""
    text = plan_text(plan)
    first, second = verify(plan_from_text(text)), opinion(json.loads(text))
    rules = {finding.rule for finding in first.findings}
    theirs = {promise for promise, mine in PROMISES.items() if mine & rules}
    missed, alarmed = second.broken - theirs, theirs - second.broken
    if "agree" in theirs or "agree" in second.broken:
        # What contradicts itself is not looked at further by both: they must agree that it is wrong.
        missed, alarmed = (({"agree"} if first.ok else set()), ({"agree"} if not second.broken else set()))
    else:
        counts = {"short": (first.short, second.short), "over": (first.over, second.over)}
        for name, (found, mine) in counts.items():
            if sum(one.amount for one in found) != sum(mine.values()):
                (missed if sum(one.amount for one in found) < sum(mine.values()) else alarmed).add(name)
    unsure = (missed | alarmed) & second.close
    return Compared(tuple(sorted(missed - unsure)), tuple(sorted(alarmed - unsure)), bool(unsure), first, second)


NO_FILE = (PlanProblem, InputProblems)
"""What a plan that no file can hold is refused with."""
