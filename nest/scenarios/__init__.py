"""Leathers × rolls × allowances × quantities × rules of one job, costed and set in one table, cheapest first."""

from nest.scenarios.combine import Scenario, combined
from nest.scenarios.cost import Costed, Ranked, Scenarios, cost_scenarios

__all__ = ["Costed", "Ranked", "Scenario", "Scenarios", "combined", "cost_scenarios"]
