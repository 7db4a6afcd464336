"""Second waste: what the edge of a hide, and ground in pieces, take beyond what interlocking leaves.

Yield of the whole hide = fit share × (a × straight density − b ÷ ⁴√W + c × unfit share), W = fit ground ÷ rough area,
and at most fit share × interlock yield. The straight density is that of the best lattice by translations alone: it
tells better than the double lattice how well several sizes at several headings go together. b ÷ ⁴√W is the edge, with
the textbook's exponent; c gives back what the trim-off bands take of unfit ground. Flaws and poor zones are the third
waste.

a, b and c were fitted by `tests/bench/edge_model.py` on 40 simulated sides (`nest.stock.distribution.SIDES` with
means drawn from 0.9 to 2.6 m²), each filled by a placement of 6000 search passes of each of two workers (about 10 s)
with three sizes of a vamp of 2.2 to 4.7 dm², stretched at random from two outlines; fit share 0.25 to 0.87, hide ÷
piece 26 to 116. Left out of its own fit, the yield of a single side is met with a root mean square error of 4.4 %, at
worst 12 %. With the double lattice in place of the straight one it is 5.5 to 6.7 %, with the exponent ½ 4.5 %. The
textbook's own figure, interlock yield less 39 points ÷ ⁴√(hide ÷ piece) (from memory), promises 12 % more yield than
these placements reach, and scatters by 6.5 %.

On 20 lots of three sides that have no part in these coefficients (`tests/bench/estimate.py`, the same stretched
outlines and passes) the leather estimated per pair erred by 3.5 % root mean square, 1.6 % too much on the mean, at
worst 8 %; 55 % of the lots were within 3 %.
"""

STRAIGHT_REACHED = 1.036
EDGE_TERM = 0.651
TRIM_ON_UNFIT = 0.207


def hide_yield(
    density: float, straight_density: float, unfit_share: float, hide_mm2: float, rough_mm2: float
) -> float:
    """Return the cutting yield to expect of hides, 0..1; 0 where the hides are too small for the model.

    Parameters
    ----------
    density, straight_density : interlock yield of the piece, and its density by translations alone, 0..1
    unfit_share : share of the hide's area where no net area may lie, 0..1
    hide_mm2, rough_mm2 : mean area of a hide, and of the rough piece
    """
    fit_share = 1.0 - unfit_share
    if fit_share <= 0.0:
        return 0.0
    edge = EDGE_TERM * (rough_mm2 / (fit_share * hide_mm2)) ** 0.25
    reached = STRAIGHT_REACHED * straight_density - edge + TRIM_ON_UNFIT * unfit_share
    return fit_share * min(max(0.0, reached), density)
