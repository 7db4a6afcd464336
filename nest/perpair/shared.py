"""What styles that share the hides of a leather take of them, and what each pays.

Each style alone would take a number of mean hides. Together they take fewer where they want different ground: what one
leaves, the other may use. A group is all styles that find the same ground fit; D(S) is what the groups of a set S would
take alone, as ground, R(S) the ground within reach of any of them on a mean hide. All sets must find room, so that the
hides come to the largest D(S) ÷ R(S) (the condition of Hall, 1935, for supplies that can be divided), and to a little
more where two sets fill their ground at once (`crowding`).

Who pays follows the account of a plan (`nest.accounts.consumption`): a hide is charged whole to what lies on it, by
rough area. The groups of the set that needs most hides lie on all of them; of the others, those that need most beside
them lie on as many as that takes, and so on (principal partition: Fujishige 2005, Submodular Functions and
Optimization, chapter 7.2). On hides filled as full as they may be a style that can lie anywhere shares few hides, so
that the demanding one pays for the ground that nobody uses.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import fsum

import shapely

from nest.perpair.reach import Probe
from nest.perpair.use import KnownGround, LeatherUse

MOST_SETS_OF = 10
"""Of more groups than this only sets of those that reach least are looked at: 1,023 sets take no time, a million do."""


CROWDING = 10.0
"""Exponent of `crowding`; of 8, 10 and 12 the one nearest to what `tests/bench/shared_hides.py` finds."""


@dataclass(frozen=True, slots=True)
class Demand:
    """Pairs of one style and size: their number, what a pair takes alone, and what is known of the style's ground.

    pairs may be a fraction: expected rejects are.
    """

    style: str
    pairs: float
    alone: LeatherUse
    ground: KnownGround

    @property
    def known(self) -> KnownGround:
        """The ground that hides are known of: its own, or that which its figures are set beside."""
        return self.ground.beside or self.ground

    @property
    def material_mm2(self) -> float:
        """What all pairs take alone."""
        return self.pairs * self.alone.material_mm2

    @property
    def rough_mm2(self) -> float:
        """Rough area of all pairs."""
        return self.pairs * self.alone.rough_mm2


def shared(demands: Sequence[Demand]) -> list[LeatherUse]:
    """What a pair of each takes when all lie on hides of one leather together; one style alone takes what it takes.

    Styles of a group share by rough area, sizes of a style as they would alone. Where nothing is known of hides all
    styles are one group.
    """
    if len({demand.style for demand in demands}) < 2:
        return [demand.alone for demand in demands]
    groups: dict[tuple, list[Demand]] = {}
    for demand in demands:
        groups.setdefault(demand.known.fit, []).append(demand)
    material = [fsum(one.material_mm2 for one in group) for group in groups.values()]
    rough = [fsum(one.rough_mm2 for one in group) for group in groups.values()]
    if len(groups) > 1:
        probes = [
            list({one.style: probe for one in group if (probe := one.known.probe) is not None}.values())
            for group in groups.values()
        ]
        reach = reach_of_sets(probes)
        more = crowding(material, reach)
        material = [more * one for one in paid(material, rough, reach)]
    each = {fit: whole / area for fit, whole, area in zip(groups, material, rough, strict=True)}
    unfit = min(demand.known.unfit_share for demand in demands)
    uses = []
    for demand in demands:
        mine = [one for one in demands if one.style == demand.style]
        factor = each[demand.known.fit] * fsum(one.rough_mm2 for one in mine) / fsum(one.material_mm2 for one in mine)
        uses.append(_charged(demand.alone, factor, unfit if len(groups) > 1 else None))
    return uses


def _charged(alone: LeatherUse, factor: float, unfit_share: float | None) -> LeatherUse:
    """The use with `factor` times the material; `unfit_share` is that of the leather, None for that of its own ground.

    No waste comes out below zero: what interlocking leaves comes first, then unfit ground, then the edge.
    """
    material = alone.material_mm2 * factor
    waste = max(0.0, material - alone.rough_mm2)
    first = min(alone.first_mm2, waste)
    unfit = alone.third_mm2 / alone.material_mm2 if unfit_share is None else unfit_share
    third = min(unfit * material, waste - first)
    return replace(
        alone, cutting_yield=alone.cutting_yield / factor, first_mm2=first, second_mm2=waste - first - third,
        third_mm2=third,
    )


def reach_of_sets(probes: Sequence[Sequence[Probe]]) -> dict[frozenset[int], float]:
    """Ground within reach of any group of a set, for every set of groups: mean over some of the hides, mm².

    The hides are those that the group which reaches least looks at.
    """
    least = min((probe for group in probes for probe in group), key=lambda probe: probe.mean.area_mm2)
    sets = _sets([fsum(probe.mean.area_mm2 for probe in group) / len(group) for group in probes])
    found = dict.fromkeys(sets, 0.0)
    for hide in least.looked_at:
        regions = [shapely.union_all([probe.look(hide)[0] for probe in group]) for group in probes]
        for one in sets:
            found[one] += float(shapely.union_all([regions[g] for g in one]).area) / len(least.looked_at)
    return found


def _sets(reach: Sequence[float]) -> list[frozenset[int]]:
    order = sorted(range(len(reach)), key=lambda g: reach[g])
    few = order[:MOST_SETS_OF]
    sets = [frozenset(some) for size in range(1, len(few) + 1) for some in combinations(few, size)]
    return sets + [frozenset(order[:size]) for size in range(len(few) + 1, len(order) + 1)]


def crowding(material: Sequence[float], reach: dict[frozenset[int], float]) -> float:
    """How many times as many hides groups take that get in each other's way, 1 or a little more.

    What may lie anywhere gives way at a price, and the more so the nearer two sets are to filling their ground at once:
    the largest number of hides is taken together with that of the next set by a power mean, as far as their grounds
    overlap; never more than the groups take apart.

    Parameters
    ----------
    material, reach : as in `paid`
    """
    every = frozenset(range(len(material)))
    alone = {g: reach[frozenset({g})] for g in every if frozenset({g}) in reach}
    if every not in reach or len(alone) < len(every) or len(every) < 2:
        return 1.0
    hides = {one: fsum(material[g] * alone[g] for g in one) / area for one, area in reach.items() if area > 0.0}
    most = max(hides, key=lambda one: (hides[one], len(one)))
    if not hides.get(every):
        return 1.0
    other = hides[every] if most != every else max(need for one, need in hides.items() if one != every)
    inside = fsum(alone.values()) - max(alone.values())
    overlap = (fsum(alone.values()) - reach[every]) / inside if inside > 0.0 else 0.0
    norm = (1.0 + (other / hides[most]) ** CROWDING) ** (1.0 / CROWDING)
    return min(1.0 + max(0.0, overlap) * (norm - 1.0), fsum(material) / hides[most])


def paid(material: Sequence[float], rough: Sequence[float], reach: dict[frozenset[int], float]) -> list[float]:
    """What each group pays, mm², where they lie on hides together.

    Parameters
    ----------
    material, rough : leather that each group takes alone, and its rough area, mm²
    reach : ground within reach of any of a set of groups on a mean hide, for sets of groups; any area
    """
    alone = {next(iter(one)): area for one, area in reach.items() if len(one) == 1}
    # In mean hides of one mm²: alone, group g takes material[g] of them, and so much of the ground it can reach.
    wants = [material[g] * alone[g] if g in alone else 0.0 for g in range(len(material))]
    placed: frozenset[int] = frozenset()
    layers: list[tuple[frozenset[int], float]] = []
    most = math.inf
    while len(placed) < len(material):
        best, amount = frozenset(range(len(material))) - placed, 0.0
        for one in sorted(reach, key=lambda one: (-len(one), sorted(one))):
            new = one - placed
            room = reach.get(one | placed, 0.0) - (reach[placed] if placed else 0.0)
            if new and one | placed in reach:
                needed = fsum(wants[g] for g in new) / room if room > 1e-9 * reach[one | placed] else most
                if needed > amount * (1.0 + 1e-9):
                    best, amount = new, needed
        amount = min(amount, most)
        layers.append((best, amount))
        placed, most = placed | best, amount
    return _charged_by_layer(layers, rough)


def _charged_by_layer(layers: Sequence[tuple[frozenset[int], float]], rough: Sequence[float]) -> list[float]:
    """Material of each group: hides that hold the groups of the first layers are charged to these, by rough area."""
    paid_mm2 = [0.0] * len(rough)
    for depth, (_, amount) in enumerate(layers):
        after = layers[depth + 1][1] if depth + 1 < len(layers) else 0.0
        density = {g: rough[g] / most for groups, most in layers[: depth + 1] if most > 0.0 for g in groups}
        whole = fsum(density.values())
        for g, share in density.items():
            paid_mm2[g] += (amount - after) * share / whole if whole else 0.0
    return paid_mm2
