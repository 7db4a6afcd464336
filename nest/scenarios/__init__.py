"""Leathers × rolls × allowances × quantities × rules of one job, costed and set in one table, cheapest first."""

from nest.scenarios.atonce import AtOnce, AtOnceCosts, CurvePoint
from nest.scenarios.combine import Scenario, combined
from nest.scenarios.cost import Costed, Ranked, Scenarios, cost_scenarios
from nest.scenarios.moved import Moved, moved_job

__all__ = [
    "AtOnce", "AtOnceCosts", "Costed", "CurvePoint", "Moved", "Ranked", "Scenario", "Scenarios", "combined",
    "cost_scenarios", "moved_job",
]
