"""What one size of one style takes, by lattice: its parallelogram on leather, its rows on a roll."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometry.lattice import densest_double_lattice, densest_translation_lattice
from geometry.polygon import area
from geometry.pose import rotate
from geometry.precision import as_ring
from geometry.processors import for_all
from geometry.strip_lattice import StripLattice, densest_strip_lattice
from geometry.thinning import thin_outwards
from nest.pieces.piece import Foot, Piece
from nest.rules import Rules
from nest.stock.material import Roll

THIN_MM = 0.2
"""On rolls outlines are taken with fewer corners, up to this much too large."""


ALIKE_ACROSS, MIX_LOSS = 4.0, 0.015
"""Rows of one outline are what a lattice counts; left and right of several sizes mesh less well, the less the more of
them lie side by side: for every outline across beyond ALIKE_ACROSS they take MIX_LOSS more."""

END_SHARE = 0.3
"""Share of the ragged end of a lattice that a lay placed freely still takes. Both were fitted by
`tests/bench/rolls_estimated.py` to 36 invented lays, ten seconds each on one core (root mean square error of the length
3.4 %, 3.2 and 3.9 % on the half left out), and rounded up, so that the middle one is not above the estimate."""


@dataclass(frozen=True, slots=True)
class Interlock:
    """One rough vamp in its densest lattice under the gap: its area, and its share of the parallelogram.

    straight_density : density of its best lattice by translations alone.
    """

    rough_mm2: float
    net_mm2: float
    density: float
    straight_density: float
    half_turns: bool

    @property
    def parallelogram_mm2(self) -> float:
        """Area that holds one pair and its first waste."""
        return 2.0 * self.rough_mm2 / self.density

    @property
    def method(self) -> str:
        """How the density was found, in words."""
        return "densest double lattice" if self.half_turns else "densest lattice without half turns (one-way leather)"


@dataclass(frozen=True, slots=True)
class RollRows:
    """One reinforcement in rows on a roll: its area, its lattice, its heading there, and how long it is then."""

    piece_mm2: float
    lattice: StripLattice
    heading_deg: float
    long_mm: float

    @property
    def advance_mm(self) -> float:
        """Length of roll that one outline takes among others of the order."""
        return self.lattice.advance * (1.0 + MIX_LOSS * max(0.0, self.lattice.across - ALIKE_ACROSS))

    @property
    def end_mm(self) -> float:
        """Length that the ragged ends of a lay take beyond that."""
        return END_SHARE * self.lattice.end

    @property
    def method(self) -> str:
        """Which lattice gave the line, in words."""
        way = "rows along the roll" if self.lattice.in_rows else "columns across the roll"
        return f"lattice, {self.lattice.across:.1f} across in {way}, and what a mixture loses"


def interlock(vamp: Piece, straight: float, turned: float | None) -> Interlock:
    """The interlock of a vamp from its lattice densities without and with half turns, None where these are not allowed.

    Where they are, the better of the two counts.
    """
    return Interlock(
        area(vamp.cut_outline), area(vamp.net_outline), max(straight, turned or 0.0), straight, turned is not None,
    )


def interlocks(pieces: Sequence[Piece], gap_mm: float, *, half_turns: bool) -> list[Interlock]:
    """Densest lattice of each vamp; a left and a right one are alike, so give one of them.

    On hides a lattice may lie at any heading, so the direction rule costs it nothing; half turns it must allow.
    """

    def one(piece: Piece) -> Interlock:
        straight = densest_translation_lattice(piece.cut_outline, gap_mm).density
        return interlock(
            piece, straight, densest_double_lattice(piece.cut_outline, gap_mm).density if half_turns else None
        )

    return for_all(one, pieces)


def roll_rows(
    pieces: Sequence[Piece], roll: Roll, rules: Rules, gap_mm: float, *, headings_deg: Sequence[float] | None = None
) -> list[RollRows | None]:
    """Best rows of each reinforcement at the headings its rules allow; None for one that is too wide.

    Headings are *across* the stretch and both edges of the tolerance, and bias where it has leave; `headings_deg` takes
    their place.
    """

    def one(piece: Piece) -> RollRows | None:
        outline = thin_outwards(piece.cut_outline, THIN_MM)
        angles = _headings(roll, rules, piece.foot) if headings_deg is None else headings_deg
        found = [
            (lattice, angle) for angle in angles
            if (lattice := densest_strip_lattice(
                as_ring(rotate(outline, angle)), roll.usable_width_mm, gap_mm, half_turns=not roll.one_way
            )) is not None
        ]
        if not found:
            return None
        lattice, angle = min(found, key=lambda entry: entry[0].advance)
        long = float(np.ptp(rotate(outline, angle)[:, 0]))
        return RollRows(area(piece.cut_outline), lattice, angle % 360.0, long)

    return for_all(one, pieces)


def _headings(roll: Roll, rules: Rules, foot: Foot) -> tuple[float, ...]:
    """Across and both edges of the tolerance; what a mirror image repeats is left out."""
    across, tolerance = roll.stretch_deg + 90.0, rules.tolerance_deg
    mirrored = foot is Foot.EITHER and across % 90.0 == 0.0
    offsets = (0.0,) if tolerance == 0.0 else (0.0, tolerance) if mirrored else (0.0, tolerance, -tolerance)
    found = [across + offset for offset in offsets]
    if rules.bias_leave:
        biases = (45.0,) if mirrored else (45.0, 135.0)
        found += [roll.stretch_deg + bias for bias in biases]
    return tuple(found)
