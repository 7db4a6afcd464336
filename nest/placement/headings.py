"""Few headings in place of many: a search goes faster through few, and all serve to close up what it found."""

from collections.abc import Sequence
from dataclasses import replace

from nest.placement.problem import Ground, RegionProblem

COARSE_DEG = 5.0
"""Headings closer together than this are thinned (trials 055, 066 and 067)."""

NEAR_DEG = 1e-3


def few_headings(headings_deg: Sequence[float]) -> tuple[int, ...]:
    """Indices of headings about COARSE_DEG apart, so that each has one of them no further away than that; ascending.

    In every run of close headings they begin at its first, as far from each other as may be: on an even grid their
    differences, and with them the tables the search needs, are few.
    """
    order = sorted(range(len(headings_deg)), key=lambda h: headings_deg[h] % 360.0)
    if len(order) < 3:
        return tuple(sorted(order))
    turned = [headings_deg[h] % 360.0 for h in order]
    gaps = [(turned[(q + 1) % len(turned)] - turned[q]) % 360.0 for q in range(len(turned))]
    # runs are cut at wide gaps, or at the widest one
    cuts = [q for q, gap in enumerate(gaps) if gap > COARSE_DEG + NEAR_DEG] or [gaps.index(max(gaps))]
    kept = []
    for cut, following in zip(cuts, cuts[1:] + cuts[:1], strict=True):
        count = (following - cut - 1) % len(order) + 1
        run = [(cut + 1 + q) % len(order) for q in range(count)]
        along = [(turned[q] - turned[run[0]]) % 360.0 for q in run]
        last = 0
        kept.append(order[run[0]])
        for q in range(1, count):
            if q + 1 < count and along[q + 1] - along[last] <= COARSE_DEG + NEAR_DEG:
                continue
            if q + 1 < count or along[q] - along[last] > 0.5 * COARSE_DEG:
                kept.append(order[run[q]])
                last = q
    return tuple(sorted(kept))


def with_few_headings(problem: RegionProblem) -> RegionProblem:
    """The problem with the headings of every kind thinned; the problem itself where none are too close."""
    kept = [few_headings(kind.headings_deg) for kind in problem.kinds]
    if all(len(few) == len(kind.headings_deg) for few, kind in zip(kept, problem.kinds, strict=True)):
        return problem
    grounds: dict[tuple[int, tuple[int, ...]], Ground] = {}
    for few, ground in zip(kept, problem.grounds, strict=True):
        # kinds that share a ground go on sharing it
        if (id(ground), few) not in grounds:
            grounds[id(ground), few] = replace(ground, core=tuple(ground.core[h] for h in few))
    return replace(
        problem,
        kinds=tuple(replace(kind, headings_deg=tuple(kind.headings_deg[h] for h in few))
                    for kind, few in zip(problem.kinds, kept, strict=True)),
        grounds=tuple(grounds[id(ground), few] for few, ground in zip(kept, problem.grounds, strict=True)),
    )


def forms(problem: RegionProblem) -> int:
    """How many forms the kinds of a problem have, each at each of its headings."""
    return sum(len(kind.headings_deg) for kind in problem.kinds)
