"""Rough vamps and reinforcements, from template to cut plan."""
