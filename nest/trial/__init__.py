"""Crimping trials: what was measured on crimped pieces, and the allowances that follow from it."""

from nest.trial.measured import TriedPiece, read_trial, read_trial_outcomes
from nest.trial.revise import PartResult, RejectRate, Safety, StyleRevision, jobs_to_compare, revise, revised_job

__all__ = [
    "PartResult", "RejectRate", "Safety", "StyleRevision", "TriedPiece", "jobs_to_compare", "read_trial",
    "read_trial_outcomes", "revise", "revised_job",
]
