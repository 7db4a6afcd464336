"""What a plan is held against, worked out before anything is placed: then the run's time covers it, on all cores."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from geometry.processors import for_all
from nest.errors import InputProblems
from nest.job.job import Job
from nest.perpair.needs import leather_needs
from nest.pieces.piece import Piece, Role
from nest.pieces.quantities import CutLine
from nest.plan import Bound, ExpectedLeather
from nest.planning.bound import Density, demand_of, hide_bound, lattice_density
from nest.planning.wants import Want
from nest.rules import Rules
from nest.stock.material import Hide


@dataclass(frozen=True, slots=True)
class Ahead:
    """What is known before placing.

    expected : leather of the order as estimated.
    density : of the best lattice of every piece on its material, worked out.
    bounds : of every hide that something may be cut from, by id; one whose ground fails is left out.
    """

    expected: tuple[ExpectedLeather, ...]
    density: Density
    bounds: Mapping[str, Bound]


def expected_leathers(job: Job, quantities: Sequence[CutLine], pieces: Sequence[Piece]) -> tuple[ExpectedLeather, ...]:
    """Leather of the pairs to cut as estimated without placing; none where it cannot be estimated."""
    try:
        needs = leather_needs(job, quantities, pieces)
    except InputProblems:  # the base size alone may be impossible to make; no estimate then, but a plan
        needs = ()
    return tuple(
        ExpectedLeather(need.leather, need.material_mm2, need.rough_mm2, need.error_percent)
        for need in needs if need.material_mm2 and need.rough_mm2 and need.error_percent is not None
    )


def ahead_of(
    job: Job, quantities: Sequence[CutLine], pieces: Sequence[Piece], wants: Sequence[Want],
    rules: Mapping[str, Rules],
) -> Ahead:
    """What is known of a job before placing; `wants` are all that is to be cut from hides."""
    style_of = {style.name: style for style in job.styles}
    one_way = {leather.name: leather.one_way for leather in job.leathers}
    rolls = {roll.roll_id: roll for roll in job.rolls}
    settings = job.settings
    vamps, backings = ([piece for piece in pieces if piece.role is role] for role in (Role.VAMP, Role.REINFORCEMENT))
    density = lattice_density([
        *((one, settings.hide_apart_mm, one_way[style_of[one.style].leather]) for one in vamps),
        *((one, settings.roll_apart_mm, rolls[style_of[one.style].roll].one_way) for one in backings
          if style_of[one.style].roll in rolls),
    ])
    demand = demand_of(pieces, quantities)
    wanted = dict.fromkeys(want.style for want in wants)
    by_leather = {
        leather: {style: [piece for piece in vamps if piece.style == style]
                  for style in wanted if style_of[style].leather == leather}
        for leather in dict.fromkeys(style_of[style].leather for style in wanted)
    }

    def bound(hide: Hide) -> Bound | None:
        try:
            return hide_bound(
                hide, by_leather[hide.leather], demand, rules, settings, density, one_way=one_way[hide.leather])
        except Exception:  # reported where the hide is to be filled
            return None

    bounds = for_all(bound, [hide for hide in job.hides if hide.leather in by_leather])
    return Ahead(
        expected_leathers(job, quantities, pieces), density, {one.material_id: one for one in bounds if one is not None}
    )
