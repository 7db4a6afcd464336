"""The one way loops are compiled here."""

from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeAlias, TypeVar

import numpy as np
from numba import config, njit

from geometry.loopcache import KeptLoop, loop_folder

if not vars(config)["CACHE_DIR"]:
    vars(config)["CACHE_DIR"] = str(loop_folder())

Loop = TypeVar("Loop", bound=Callable[..., Any])

Whole: TypeAlias = int | np.integer[Any]
"""A whole number in a loop: an index of an array is unsigned where that saves a test of its sign."""


def _way(**options: Any) -> Callable[[Loop], Loop]:
    """The decorator, which leaves a loop's signature as it is written."""
    made = njit(nogil=True, error_model="numpy", **options)

    def way(loop: Loop) -> Loop:
        dispatcher: Any = made(loop)
        with suppress(RuntimeError):  # where nothing can be written anywhere
            dispatcher._cache = KeptLoop(loop)
        found: Loop = dispatcher
        return found

    return way


compiled = _way()
"""For loops that make arrays."""

uncounted = _way(_nrt=False)
"""For inner loops that make no arrays.

Without reference counts a call that passes tables by value is ten times faster (48 against 575 ns for
a penetration depth): counting touches every array of every tuple at every call.
"""

inlined = _way(_nrt=False, forceinline=True)
"""For what the innermost loops call: passing the tables to a function costs as much as a quarter of a depth."""
