"""Second waste: what the edge of a hide, and ground in pieces, take beyond what interlocking leaves.

The form is that of the textbook, yield = interlock yield − b ÷ ⁴√W, with two changes: W is fit ground ÷ piece area, and
the yield is counted on the fit ground; flaws and poor zones are the third waste, not part of this one.

b was fitted by `tests/bench/edge_model.py` on 26 simulated sides (`nest.stock.distribution.SIDES` with means drawn
from 0.9 to 2.6 m²), each filled by a short placement (2000 search passes of each of two workers) with three sizes of an
invented vamp of 2.4 to 4.7 dm²; fit share 0.48 to 0.87, W 26 to 94. Left out of its own fit, the yield of a single
side is met with a root mean square error of 9 %, at worst 19 %: most of that is the scatter of short placements and
of the shapes of single hides. The textbook's own b = 0.39 with hide area ÷ piece area (from memory) gives 15 % more
yield than these placements, and scatters by 10 %; an exponent of ½ in place of ¼ fits no better (10 %). Longer
placements yield more: from 1200 to 4000 passes two of the sides gained 0 and 7 %. So the estimate errs on the side of
more leather where there is time to place well.
"""

EDGE_TERM = 0.601
EXPONENT = 0.25
SINGLE_SIDE_ERROR = 0.09
"""Root mean square error of the yield of a single side, relative, on samples left out of the fit."""


def hide_yield(density: float, unfit_share: float, hide_mm2: float, rough_mm2: float) -> float:
    """Return the cutting yield to expect of hides, 0..1; 0 where the hides are too small for the model.

    Parameters
    ----------
    density : interlock yield of the piece, 0..1
    unfit_share : share of the hide's area where no net area may lie, 0..1
    hide_mm2, rough_mm2 : mean area of a hide, and of the rough piece
    """
    fit_share = 1.0 - unfit_share
    if fit_share <= 0.0:
        return 0.0
    ratio = fit_share * hide_mm2 / rough_mm2
    return max(0.0, fit_share * (density - EDGE_TERM * ratio**-EXPONENT))
