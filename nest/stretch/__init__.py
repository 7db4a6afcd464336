"""The stretch test: from extensions of strips cut at several angles to the direction in which a material gives most."""
