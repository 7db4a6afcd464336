"""Yield, waste, consumption, cost."""
