"""A hide as it lies on the table: found from points measured there, so that its drawing can follow it.

`registered` is the door: a plan, a hide and the points in, the plan for the hide as it lies out.
"""

from nest.registration.apply import Registered, registered
from nest.registration.measured import read_measured

__all__ = ["Registered", "read_measured", "registered"]
