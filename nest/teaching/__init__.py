"""What outcomes teach: rates by ground, heading, lot and reinforcement, with what can be told and what cannot."""

from nest.teaching.pieces import Seen, factors_of, seen_pieces
from nest.teaching.rates import FactorRates, LevelRate, Taught, taught
from nest.teaching.rejects import rates_of_styles

__all__ = ["FactorRates", "LevelRate", "Seen", "Taught", "factors_of", "rates_of_styles", "seen_pieces", "taught"]
