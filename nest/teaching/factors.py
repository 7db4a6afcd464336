"""Factors: what is known of each piece, in levels, and the design of the model that they make."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nest.teaching.model import LEVEL_SPREAD, ORDERED_SPREAD, Design


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """One thing known of every piece.

    levels : its levels in words; of an `ordered` factor neighbours are alike.
    index : (pieces,) which level each piece has.
    """

    name: str
    levels: tuple[str, ...]
    ordered: bool
    index: np.ndarray

    def coded(self) -> np.ndarray:
        """(levels, columns): what each level adds, in effects of levels or in steps between them."""
        count = len(self.levels)
        if not self.ordered:
            return np.eye(count)
        return np.tril(np.ones((count, count)))[:, 1:]


def factor_of(name: str, values: Sequence, *, ordered: bool = False, words=str) -> Factor:
    """A factor from one value a piece; levels are the values that occur, in their order."""
    levels, index = np.unique(np.asarray(values), return_inverse=True)
    return Factor(name, tuple(words(one) for one in levels.tolist()), ordered, index)


@dataclass(frozen=True, slots=True, eq=False)
class Coded:
    """The design of some factors, and which columns and rows are whose.

    factors : those with more than one level; columns : of each, where its effects stand.
    rows : (rows, factors) level of each row.
    """

    factors: tuple[Factor, ...]
    design: Design
    columns: tuple[slice, ...]
    rows: np.ndarray


def coded(factors: Sequence[Factor], failed: np.ndarray, hide: Sequence) -> Coded:
    """The design of the factors that have more than one level; pieces alike in all of them are one row.

    Parameters
    ----------
    failed : (pieces,) whether each failed.
    hide : what tells the hides of the pieces apart.
    """
    mine = tuple(one for one in factors if len(one.levels) > 1)
    _, hides = np.unique(np.asarray(hide), return_inverse=True)
    keys = np.column_stack([*(one.index for one in mine), hides])
    alike, row = np.unique(keys, axis=0, return_inverse=True)
    row = row.ravel()
    blocks, columns, at = [np.ones((len(alike), 1))], [], 1
    whose = [-1]
    for f, one in enumerate(mine):
        code = one.coded()
        blocks.append(code[alike[:, f]])
        columns.append(slice(at, at + code.shape[1]))
        whose += [f] * code.shape[1]
        at += code.shape[1]
    scale = np.array([ORDERED_SPREAD if one.ordered else LEVEL_SPREAD for one in mine])
    design = Design(
        np.hstack(blocks), np.array(whose), scale, np.bincount(row, np.asarray(failed, float), len(alike)),
        np.bincount(row, minlength=len(alike)).astype(float), alike[:, -1],
    )
    return Coded(mine, design, tuple(columns), alike[:, :-1])
