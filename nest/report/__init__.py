"""Figures, summary page and tables."""
