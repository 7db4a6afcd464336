"""Reading a job: job file, styles, order, hides, rolls, drawings."""
