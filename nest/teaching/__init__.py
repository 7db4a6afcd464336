"""What outcomes teach: rates by ground, heading, lot and reinforcement, with what can be told and what cannot."""

from nest.teaching.pieces import Seen, factors_of, seen_pieces
from nest.teaching.rates import FactorRates, LevelRate, Taught, taught
from nest.teaching.rejects import BAND_DEG, draws_of_style, rates_of_styles, taught_of

__all__ = [
    "BAND_DEG", "FactorRates", "LevelRate", "Seen", "Taught", "draws_of_style", "factors_of", "rates_of_styles",
    "seen_pieces", "taught", "taught_of",
]
