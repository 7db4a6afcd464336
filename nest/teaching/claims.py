"""Which factors make a difference beyond doubt: a score test of each, and a correction for asking of several.

A factor's spread of effects is tested against zero with all other factors kept, and hides, so that what another factor
explains is not claimed for it. The statistic is the sum of squares of the efficient scores of its levels; under no
effect it is a weighted sum of χ² variables, of which the chance is found by drawing. Of several factors the p-values
are corrected by Holm's rule, so that all that is claimed of one set of outcomes is right with 95 %.

References
----------
X. Lin (1997), Variance component testing in generalised linear models with random effects, Biometrika 84, 309-326.
S. Holm (1979), A simple sequentially rejective multiple test procedure, Scand. J. Statist. 6, 65-70.
Both from memory.
"""

from collections.abc import Sequence

import numpy as np

from nest.teaching.factors import Coded
from nest.teaching.model import SEED, Fit, expit, fit

NIL_DRAWS = 20_000
LEVEL = 0.05


def p_values(found: Coded, spreads: np.ndarray, start: Fit) -> np.ndarray:
    """(factors,) chance of differences as large as these if the factor made none.

    spreads : the likeliest ones; `start` the fit under them.
    """
    return np.array([_p_value(found, f, spreads, start) for f in range(len(found.factors))])


def _p_value(found: Coded, f: int, spreads: np.ndarray, start: Fit) -> float:
    design, mine = found.design, found.columns[f]
    without = spreads.copy()
    without[f] = 1e-4
    null = fit(design, without, start)
    share = expit(null.eta)
    weight = np.maximum(design.tried * share * (1.0 - share), 1e-12)
    working = null.eta + (design.failed - design.tried * share) / weight
    others = np.delete(design.x, np.arange(mine.start, mine.stop), axis=1)
    tested = design.x[:, mine]

    def solved(columns: np.ndarray) -> np.ndarray:
        """V⁻¹ times columns, V the variance of the working values: of counts, and of hides."""
        scaled = columns * weight[:, None]
        if design.hides < 2 or spreads[-1] <= 0.0:
            return scaled
        sums = np.stack([np.bincount(design.hide, column, design.hides) for column in scaled.T], axis=1)
        own = np.bincount(design.hide, weight, design.hides) + spreads[-1] ** -2.0
        return scaled - weight[:, None] * (sums / own[:, None])[design.hide]

    other_solved, tested_solved = solved(others), solved(tested)
    inner = np.linalg.pinv(others.T @ other_solved, hermitian=True, rcond=1e-10)
    cross = others.T @ tested_solved
    covariance = tested.T @ tested_solved - cross.T @ inner @ cross
    score = tested_solved.T @ working - cross.T @ (inner @ (other_solved.T @ working))
    values = np.linalg.eigvalsh(covariance)
    values = np.clip(values, 0.0, None)
    if values.max(initial=0.0) <= 1e-9 * max(1.0, np.abs(tested.T @ tested_solved).max()):
        return 1.0  # the factor says nothing that the others do not say
    draws = np.random.default_rng(SEED).chisquare(1.0, (NIL_DRAWS, len(values))) @ values
    return float((1 + np.count_nonzero(draws >= score @ score)) / (NIL_DRAWS + 1))


def claimed(p: Sequence[float], level: float = LEVEL) -> tuple[bool, ...]:
    """Which of several are claimed, by Holm's rule."""
    order = sorted(range(len(p)), key=lambda i: p[i])
    found = [False] * len(p)
    for rank, i in enumerate(order):
        if p[i] > level / (len(p) - rank):
            break
        found[i] = True
    return tuple(found)
