"""Whether lots differ beyond doubt: a score test of their spread, weeks and all else kept.

Lots that were cut in weeks of their own cannot be told from these weeks, and then no difference is claimed. The
statistic is the sum of squares of the efficient scores; if lots do not differ it is a weighted sum of χ² variables.
They are divided by one of as many degrees of freedom as there are hides beyond the lots, for the scatter is estimated.

References
----------
X. Lin (1997), Variance component testing in generalised linear models with random effects, Biometrika 84, 309-326
(from memory).
"""

import numpy as np

from nest.drift.model import SEED, Design, Posterior

NIL_DRAWS = 20_000


def lot_p(design: Design, found: Posterior, mine: np.ndarray) -> float:
    """The chance of differences as large as these if lots did not differ; `mine`: (p,) which columns are theirs."""
    piece, hide = (float(found.weight @ sd**2) for sd in (found.piece_sd, found.hide_sd))
    hides = int(design.hide.max()) + 1
    weight = design.count / piece
    own = np.bincount(design.hide, weight, hides) + 1.0 / hide

    def solved(columns: np.ndarray) -> np.ndarray:
        """V⁻¹ times columns, V the variance of the rows' means: of pieces, and of hides."""
        scaled = columns * weight[:, None]
        sums = np.stack([np.bincount(design.hide, column, hides) for column in scaled.T], axis=1)
        return scaled - weight[:, None] * (sums / own[:, None])[design.hide]

    others, tested = design.x[:, ~mine], design.x[:, mine]
    other_solved, tested_solved = solved(others), solved(tested)
    inner = np.linalg.pinv(others.T @ other_solved, hermitian=True, rcond=1e-10)
    cross = others.T @ tested_solved
    covariance = tested.T @ tested_solved - cross.T @ inner @ cross
    score = tested_solved.T @ design.mean - cross.T @ (inner @ (other_solved.T @ design.mean))
    values = np.clip(np.linalg.eigvalsh(covariance), 0.0, None)
    if values.max(initial=0.0) <= 1e-9 * max(1.0, float(np.abs(tested.T @ tested_solved).max())):
        return 1.0  # lots and weeks go together
    rng, freedom = np.random.default_rng(SEED), max(1, hides - int(mine.sum()))
    nil = rng.chisquare(1.0, (NIL_DRAWS, len(values))) @ values
    nil /= rng.chisquare(freedom, NIL_DRAWS) / freedom
    return float((1 + np.count_nonzero(nil >= score @ score)) / (NIL_DRAWS + 1))
