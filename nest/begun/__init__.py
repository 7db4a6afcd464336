"""An order of which the cutting has begun: what is cut, what was spoiled, what is still to be cut."""
