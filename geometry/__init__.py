"""Plane geometry for placing outlines: knows nothing of shoes, leather or money."""
