"""Rates by class and deviation for a job: those of each style, as far as the outcomes can tell them apart."""

from collections.abc import Sequence

import numpy as np

from nest.pieces.rejects import RejectRates
from nest.teaching.pieces import BAND_DEG, Seen, band_of, factors_of
from nest.teaching.rates import Taught, taught

LEAST_PIECES = 100
"""Of fewer pieces of a style no rates are written."""

DIGITS = 2


def taught_of(pieces: Sequence[Seen]) -> Taught:
    """What these pieces teach; raises as `nest.teaching.rates.taught`."""
    return taught(factors_of(pieces), [one.failed for one in pieces], [one.hide_id for one in pieces])


def rates_of_styles(found: Taught, pieces: Sequence[Seen]) -> dict[str, RejectRates]:
    """By style: rates by class and deviation; classes, or deviations, that cannot be told apart have one rate.

    Only styles of which LEAST_PIECES or more are known.
    """
    names = sorted({one.style for one in pieces})
    rates = {}
    for at, style in enumerate(names):
        mine = [one for one in pieces if one.style == style]
        if len(mine) >= LEAST_PIECES:
            rates[style] = _of_style(found, at, pieces, mine)
    return rates


def draws_of_style(found: Taught, style: int, pieces: Sequence[Seen]) -> tuple[list[int], list[float], np.ndarray]:
    """Classes, ends of bands, and (draws, classes, bands) rates of a style; `style` counts the sorted names."""
    classes = sorted({one.quality for one in pieces})
    bands = sorted({band_of(one.deviation_deg) for one in pieces})
    cells = []
    for c in range(len(classes)):
        for b in range(len(bands)):
            levels = {"style": style}
            levels |= {"class": c} if found.told("class") else {}
            levels |= {"deviation": b} if found.told("deviation") else {}
            cells.append(found.drawn(levels))
    return classes, bands, np.stack(cells, axis=1).reshape(-1, len(classes), len(bands))


def _of_style(found: Taught, style: int, pieces: Sequence[Seen], mine: Sequence[Seen]) -> RejectRates:
    classes, bands, draws = draws_of_style(found, style, pieces)
    if not found.told("deviation"):
        bands, draws = [90.0], draws[:, :, :1]
    if not found.told("class"):
        classes, draws = [1], draws[:, :1]
    mean = np.round(100.0 * draws.mean(axis=0), DIGITS)
    bias = None
    if found.told("bias"):
        bias = round(100.0 * float(found.drawn({"style": style, "bias": 1}).mean()), DIGITS)
    return RejectRates(
        tuple(bands), tuple((quality, tuple(map(float, row))) for quality, row in zip(classes, mean, strict=True)),
        bias,
    )


__all__ = ["BAND_DEG", "draws_of_style", "rates_of_styles", "taught_of"]
