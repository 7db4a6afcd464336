"""From a job to a plan: which pieces go on which material."""
