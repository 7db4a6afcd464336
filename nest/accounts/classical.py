"""The same account in the classical terms: parallelogram, first, second and third waste.

The parallelogram method (R. C. Russ and A. E. Small, Boston 1922): interlock pieces until four face alike,
join like points; the parallelogram holds one pair and its first waste. Its area is the determinant of
the pair's lattice, so its interlock yield is 2 × rough area ÷ parallelogram.

first waste : what interlocking leaves; here the interlock waste.
second waste : what the edge of the material leaves; here the edge waste. The classical estimate falls with
    the ratio W = material area ÷ piece area: yield % = interlock yield % − 39 ÷ ⁴√W (textbook form, from memory).
third waste : flaws and quality; here the fault waste. The classical estimate is a flat addition, 15 % on
    hides in old use (trade notes).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum

from nest.accounts.areas import MaterialUse, Measure
from nest.accounts.consumption import Consumption
from nest.pieces.piece import Role

EDGE_TERM_PERCENT = 39.0
THIRD_WASTE_SHARE = 0.15


@dataclass(frozen=True, slots=True)
class Estimate:
    """A pair of one style and size by the parallelogram method beside what the plan took; mm² a pair cut.

    ratio : W, mean paid area of the hides cut ÷ rough area of the piece.
    estimated_mm2 = parallelogram + second waste + third waste, as estimated; actual_mm2 = what
    `nest.accounts.consumption` charges: rough + first + second + third waste + measure (paid for beyond the outline).
    """

    style: str
    size: str
    rough_mm2: float
    parallelogram_mm2: float
    interlock_yield: float
    ratio: float
    estimated_yield: float
    first_mm2: float
    second_mm2: float
    third_mm2: float
    estimated_mm2: float
    actual_first_mm2: float
    actual_second_mm2: float
    actual_third_mm2: float
    actual_measure_mm2: float
    actual_mm2: float


def parallelogram_mm2(measure: Measure) -> float:
    """Area of the parallelogram that holds one pair in its best lattice under the gap, mm²."""
    return 2.0 * measure.rough_mm2 / measure.density


def edge_term_percent(ratio: float) -> float:
    """Second waste as a share of the material, percent: 39 ÷ ⁴√W for W = `ratio` (textbook form, from memory)."""
    return EDGE_TERM_PERCENT / float(ratio**0.25)


def estimates(
    rows: Sequence[Consumption], uses: Sequence[MaterialUse], measures: Mapping[str, Measure],
    third_share: float = THIRD_WASTE_SHARE,
) -> tuple[Estimate, ...]:
    """Classical estimate of each style and size cut from hides, beside the plan's own figures.

    `rows` and `uses` from this package's consumption and areas; `third_share` is the flat addition for flaws,
    as a share of what the first two wastes make. A size for which the textbook form leaves no yield is left out.
    """
    by_size = {(one.piece.style, one.piece.size): one for one in measures.values() if one.piece.role is Role.VAMP}
    hides: dict[tuple[str, str], list[float]] = {}
    for use in uses:
        if use.role is Role.VAMP:
            for part in use.sizes:
                hides.setdefault((part.style, part.size), []).append(use.paid_mm2)
    found = []
    for row in rows:
        key = row.style, row.size
        if not row.size or key not in hides:
            continue
        measure, areas = by_size[key], hides[key]
        ratio = fsum(areas) / len(areas) / measure.rough_mm2
        estimated_yield = measure.density - edge_term_percent(ratio) / 100.0
        if estimated_yield > 0.0:
            found.append(_estimate(row.per_pair(), measure, ratio, estimated_yield, third_share))
    return tuple(found)


def _estimate(pair: Consumption, measure: Measure, ratio: float, share: float, third_share: float) -> Estimate:
    rough, held = 2.0 * measure.rough_mm2, parallelogram_mm2(measure)
    with_edge = rough / share
    return Estimate(
        style=pair.style,
        size=pair.size,
        rough_mm2=rough,
        parallelogram_mm2=held,
        interlock_yield=rough / held,
        ratio=ratio,
        estimated_yield=share,
        first_mm2=held - rough,
        second_mm2=with_edge - held,
        third_mm2=third_share * with_edge,
        estimated_mm2=(1.0 + third_share) * with_edge,
        actual_first_mm2=pair.interlock_mm2,
        actual_second_mm2=pair.edge_mm2,
        actual_third_mm2=pair.fault_mm2,
        actual_measure_mm2=pair.measure_mm2,
        actual_mm2=pair.gross_mm2,
    )
