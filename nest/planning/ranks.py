"""What is wanted, and what is missing, by urgency."""

from collections.abc import Sequence

from nest.planning.wants import Want


def differ(wants: Sequence[Want]) -> bool:
    """Whether some units are more urgent than others."""
    return len({rank for want in wants for rank, _ in want.tiers}) > 1


def short_by_rank(want: Want, missing: int) -> dict[int, int]:
    """Units missing of each rank, the least urgent first."""
    found: dict[int, int] = {}
    for rank, number in reversed(want.tiers or ((0, want.count),)):
        if missing:
            found[rank] = min(number, missing)
            missing -= found[rank]
    return found


def missed(wants: Sequence[Want], short: Sequence[int]) -> tuple[float, ...]:
    """Rough area missing of each rank, mm², the most urgent first; plans are compared by it, less is better."""
    highest = max((rank for want in wants for rank, _ in want.tiers), default=0)
    areas = [0.0] * (highest + 1)
    for want, missing in zip(wants, short, strict=True):
        for rank, number in short_by_rank(want, missing).items():
            areas[rank] += number * want.area_mm2
    return tuple(areas)


def without_least(wants: Sequence[Want], wanted: Sequence[int], area_mm2: float) -> list[int]:
    """What is wanted without its least urgent units, of this rough area in all or a little more.

    Of units as urgent those of the want with most left of that rank go first, so that all give up their share.
    """
    left = list(wanted)
    tiers = [short_by_rank(want, number) for want, number in zip(wants, wanted, strict=True)]
    for rank in sorted({rank for mine in tiers for rank in mine}, reverse=True):
        while area_mm2 > 0.0:
            at = max(range(len(wants)), key=lambda w: tiers[w].get(rank, 0) * wants[w].area_mm2)
            if not tiers[at].get(rank, 0):
                break
            tiers[at][rank] -= 1
            left[at] -= 1
            area_mm2 -= wants[at].area_mm2
    return left
