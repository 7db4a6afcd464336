"""Independent judge of a plan: shapely and the rules of the trade, nothing of the search that made the plan."""

from nest.verify.judge import broken, verify
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, MIRROR_TOLERANCE_MM, Checks, Finding, Rule, Verdict

__all__ = ["DISTANCE_TOLERANCE_MM", "MIRROR_TOLERANCE_MM", "Checks", "Finding", "Rule", "Verdict", "broken", "verify"]
