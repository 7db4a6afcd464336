"""Crimping trials: what was measured on crimped pieces, and the allowances that follow from it."""

from nest.trial.measured import TriedPiece, read_trial
from nest.trial.revise import PartResult, RejectRate, Safety, StyleRevision, revise, revised_job

__all__ = [
    "PartResult", "RejectRate", "Safety", "StyleRevision", "TriedPiece", "read_trial", "revise", "revised_job",
]
