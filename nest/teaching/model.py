"""A logistic model with shrinkage: what each of several factors does to the chance that a piece fails.

log odds of failing = intercept + one effect for each factor's level + one for the hide

Effects of a factor are normal about zero with a spread of their own, which the data tell: levels that do not differ are
drawn together, and a level of few pieces is drawn to the others (partial pooling). Levels in order, such as bands of an
angle, have steps from one to the next in place of effects, so that neighbours are alike. Hides differ too; pieces of
one hide are not independent, and intervals that took them for that would be too narrow.

Effects given the spreads are found by Newton's method, and normal about that (Laplace); over the spreads it is
summed at points about the likeliest ones, weighted (importance sampling). Hides are eliminated by the Schur complement.

References
----------
A. Gelman, J. Hill (2007), Data Analysis Using Regression and Multilevel/Hierarchical Models, chapters 14 and 15.
H. Rue, S. Martino, N. Chopin (2009), Approximate Bayesian inference for latent Gaussian models by using integrated
nested Laplace approximations, J. R. Statist. Soc. B 71, 319-392.
"""

from dataclasses import dataclass, replace
from math import log

import numpy as np

ORDERED_SPREAD, LEVEL_SPREAD, HIDE_SPREAD = 0.7, 1.0, 0.7
"""Scale of the half-normal that a spread of log odds has before any data: steps, levels, hides."""

INTERCEPT, INTERCEPT_SPREAD = -3.0, 3.0
"""Log odds of failing before any data: 5 %, give or take everything."""

POINTS, DRAWS, SEED = 48, 1_000, 1
LOGIT_NORMAL = 0.345843
"""(16 √3 ÷ 15 π)²: Zeger, Liang & Albert (1988), Biometrics 44, 1049-1060, for the mean over hides; from memory."""

_ROUNDS, _CLOSE, _HALVINGS = 40, 1e-8, 30
_LEAST_SPREAD = 1e-4


@dataclass(frozen=True, slots=True)
class Design:
    """Rows of pieces that are alike, and what is known of them.

    x : (rows, p) the intercept's column first.
    factor : (p,) which factor a column belongs to, −1 for the intercept.
    scale : by factor, of the half-normal of its spread.
    failed, tried : (rows,) pieces.
    hide : (rows,) index of the hide, from 0; all 0 where hides are not told apart.
    """

    x: np.ndarray
    factor: np.ndarray
    scale: np.ndarray
    failed: np.ndarray
    tried: np.ndarray
    hide: np.ndarray

    @property
    def hides(self) -> int:
        """How many hides there are; with one alone its effect cannot be told from the rest."""
        return int(self.hide.max()) + 1 if len(self.hide) else 1


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The likeliest effects under given spreads.

    beta, hide_effect : effects; root : lower Cholesky factor of the precision of beta.
    log_evidence : logarithm of the chance of the data, by Laplace; weight : working weights by row.
    """

    beta: np.ndarray
    hide_effect: np.ndarray
    root: np.ndarray
    log_evidence: float
    eta: np.ndarray
    weight: np.ndarray
    hide_variance: np.ndarray


def fit(design: Design, spreads: np.ndarray, start: "Fit | None" = None) -> Fit:
    """Effects given spreads: of each factor, then of hides (0 for no effect of them).

    A spread that is infinite leaves its effects free: then this is plain maximum likelihood.
    """
    from scipy.linalg import solve_triangular

    x, k, n, hide, hides = design.x, design.failed, design.tried, design.hide, design.hides
    precision = _precision(design, spreads)
    free = np.array([INTERCEPT if f < 0 else 0.0 for f in design.factor])
    own = spreads[-1] > 0.0 and hides > 1
    inverse = spreads[-1] ** -2.0 if own else 1.0
    beta, effect = (free.copy(), np.zeros(hides)) if start is None else (start.beta, start.hide_effect)
    if not own:
        effect = np.zeros(hides)

    def penalised(beta: np.ndarray, effect: np.ndarray) -> tuple[float, np.ndarray]:
        eta = x @ beta + effect[hide]
        value = float(k @ eta - n @ np.logaddexp(0.0, eta))
        return value - 0.5 * float(precision @ (beta - free) ** 2) - 0.5 * inverse * float(effect @ effect), eta

    value, eta = penalised(beta, effect)
    for _ in range(_ROUNDS):
        share = expit(eta)
        weight, residual = n * share * (1.0 - share), k - n * share
        weighted = x * weight[:, None]
        whole = x.T @ weighted + np.diag(precision)
        slope = x.T @ residual - precision * (beta - free)
        if own:
            crossed = _by_hide(weighted, hide, hides)
            diagonal = np.bincount(hide, weight, hides) + inverse
            pull = np.bincount(hide, residual, hides) - inverse * effect
            whole = whole - crossed.T @ (crossed / diagonal[:, None])
            slope = slope - crossed.T @ (pull / diagonal)
        root = np.linalg.cholesky(whole + 1e-10 * np.eye(len(whole)))
        step = solve_triangular(root.T, solve_triangular(root, slope, lower=True), lower=False)
        hide_step = (pull - crossed @ step) / diagonal if own else np.zeros(hides)
        for _ in range(_HALVINGS):
            new, new_eta = penalised(beta + step, effect + hide_step)
            if new >= value - 1e-12 * abs(value):
                break
            step, hide_step = 0.5 * step, 0.5 * hide_step
        gain, value, eta = new - value, new, new_eta
        beta, effect = beta + step, effect + hide_step
        if gain < _CLOSE:
            break
    held = precision[np.isfinite(precision) & (precision > 0.0)]
    evidence = value + 0.5 * float(np.log(held).sum()) - float(np.log(np.diag(root)).sum())
    variance = np.zeros(hides)
    if own:
        evidence += 0.5 * hides * log(inverse) - 0.5 * float(np.log(diagonal).sum())
        part = solve_triangular(root, (crossed / diagonal[:, None]).T, lower=True)
        variance = 1.0 / diagonal + (part**2).sum(axis=0)
    return Fit(beta, effect, root, evidence, eta, weight, variance)


def _precision(design: Design, spreads: np.ndarray) -> np.ndarray:
    by_factor = np.append(spreads[:-1], INTERCEPT_SPREAD)  # the intercept's −1 takes the last
    return by_factor[design.factor] ** -2.0


def _by_hide(weighted: np.ndarray, hide: np.ndarray, hides: int) -> np.ndarray:
    """Sums of the rows of each hide, (hides, p)."""
    found = np.empty((hides, weighted.shape[1]))
    for column in range(weighted.shape[1]):
        found[:, column] = np.bincount(hide, weighted[:, column], hides)
    return found


def covariance(found: Fit) -> np.ndarray:
    """Covariance of the effects given the spreads."""
    from scipy.linalg import solve_triangular

    inverse = solve_triangular(found.root, np.eye(len(found.root)), lower=True)
    return inverse.T @ inverse


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Effects as the data leave them.

    draws : (DRAWS, p) effects; hide_spread : (DRAWS,).
    spreads : the likeliest ones, of factors and hides; best : the fit there.
    """

    draws: np.ndarray
    hide_spread: np.ndarray
    spreads: np.ndarray
    best: Fit


def posterior(design: Design, points: int = POINTS, draws: int = DRAWS) -> Posterior:
    """What the data say of all effects, spreads integrated over."""
    from scipy.linalg import solve_triangular

    scales = np.append(design.scale, HIDE_SPREAD)
    own = design.hides > 1
    spreads, best = _likeliest(design, scales)

    def log_weight(theta: np.ndarray, start: Fit) -> tuple[float, Fit]:
        now = np.maximum(np.exp(theta), _LEAST_SPREAD)
        if not own:
            now[-1] = 0.0
        found = fit(design, now, start)
        prior = float((theta - 0.5 * (np.exp(theta) / scales) ** 2).sum())
        return found.log_evidence + prior, found

    centre = np.log(np.maximum(spreads, _LEAST_SPREAD))
    if not own:
        centre[-1] = np.log(HIDE_SPREAD)
    middle, best = log_weight(centre, best)
    width = np.empty(len(centre))
    for f in range(len(centre)):
        # how far the weight reaches on either side decides how far the points do
        falls = []
        for side in (-0.8, 0.8):
            theta = centre.copy()
            theta[f] += side
            falls.append(middle - log_weight(theta, best)[0])
        curve = (falls[0] + falls[1]) / 0.64
        width[f] = 1.0 / np.sqrt(max(curve, 0.8))
    rng = np.random.default_rng(SEED)
    cube = rng.standard_normal((points // 2, len(centre)))
    cube = np.concatenate([cube, -cube])
    fits, logs = [], []
    for z in cube:
        theta = centre + 1.2 * width * z
        value, found = log_weight(theta, best)
        fits.append(replace(found, beta=_given_back(design, found, float(np.exp(theta[-1])))) if own else found)
        logs.append(value + 0.5 * float(z @ z))
    weight = np.exp(np.array(logs) - max(logs))
    weight /= weight.sum()
    # systematic resampling: every point gets its share of draws, within one
    chosen = np.searchsorted(np.cumsum(weight), (np.arange(draws) + 0.5) / draws)
    chosen = np.minimum(chosen, points - 1)
    drawn = np.empty((draws, design.x.shape[1]))
    for point in np.unique(chosen):
        at = np.flatnonzero(chosen == point)
        noise = rng.standard_normal((design.x.shape[1], len(at)))
        drawn[at] = fits[point].beta + solve_triangular(fits[point].root.T, noise, lower=False).T
    hide_spread = np.exp(centre[-1] + 1.2 * width[-1] * cube[chosen, -1]) if own else np.zeros(draws)
    return Posterior(drawn, hide_spread, spreads, best)


def _given_back(design: Design, found: Fit, spread: float) -> np.ndarray:
    """The effects with the intercept lowered by what hides of this spread raise the mean rate.

    The likeliest effects of hides are drawn together more than hides are, so that the intercept beside them stands too
    high for hides at large.
    """
    plain = design.x @ found.beta
    seen = float(design.tried @ expit(found.eta))
    expected = float(design.tried @ over_hides(plain, spread))
    beta = found.beta.copy()
    beta[0] += log(seen / expected)
    return beta


def over_hides(eta: np.ndarray, spread) -> np.ndarray:
    """Mean rate over hides whose log odds have this spread about `eta`."""
    return expit(eta / np.sqrt(1.0 + LOGIT_NORMAL * np.square(spread)))


def expit(eta: np.ndarray) -> np.ndarray:
    """The chance of these log odds."""
    return 1.0 / (1.0 + np.exp(-eta))


def _likeliest(design: Design, scales: np.ndarray) -> tuple[np.ndarray, Fit]:
    """Spreads by expectation and maximisation, with the half-normal of each; where to look, no more."""
    spreads = 0.5 * scales
    best: Fit | None = None
    if design.hides < 2:
        spreads[-1] = 0.0
    for _ in range(25):
        best = fit(design, spreads, best)
        own = np.diag(covariance(best)) + best.beta**2
        old = spreads.copy()
        for f, scale in enumerate(design.scale):
            mine = own[design.factor == f]
            spreads[f] = _spread(len(mine), float(mine.sum()), scale)
        if design.hides > 1:
            squares = float((best.hide_effect**2 + best.hide_variance).sum())
            spreads[-1] = _spread(design.hides, squares, scales[-1])
        if np.abs(np.log(np.maximum(spreads, 1e-6) / np.maximum(old, 1e-6))).max() < 0.02:
            break
    assert best is not None
    return spreads, best


def _spread(levels: int, squares: float, scale: float) -> float:
    """Where levels × log(spread) + squares ÷ (2 spread²) + spread² ÷ (2 scale²) − log(spread) is least."""
    less = levels - 1.0
    return float(np.sqrt(0.5 * scale**2 * (-less + np.sqrt(less**2 + 4.0 * squares / scale**2))))
