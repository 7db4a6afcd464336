"""Choose which items of a layout to keep, and as which kind, so that families are complete.

An item may be replaced by any kind whose outline and core fit inside its own: such replacements never
touch another item, so the choice is a pure selection, solved exactly with CP-SAT.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence

import numpy as np
import shapely
from ortools.sat.python import cp_model

from geometry.nofit import joint_fit_polygon
from geometry.pose import Pose, rotate
from nest.placement.problem import Item, Kind, worth_of

Replacements = dict[tuple[int, int], np.ndarray]
"""(kind, smaller kind) → where the smaller kind's origin lies in the kind's own frame."""

Places = dict[tuple[bytes, ...], np.ndarray | None]
"""The same by outlines and cores of the two kinds; None where the other does not fit inside."""

QUICK, THOROUGH = 0.03, 0.5
"""Deterministic time that CP-SAT may take for one layout: within a search, and for one that is kept."""


def replacements(kinds: Sequence[Kind], known: Places | None = None) -> Replacements:
    """Which kind fits inside which, outline in outline and core in core.

    known : what earlier calls found; grows.
    """
    known = {} if known is None else known
    found: Replacements = {}
    area = [shapely.Polygon(kind.outline).area for kind in kinds]
    for k, kind in enumerate(kinds):
        found[k, k] = np.zeros(2)
        for c, other in enumerate(kinds):
            if c == k or other.headings_deg != kind.headings_deg or area[c] > area[k]:
                continue
            key = tuple(ring.tobytes() for ring in (kind.outline, kind.core, other.outline, other.core))
            if key not in known:
                known[key] = _place_inside(kind, other)
            if (place := known[key]) is not None:
                found[k, c] = place
    return found


def _place_inside(kind: Kind, other: Kind) -> np.ndarray | None:
    places = joint_fit_polygon([(kind.outline, other.outline), (kind.core, other.core)])
    return shapely.get_coordinates(shapely.point_on_surface(places))[0] if places.area > 0.0 else None


def replaced(item: Item, kind: int, table: Replacements) -> Item:
    """The item as another kind, inside its own outline."""
    dx, dy = rotate(table[item.kind, kind][None, :], item.pose.heading_deg)[0]
    return Item(kind, Pose(item.pose.x + dx, item.pose.y + dy, item.pose.heading_deg))


def complete_families(
    kinds: Sequence[Kind],
    items: Sequence[Item],
    table: Replacements,
    level: Callable[[int, Pose], int] | None = None,
    allowed: Callable[[Item, Item], bool] | None = None,
    effort: float = THOROUGH,
) -> tuple[Item, ...]:
    """Keep and replace items so that every family is complete and what is kept is worth most.

    A family is complete when, at each level, as many items of side -1 as of side +1 remain, or an
    even number of side 0. Limits of the kinds hold. `allowed` is asked of every item and its replacement.
    """
    if _is_complete(kinds, items, level):  # a replacement is never larger
        return tuple(items)
    model = cp_model.CpModel()
    worth = [worth_of(kind) for kind in kinds]
    sides = defaultdict(list)
    used = defaultdict(list)
    options = []
    for i, item in enumerate(items):
        choice = []
        for c in range(len(kinds)):
            if (item.kind, c) in table:
                other = item if c == item.kind else replaced(item, c, table)
                if c != item.kind and allowed is not None and not allowed(item, other):
                    continue
                at = 0 if level is None else level(c, other.pose)
                var = model.new_bool_var(f"{i}-{c}")
                choice.append((var, c))
                used[c].append(var)
                sides[kinds[c].family, at, kinds[c].side].append(var)
                model.add_hint(var, int(c == item.kind))
        model.add_at_most_one(var for var, _ in choice)
        options.append(choice)
    for c, variables in used.items():
        if kinds[c].limit < len(variables):
            model.add(sum(variables) <= kinds[c].limit)
    for family, at, side in list(sides):
        if not family:
            continue
        if side == 0:
            pairs = model.new_int_var(0, len(items), f"{family}-{at}")
            model.add(sum(sides[family, at, 0]) == 2 * pairs)
        else:
            model.add(sum(sides[family, at, side]) == sum(sides.get((family, at, -side), [])))
    model.maximize(sum(round(worth[c]) * var for choice in options for var, c in choice))
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False  # the signal is the caller's
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return ()
    return tuple(
        item if c == item.kind else replaced(item, c, table)
        for item, choice in zip(items, options, strict=True)
        for var, c in choice
        if solver.value(var)
    )


def _is_complete(kinds: Sequence[Kind], items: Sequence[Item], level: Callable[[int, Pose], int] | None) -> bool:
    """Whether every item has its partner, and no kind more items than its limit."""
    if any(number > kinds[k].limit for k, number in Counter(item.kind for item in items).items()):
        return False
    sides = Counter(
        (kinds[item.kind].family, 0 if level is None else level(item.kind, item.pose), kinds[item.kind].side)
        for item in items if kinds[item.kind].family
    )
    return all(
        number % 2 == 0 if side == 0 else number == sides[family, at, -side]
        for (family, at, side), number in sides.items()
    )
