"""What a list of outcomes says was spoiled, as the plan of the rest and used against planned ask for it."""

from collections import Counter
from collections.abc import Iterable

from nest.outcomes.outcome import Outcome
from nest.plan import Side, Spoiled


def spoiled_in(outcomes: Iterable[Outcome]) -> tuple[Spoiled, ...]:
    """Vamps that failed, by style, size and side; as pairs where both pieces of a pair failed alike."""
    lost = [one for one in outcomes if one.failed]
    pairs: dict[tuple[int, str, str, bool], list[Outcome]] = {}
    for one in lost:
        if one.pair:
            pairs.setdefault((one.pair, one.piece.style, one.piece.size, one.backed), []).append(one)
    whole = {id(one) for both in pairs.values() if len(both) == 2 for one in both}
    found: Counter[tuple[str, str, Side, bool]] = Counter()
    for (_, style, size, backed), both in pairs.items():
        if len(both) == 2:
            found[style, size, Side.PAIR, backed] += 1
    for one in lost:
        if id(one) not in whole:
            found[one.piece.style, one.piece.size, Side(one.piece.foot), one.backed] += 1
    return tuple(Spoiled(style, size, side, count, backed) for (style, size, side, backed), count in found.items())
