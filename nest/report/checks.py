"""The verdict in words: what was checked, and whether it was found right."""

from dataclasses import dataclass

from nest.plan import Plan
from nest.verify.verdict import Rule, Verdict


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was checked, and the sentences of what is wrong with it."""

    words: str
    wrong: tuple[str, ...]

    @property
    def passed(self) -> bool:
        """Whether nothing is wrong."""
        return not self.wrong


def checks_on(plan: Plan, verdict: Verdict, where: str | None = None) -> tuple[Check, ...]:
    """What the judge checked on one hide or lay (`where` is its id), or on all of the plan."""
    settings = plan.settings
    margin = _margin(plan, where)
    gaps = f"at least {settings.hide_gap_mm:g} mm on hides and {settings.roll_gap_mm:g} mm on rolls"
    groups = (
        ("Ids, outlines and positions are usable; every piece lies on its style's material",
         (Rule.IDS, Rule.SHAPE, Rule.MATERIAL)),
        (f"Cut lines inside the material{margin}, clear of holes", (Rule.OUTSIDE, Rule.HOLE, Rule.MARGIN)),
        (f"No overlaps; cut lines {gaps} apart", (Rule.OVERLAP, Rule.DUPLICATE, Rule.GAP)),
        ("Every heading allowed by the stretch of all the ground under the net area", (Rule.DIRECTION, Rule.ONE_WAY)),
        ("Net area on ground good enough and clear of flaws", (Rule.NET_CLASS, Rule.NET_UNZONED, Rule.NET_FLAW)),
        ("Trim-off band only on ground and flaws it may cover", (Rule.TRIM_CLASS, Rule.TRIM_FLAW)),
        ("Pairs belong together; right pieces are left ones mirrored", (Rule.PAIR, Rule.MIRROR)),
        ("The plan agrees with itself: pieces with templates and allowances, order, stock and what is cut",
         (Rule.PIECE, Rule.FIGURE, Rule.WITHDRAWN)),
        ("The lays fit on the roll", (Rule.ROLL_LENGTH,)),
    )
    # What is wrong with the plan as a whole is wrong with every hide and lay of it.
    found = [f for f in verdict.wrong if where is None or f.where in (where, "plan")]
    return tuple(
        Check(words, tuple(f.sentence for f in found if f.rule in rules))
        for words, rules in groups
        if where is None or Rule.ROLL_LENGTH not in rules
    )


ELSEWHERE = "The plan has not passed its checks, for something that does not lie here: see its report."
"""What a sheet says of a plan that is wrong elsewhere: nothing of it may be cut, as its drawings say too."""


def right_and_wrong(plan: Plan, verdict: Verdict, where: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What was checked on one hide or lay and found right, and every sentence of what is wrong, `ELSEWHERE` too."""
    checks = checks_on(plan, verdict, where)
    wrong = tuple(sentence for check in checks for sentence in check.wrong)
    return tuple(check.words for check in checks if check.passed), wrong or (() if verdict.ok else (ELSEWHERE,))


def _margin(plan: Plan, where: str | None) -> str:
    """The margin that cut lines keep from the edge of one hide, or of all, in words; "" where there is none."""
    least = plan.settings.edge_margin_mm
    own = [least + hide.margin_mm for hide in plan.hides if where in (None, hide.hide_id)] or [least]
    margins = f"{min(own):g}" if min(own) == max(own) else f"{min(own):g} to {max(own):g}"
    return f", {margins} mm from its edge" if max(own) else ""


def verdict_words(verdict: Verdict) -> str:
    """The verdict in a few words."""
    wrong = len(verdict.wrong)
    if not verdict.ok:
        return f"not verified: {wrong} {'finding' if wrong == 1 else 'findings'}; do not cut"
    return "verified" if verdict.order_met else "verified; the order is not met"
