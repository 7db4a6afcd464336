"""A linear model with shrinkage: trim left as a sum of effects, of which each group has a spread of its own.

trim = effects of known scale + effects of groups (normal about zero, spread from the data) + hide + the piece itself

Given the spreads everything is normal and known in closed form, hides eliminated (Woodbury). Over the spreads it is
summed at points that are drawn nearer and nearer to the likely ones (adaptive importance sampling, tempered so that no
round rests on few points). What comes out are mixtures of normal distributions.

References
----------
A. Gelman, J. Hill (2007), Data Analysis Using Regression and Multilevel/Hierarchical Models, chapters 11 to 13.
J.-M. Cornuet et al. (2012), Adaptive multiple importance sampling, Scand. J. Statist. 39, 798-812 (from memory).
"""

from dataclasses import dataclass

import numpy as np

from nest.drift.mixture import Mixture

KNOWN = -1
"""Owner of a column whose scale is known."""

HIDE_SCALE = 1.0
"""Scale of the half-normal that the spread of hides has before any data, mm."""

POINTS, ROUNDS, SEED = 192, 7, 1
_LAST_POINTS, _FREEDOM, _KEPT = 384, 5.0, 0.25
_LEAST_LOG, _NUDGE = -9.0, 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Rows of pieces alike in all that is known and of one hide.

    x : (rows, p). owner : (p,) the group of a column, or KNOWN. scale : (p,) spread of a column that is KNOWN, mm.
    group_scale : of the half-normal that the spread of each group has before any data.
    count, mean : (rows,) pieces and their mean trim; within : sum of squares about these means.
    hide : (rows,) index of the hide, from 0.
    """

    x: np.ndarray
    owner: np.ndarray
    scale: np.ndarray
    group_scale: np.ndarray
    count: np.ndarray
    mean: np.ndarray
    within: float
    hide: np.ndarray


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Effects as the data leave them, at some points of the spreads.

    weight : (points,), adding up to 1. beta : (points, p). root : (points, p, p) lower Cholesky factors of the
    precision. piece_sd, hide_sd : (points,), group_sd : (points, groups).
    """

    weight: np.ndarray
    beta: np.ndarray
    root: np.ndarray
    piece_sd: np.ndarray
    hide_sd: np.ndarray
    group_sd: np.ndarray

    def of(self, row: np.ndarray) -> Mixture:
        """The sum of effects that a row of the design stands for."""
        solved = np.linalg.solve(self.root, np.broadcast_to(row[:, None], (len(self.root), len(row), 1)))
        return Mixture(self.weight, self.beta @ row, np.sqrt((solved[:, :, 0] ** 2).sum(axis=1)) + 1e-12)


def posterior(design: Design, points: int = POINTS, rounds: int = ROUNDS) -> Posterior:
    """What the data say of all effects, spreads integrated over."""
    sums = _Sums(design)
    rng = np.random.default_rng(SEED)
    scales = np.concatenate([[np.inf, HIDE_SCALE], design.group_scale])
    middle = np.log(np.concatenate([[sums.rough_sd], [0.3 * HIDE_SCALE], 0.3 * design.group_scale]))
    spread = np.diag(np.concatenate([[0.3], np.full(len(middle) - 1, 1.0)]) ** 2)
    for turn in range(rounds + 1):
        last = turn == rounds
        theta, log_drawn = _drawn(rng, middle, spread, _LAST_POINTS if last else points)
        kept = theta.min(axis=1) > _LEAST_LOG
        theta, log_drawn = theta[kept], log_drawn[kept]
        found = [sums.solved(one) for one in theta]
        prior = (theta - 0.5 * (np.exp(theta) / scales) ** 2).sum(axis=1) - theta[:, 0]
        weight = np.array([one[0] for one in found]) + prior - log_drawn
        if not last:
            mass = _tempered(weight)
            middle = mass @ theta
            about = theta - middle
            spread = (about * mass[:, None]).T @ about + _NUDGE * np.eye(len(middle))
    mass = np.exp(weight - weight.max())
    mass /= mass.sum()
    held = mass > 1e-6
    sd = np.exp(theta[held])
    beta, root = (np.stack([one[i] for one, mine in zip(found, held, strict=True) if mine]) for i in (1, 2))
    return Posterior(mass[held] / mass[held].sum(), beta, root, sd[:, 0], sd[:, 1], sd[:, 2:])


class _Sums:
    """What the data come to, once for all spreads."""

    def __init__(self, design: Design):
        x, n = design.x, design.count
        hides = int(design.hide.max()) + 1
        self.design = design
        self.whole = x.T @ (n[:, None] * x)
        self.pull = x.T @ (n * design.mean)
        self.square = float(n @ design.mean**2)
        self.by_hide = np.stack([np.bincount(design.hide, n * column, hides) for column in x.T], axis=1)
        self.hide_pull = np.bincount(design.hide, n * design.mean, hides)
        self.hide_count = np.bincount(design.hide, n, hides)
        self.pieces = float(n.sum())
        about = float(design.within + self.square - self.pieces * (n @ design.mean / self.pieces) ** 2)
        self.rough_sd = max(0.7 * np.sqrt(max(about, 0.0) / max(1.0, self.pieces - 1.0)), 0.05)

    def solved(self, theta: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        """Log evidence, effects and the root of their precision under some logarithms of spreads."""
        from scipy.linalg import solve_triangular

        design = self.design
        piece, hide = np.exp(2.0 * theta[:2])
        spread = np.append(np.exp(theta[2:]), 1.0)[design.owner]
        precision = np.where(design.owner == KNOWN, design.scale, spread) ** -2.0
        share = hide / (piece * (piece + hide * self.hide_count))
        inner = self.whole / piece - (self.by_hide.T * share) @ self.by_hide
        inner[np.diag_indices_from(inner)] += precision
        pull = self.pull / piece - (share * self.hide_pull) @ self.by_hide
        root = np.linalg.cholesky(inner)
        half = solve_triangular(root, pull, lower=True)
        square = (design.within + self.square) / piece - float(share @ self.hide_pull**2)
        log = self.pieces * theta[0] * 2.0 + float(np.log1p(hide * self.hide_count / piece).sum()) + square
        log += 2.0 * float(np.log(np.diag(root)).sum()) - float(np.log(precision).sum()) - float(half @ half)
        return -0.5 * log, solve_triangular(root.T, half, lower=False), root


def _drawn(rng, middle: np.ndarray, spread: np.ndarray, points: int) -> tuple[np.ndarray, np.ndarray]:
    """Points of Student's t about the middle, and the logarithm of its density there but for a constant."""
    z = rng.standard_normal((points, len(middle)))
    z *= np.sqrt(_FREEDOM / rng.chisquare(_FREEDOM, points))[:, None]
    log = -0.5 * (_FREEDOM + len(middle)) * np.log1p((z**2).sum(axis=1) / _FREEDOM)
    return middle + 1.1 * z @ np.linalg.cholesky(spread).T, log


def _tempered(log: np.ndarray) -> np.ndarray:
    """Weights raised to the largest power up to 1 at which they rest on a share of _KEPT of the points."""
    log = log - log.max()
    low, high = 0.0, 1.0
    for turn in range(30):
        power = high if turn == 0 else 0.5 * (low + high)
        mass = np.exp(power * log)
        mass /= mass.sum()
        if 1.0 / (mass @ mass) >= _KEPT * len(log):
            low = power
            if turn == 0:
                break
        else:
            high = power
    mass = np.exp(low * log)
    return mass / mass.sum()
