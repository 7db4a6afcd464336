"""Leather for all pairs to cut, by leather, style and size, before anything is placed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import fsum, hypot, sqrt

from nest.job.job import Job
from nest.perpair.measures import interlocks
from nest.perpair.shared import Demand, shared
from nest.perpair.use import KnownGround, LeatherUse, ground_of, leather_use, mean_hide_mm2
from nest.perpair.yield_model import FEW_PIECES
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import CutLine
from nest.pieces.style import Style

LOT_ERROR_PERCENT, FIGURES_LOT_ERROR_PERCENT = 3.0, 10.0
"""By how much the estimate of a dozen sides is off at worst, with their reach known and by figures alone; measured by
`tests/bench/estimate.py` on forty lots (2.1 and 9.8 %)."""

SHARED_ERROR_PERCENT = 8.0
"""The same where styles that want different ground share hides; measured by `tests/bench/shared_hides.py`."""

LOT_SIDES = 12.0
"""Sides of the lots these were measured on; of n fewer the error is √(LOT_SIDES ÷ n) times as large."""

SIDE_INTERVAL_PERCENT = 7.25
"""Half the 95 % interval of one side that is seen, 1.96 × its root mean square of 3.7 %; of n sides ÷ √n.

Held against lots of one to three sides (trial 169)."""

FIGURES_INTERVAL_PERCENT = 4.3, 6.4
"""The same by figures that are right: of the style, which no number of sides takes away, and of one side."""


@dataclass(frozen=True, slots=True)
class SizeNeed:
    """One style and size: pairs to cut, and what a pair takes; None where that cannot be estimated."""

    style: str
    size: str
    pairs: int
    use: LeatherUse | None


@dataclass(frozen=True, slots=True)
class LeatherNeed:
    """One leather: mean area of a hide, and what each size of the styles cut from it takes.

    error_percent : how far the sum may be off; None where it is a rough guess.
    notes : what is to be said about it.
    """

    leather: str
    hide_mm2: float
    sizes: tuple[SizeNeed, ...]
    error_percent: float | None
    notes: tuple[str, ...] = ()

    @property
    def unknown(self) -> tuple[SizeNeed, ...]:
        """Sizes that cannot be estimated."""
        return tuple(one for one in self.sizes if one.use is None)

    @property
    def material_mm2(self) -> float | None:
        """Leather of all pairs; None where some of them cannot be estimated."""
        return self._of_all(lambda use: use.material_mm2)

    @property
    def rough_mm2(self) -> float | None:
        """Rough area of all pairs; None where some of them cannot be estimated."""
        return self._of_all(lambda use: use.rough_mm2)

    def _of_all(self, amount: Callable[[LeatherUse], float]) -> float | None:
        known = [one.pairs * amount(one.use) for one in self.sizes if one.use is not None]
        return None if len(known) < len(self.sizes) else fsum(known)


def leather_needs(job: Job, quantities: Sequence[CutLine], pieces: Sequence[Piece]) -> tuple[LeatherNeed, ...]:
    """What the pairs to cut take of each leather that something is cut from; `pieces` holds those of every size.

    Raises
    ------
    InputProblems
        If the vamp of a style's base size cannot be made.
    """
    needs = []
    for leather in job.leathers:
        styles = [style for style in job.styles
                  if style.leather == leather.name and any(line.style == style.name for line in quantities)]
        if styles:
            needs.append(_of_leather(job, leather.name, styles, quantities, pieces))
    return tuple(needs)


def interval_percent(hides_known: bool, grounds: int, sides: float) -> float:
    """Half the 95 % interval of the leather for an order, percent, on sides like these, searched to the end.

    grounds : different ones that styles want; sides : that the order takes. Beyond a dozen it is not measured, and
    stays as it is there.
    """
    n = min(max(1.0, sides), LOT_SIDES)
    if grounds > 1:
        return worst_percent(hides_known, grounds, sides)
    style, side = (0.0, SIDE_INTERVAL_PERCENT) if hides_known else FIGURES_INTERVAL_PERCENT
    return round(hypot(style, side / sqrt(n)), 1)


def worst_percent(hides_known: bool, grounds: int, sides: float) -> float:
    """By how much the leather for an order may be off at worst, percent; arguments as of `interval_percent`."""
    error = LOT_ERROR_PERCENT if hides_known else FIGURES_LOT_ERROR_PERCENT
    if grounds > 1:
        error = max(error, SHARED_ERROR_PERCENT)
    return round(error * sqrt(max(1.0, LOT_SIDES / max(1.0, sides))), 1)


def _of_leather(
    job: Job, name: str, styles: Sequence[Style], quantities: Sequence[CutLine], pieces: Sequence[Piece]
) -> LeatherNeed:
    leather = next(one for one in job.leathers if one.name == name)
    hides = [hide for hide in job.hides if hide.leather == name]
    notes: list[str] = []
    lines: list[CutLine] = []
    alone: list[LeatherUse | None] = []
    grounds: list[KnownGround] = []
    for style in styles:
        own = [piece for piece in pieces if piece.style == style.name]
        vamps = {piece.size: piece for piece in own if piece.role is Role.VAMP and piece.foot is not Foot.RIGHT}
        ground = ground_of(leather, hides, style, job.settings.edge_room_mm, own)
        mine = [line for line in quantities if line.style == style.name]
        locked = dict(zip(vamps, interlocks(
            list(vamps.values()), job.settings.hide_apart_mm, half_turns=not leather.one_way), strict=True))
        uses = [leather_use(locked[line.size], ground) for line in mine]
        notes += _said(style.name, mine, uses, ground, max(one.rough_mm2 for one in locked.values()))
        lines, alone, grounds = [*lines, *mine], [*alone, *uses], [*grounds, *[ground] * len(mine)]
    found = list(alone)
    demands = {
        i: Demand(lines[i].style, lines[i].pairs_to_cut, use, grounds[i])
        for i, use in enumerate(alone) if use is not None
    }
    for i, use in zip(demands, shared(list(demands.values())), strict=True):
        found[i] = use
    hide_mm2 = mean_hide_mm2(leather, hides)
    sides = fsum(line.pairs_to_cut * use.material_mm2 for line, use in zip(lines, found, strict=True) if use) / hide_mm2
    error = worst_percent(bool(hides), len({ground.fit for ground in grounds}), sides)
    sizes = tuple(SizeNeed(line.style, line.size, line.pairs_to_cut, use)
                  for line, use in zip(lines, found, strict=True))
    return LeatherNeed(name, hide_mm2, sizes, None if notes else error, tuple(notes))


def _said(
    style: str, lines: Sequence[CutLine], uses: Sequence[LeatherUse | None], ground: KnownGround, largest_mm2: float
) -> list[str]:
    """What is to be said of a style whose leather cannot be estimated, or only guessed."""
    unknown = [line.size for line, use in zip(lines, uses, strict=True) if use is None]
    if unknown:
        where = f"hides of {ground.hide_mm2 / 1e4:.0f} dm² are too small to estimate from"
        remedy = "place the job instead (vampyield run)"
        if ground.reach is not None and not ground.reach.area_mm2:
            where = "no hide in stock has ground it fits on"
            remedy = "check the classes and stretch of the hides and the rules of the style"
        sizes = "" if len(unknown) == len(lines) else f", size {', '.join(unknown)}"
        return [f"style {style}{sizes}: the leather cannot be estimated: {where}; {remedy}"]
    if (1.0 - ground.unfit_share) * ground.hide_mm2 < FEW_PIECES * largest_mm2:
        return [
            f"style {style}: on the mean a hide has fit ground for fewer than {FEW_PIECES:.0f} of its largest "
            f"vamps; its leather is a rough guess, so place the job before issuing by it"
        ]
    return []
