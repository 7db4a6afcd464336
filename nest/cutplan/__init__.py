"""Files for the cutting table."""
