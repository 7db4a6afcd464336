"""How trim left drifts over weeks, by size, side and lot; and what of it the allowances should follow."""

from nest.drift.advice import Advice, Conclusion, advised, revisions_of
from nest.drift.record import COLUMNS, Measured, of_outcomes, of_trial, read_record, with_more
from nest.drift.weeks import Drift, Effect, PartDrift, SizeTrim, WeekTrim, drift_of

__all__ = [
    "COLUMNS", "Advice", "Conclusion", "Drift", "Effect", "Measured", "PartDrift", "SizeTrim", "WeekTrim", "advised",
    "drift_of", "of_outcomes", "of_trial", "read_record", "revisions_of", "with_more",
]
