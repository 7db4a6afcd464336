"""Partners in the order of size: complete families without a solver, where nothing stands in the way.

Couples that cross never keep more: where a is at least b and c at least d, min(a, d) + min(b, c) is no more than
min(a, c) + min(b, d). So the largest of one side goes with the largest of the other, both are cut as the smaller, and
the smallest are left over.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from itertools import pairwise

from geometry.pose import Pose
from nest.placement.choose import Replacements, replaced
from nest.placement.families import Families
from nest.placement.problem import Item, Kind


def partners_by_size(
    kinds: Sequence[Kind],
    items: Sequence[Item],
    families: Families,
    table: Replacements,
    level: Callable[[int, Pose], int] | None = None,
    allowed: Callable[[Item, Item], bool] | None = None,
) -> tuple[Item, ...] | None:
    """Complete families of most area among those that leave every item on its level; parameters as `complete_families`.

    None where more than one item has no partner, for as a smaller kind it may lie on another level; where a replacement
    does not fit, is not allowed or changes its level; or where a limit does not hold: then it takes a solver to tell
    what is best.
    """
    kind_at = {(families.chain[k], families.side[k], families.rank[k]): k for k in range(len(kinds))}
    sides: dict[tuple[int, int], tuple[list[int], list[int], list[int]]] = defaultdict(lambda: ([], [], []))
    kept: dict[int, Item] = {}
    for i, item in enumerate(items):
        if families.chain[item.kind] < 0:
            kept[i] = item
        else:
            at = 0 if level is None else level(item.kind, item.pose)
            sides[families.chain[item.kind], at][families.side[item.kind]].append(i)
    alone = 0
    for (chain, at), lists in sides.items():
        either, left, right = (sorted(some, key=lambda i: -families.rank[items[i].kind]) for some in lists)
        alone += abs(len(left) - len(right)) + len(either) % 2
        if alone > 1:
            return None
        for couple in (*zip(left, right, strict=False), *list(pairwise(either))[::2]):
            rank = min(families.rank[items[i].kind] for i in couple)
            for i in couple:
                item = items[i]
                if families.rank[item.kind] > rank:
                    smaller = kind_at.get((chain, families.side[item.kind], rank))
                    if smaller is None or (item.kind, smaller) not in table:
                        return None
                    item = replaced(item, smaller, table)
                    if allowed is not None and not allowed(items[i], item):
                        return None
                    if level is not None and level(smaller, item.pose) != at:
                        return None
                kept[i] = item
    if any(number > kinds[k].limit for k, number in Counter(item.kind for item in kept.values()).items()):
        return None
    return tuple(kept[i] for i in sorted(kept))
