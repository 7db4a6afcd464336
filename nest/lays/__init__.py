"""Lays and plies for rolls: which sizes in which ratio, how many plies, from which rolls."""
