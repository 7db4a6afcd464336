"""Outcomes: what the press made of each piece, by the number it has on its hide; one list for all that asks."""

from nest.outcomes.outcome import Outcome, Reason
from nest.outcomes.read import is_outcome_list, read_outcomes
from nest.outcomes.spoiled import spoiled_in

__all__ = ["Outcome", "Reason", "is_outcome_list", "read_outcomes", "spoiled_in"]
