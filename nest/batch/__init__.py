"""Many jobs at once: which there are, which are finished, and a cluster that runs the rest."""
