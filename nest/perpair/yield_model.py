"""Second waste: what the edge of a hide, and ground in pieces, take beyond what interlocking leaves.

Where hides are known: rough area held = (a + e × degrees) × straight density × R + c × P + piece × (g × √n − b), with R
the ground within reach of a piece, n = R ÷ piece, P the area of the positions open to it (`nest.perpair.reach`);
degrees are the tolerance beyond 10. At most R × interlock yield. Pieces come in pairs: where a hide holds few, up to
one piece is lost on the mean. Beyond MOST_PIECES, which no sample had, the last term grows with R. Whether left and
right are mirror images or one outline tells hardly more, nor does the length of the ground's edge.

Where only figures are known: yield of the whole hide = fit share × ((a + e × degrees) × straight density − b ÷ ⁴√W +
c × unfit share), W = fit ground ÷ rough area, and at most fit share × interlock yield. b ÷ ⁴√W is the edge, with the
textbook's exponent; c gives back what the trim-off bands take of unfit ground. Flaws and poor zones are the third
waste.

The straight density is that of the best lattice by translations alone: it tells better than the double lattice how well
several sizes at several headings go together.

All were fitted by `tests/bench/edge_model.py` on simulated sides (`nest.stock.distribution.SIDES` with means drawn from
0.9 to 2.6 m²), each filled by a placement with three sizes of a vamp of 2.1 to 4.7 dm², stretched at random from two
outlines, under a tolerance of 5, 10 or 15°; 250 search passes of each of two workers for every vamp that the fit ground
holds by area, some 8 s a side with all it takes; fit share 0.24 to 0.87, hide ÷ piece 24 to 119. The first form: 301
sides, 37 of them drawn for having fit ground for 5 to 17 vamps, which are rare otherwise; the second: 262 of the
others, fit for eight vamps or more. Left out of its own fit, the yield of a single side fit for eight or more is met
with a root mean square error of 3.7 % where its reach is known (2.9 % if it is fit for 17), of 4.5 % by figures alone,
at worst 18 and 37 %; on four sides fit for fewer the first form is 31 % off. The textbook's own figure, interlock yield
less 39 points ÷ ⁴√(hide ÷ piece) (from memory), promises 8 % more yield than these placements reach, and scatters by 6
%.
"""

from nest.perpair.reach import Reach

USUAL_TOLERANCE_DEG = 10.0

FEW_PIECES = 12.0
"""Where fit ground is less than this many times the piece, an estimate says little: one pair more or less decides."""

REACH_FILLED, REACH_FILLED_PER_DEGREE = 0.7460, 0.0021
PLAY_GAIN = 0.1468
PIECES_LOST, ROOT_GAIN = 2.7146, 0.7111
MOST_PIECES = 120.0
"""Reach of this many pieces; beyond, the root would make larger hides yield less."""

REACH_ERROR_PERCENT = 3.7

STRAIGHT_REACHED, STRAIGHT_REACHED_PER_DEGREE = 1.0699, 0.0036
EDGE_TERM = 0.6137
TRIM_ON_UNFIT = 0.1498
FIGURES_ERROR_PERCENT = 4.5


def reached_yield(
    density: float, straight_density: float, reach: Reach, hide_mm2: float, rough_mm2: float, tolerance_deg: float,
) -> float:
    """Return the cutting yield to expect of hides of which the reach is known, 0..1; 0 where they are too small.

    Parameters
    ----------
    density, straight_density : interlock yield of the piece, and its density by translations alone, 0..1
    reach : mean reach of the hides, for a piece of about this size
    hide_mm2, rough_mm2 : mean area of a hide, and of the rough piece
    tolerance_deg : largest deviation from *across*
    """
    filled = REACH_FILLED + REACH_FILLED_PER_DEGREE * (tolerance_deg - USUAL_TOLERANCE_DEG)
    held = filled * straight_density * reach.area_mm2 + PLAY_GAIN * reach.play_mm2
    if reach.area_mm2 > 0.0:
        pieces = min(reach.area_mm2 / rough_mm2, MOST_PIECES)
        held += (ROOT_GAIN * pieces**0.5 - PIECES_LOST) / pieces * reach.area_mm2
    return min(max(0.0, held), density * reach.area_mm2) / hide_mm2


def hide_yield(
    density: float, straight_density: float, unfit_share: float, hide_mm2: float, rough_mm2: float, tolerance_deg: float
) -> float:
    """Return the cutting yield to expect of hides, 0..1; 0 where they have less fit ground than a piece.

    Parameters
    ----------
    density, straight_density : interlock yield of the piece, and its density by translations alone, 0..1
    unfit_share : share of the hide's area where no net area may lie, 0..1
    hide_mm2, rough_mm2 : mean area of a hide, and of the rough piece
    tolerance_deg : largest deviation from *across*
    """
    fit_share = 1.0 - unfit_share
    if fit_share * hide_mm2 < rough_mm2:
        return 0.0
    edge = EDGE_TERM * (rough_mm2 / (fit_share * hide_mm2)) ** 0.25
    filled = STRAIGHT_REACHED + STRAIGHT_REACHED_PER_DEGREE * (tolerance_deg - USUAL_TOLERANCE_DEG)
    reached = filled * straight_density - edge + TRIM_ON_UNFIT * unfit_share
    return fit_share * min(max(0.0, reached), density)
