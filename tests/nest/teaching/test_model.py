"""The model's core against published logistic fits and another way to the same estimates."""

import numpy as np
import pytest
from scipy.optimize import minimize

from nest.teaching.claims import claimed
from nest.teaching.model import Design, covariance, fit

LAUNCHES = [(66, 0), (70, 1), (69, 0), (68, 0), (67, 0), (72, 0), (73, 0), (70, 0), (57, 1), (63, 1), (70, 1), (78, 0),
            (67, 0), (53, 1), (67, 0), (75, 0), (70, 0), (81, 0), (76, 0), (79, 0), (75, 1), (76, 0), (58, 1)]
"""Temperature, °F, and whether a ring was damaged, 23 launches: Dalal, Fowlkes & Hoadley (1989), J. Am. Statist. Assoc.
84, 945-957 (from memory)."""


def test_rings_of_a_rocket():
    """Free effects are those of maximum likelihood: 15.0429 and −0.2322, errors 7.379 and 0.1082 (from memory)."""
    heat, damaged = np.array(LAUNCHES, float).T
    x = np.column_stack([np.ones(23), heat - 70.0])
    design = Design(x, np.array([0, 0]), np.array([1.0]), damaged, np.ones(23), np.zeros(23, int))
    found = fit(design, np.array([np.inf, 0.0]))
    slope = found.beta[1]
    errors = np.sqrt(np.diag(covariance(found)))
    assert slope == pytest.approx(-0.2322, abs=2e-4) and found.beta[0] - 70.0 * slope == pytest.approx(15.043, abs=5e-3)
    assert errors[1] == pytest.approx(0.1082, abs=5e-4)


def hides_of(seed: int, hides: int = 12, each: int = 8) -> Design:
    """Pieces of several hides, three levels; invented."""
    rng = np.random.default_rng(seed)
    hide = np.repeat(np.arange(hides), each)
    level = rng.integers(0, 3, len(hide))
    x = np.column_stack([np.ones(len(hide)), np.eye(3)[level]])
    failed = (rng.random(len(hide)) < 0.1 + 0.15 * level).astype(float)
    return Design(x, np.array([-1, 0, 0, 0]), np.array([1.0]), failed, np.ones(len(hide)), hide)


@pytest.mark.parametrize("seed", [1, 2])
def test_effects_and_hides_are_the_likeliest(seed):
    """scipy's minimiser finds the same effects of levels and hides from the plain sum of logarithms."""
    design = hides_of(seed)
    spreads = np.array([0.8, 0.5])
    found = fit(design, spreads)

    def against(theta: np.ndarray) -> float:
        beta, effect = theta[:4], theta[4:]
        eta = design.x @ beta + effect[design.hide]
        value = design.failed @ eta - np.log1p(np.exp(eta)).sum()
        return -(value - 0.5 * ((beta[0] + 3.0) / 3.0) ** 2 - 0.5 * (beta[1:] @ beta[1:]) / 0.64
                 - 0.5 * (effect @ effect) / 0.25)

    best = minimize(against, np.zeros(4 + design.hides), method="BFGS", options={"gtol": 1e-8}).x
    assert found.beta == pytest.approx(best[:4], abs=2e-5) and found.hide_effect == pytest.approx(best[4:], abs=2e-5)


def test_evidence_is_that_of_the_whole_precision():
    """Eliminating hides leaves Laplace's determinant as it is: checked with every effect in one matrix."""
    design, spreads = hides_of(3), np.array([0.8, 0.5])
    found = fit(design, spreads)
    whole = np.hstack([design.x, np.eye(design.hides)[design.hide]])
    share = 1.0 / (1.0 + np.exp(-found.eta))
    prior = np.diag([1 / 9.0, *[1 / 0.64] * 3, *[4.0] * design.hides])
    precision = whole.T @ (whole * (share * (1.0 - share))[:, None]) + prior
    effects = np.concatenate([found.beta - [-3.0, 0.0, 0.0, 0.0], found.hide_effect])
    value = design.failed @ found.eta - np.log1p(np.exp(found.eta)).sum() - 0.5 * effects @ prior @ effects
    expected = value + 0.5 * np.linalg.slogdet(prior)[1] - 0.5 * np.linalg.slogdet(precision)[1]
    assert found.log_evidence == pytest.approx(expected, abs=1e-6)
    assert covariance(found) == pytest.approx(np.linalg.inv(precision)[:4, :4], rel=1e-6, abs=1e-9)


def test_several_claims_are_corrected():
    """Holm (1979): 0.01, 0.04, 0.03, 0.005 at 5 % claims the first and the last (the textbook example; from memory)."""
    assert claimed([0.01, 0.04, 0.03, 0.005]) == (True, False, False, True)
    assert claimed([0.02, 0.03]) == (True, True) and claimed([0.03, 0.03]) == (False, False)
    assert claimed([]) == ()
