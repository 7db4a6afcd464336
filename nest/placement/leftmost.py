"""Lay items down one after the other, each as far to one end of its ground as is found: a layout without any search.

The bottom-left rule (Baker, Coffman & Rivest 1980, doi:10.1137/0209064), for outlines of any shape: places are drawn at
random, one that is free and further to the left than the best so far is slid left and down as far as it goes.
"""

import numpy as np

from geometry.compiled import Whole, compiled
from nest.placement._cost import Model, State, pose_cost, put, uniform
from nest.placement._poses import sample

PLACES = 1500
"""Places drawn for every item."""

DOWN = 0.05
"""How much further to the left a place may lie for being one further down."""

FIRST_STEP, LAST_STEP = 0.5, 0.002
"""Steps of sliding, as shares of the item's size."""


@compiled
def lay_leftmost(model: Model, state: State, i: Whole, k: Whole, places: int) -> bool:
    """Lay item i down as kind k; whether a place free of overlap was found for it."""
    s, e = model.form_start[k], model.form_start[k + 1]
    least = np.inf
    ba, bx, by = 0, 0.0, 0.0
    for _ in range(places):
        a = model.form_angle[s + int(uniform(state.random) * (e - s))]
        x, y = sample(model, state, k, a)
        if x + DOWN * y >= least or pose_cost(model, state, i, k, a, x, y, np.inf) > 0.0:
            continue
        step = FIRST_STEP * model.size[k]
        while step > LAST_STEP * model.size[k]:
            if pose_cost(model, state, i, k, a, x - step, y, np.inf) <= 0.0:
                x -= step
            elif pose_cost(model, state, i, k, a, x, y - step, np.inf) <= 0.0:
                y -= step
            else:
                step *= 0.5
        if x + DOWN * y < least:
            least, ba, bx, by = x + DOWN * y, a, x, y
    if least < np.inf:
        put(model, state, i, k, ba, bx, by)
    return least < np.inf
