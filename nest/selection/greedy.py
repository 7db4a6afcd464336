"""Take containers in a given order until a demand is met: what a choice among layouts is compared with.

No search: each container is opened if it serves anything still missing, with the layout that serves most of it.
"""

from collections.abc import Sequence

from nest.selection.layouts import LEFT_OUT, Choice, OfferedLayout


def take_in_order(
    order: Sequence[int], candidates: Sequence[OfferedLayout], demand: Sequence[int], sizes: Sequence[int]
) -> Choice:
    """Open the containers of `order` one after the other until nothing is missing.

    Arguments are those of `choose_layouts`, and so is the result; its proved figures are zero. Each unit serves as its
    own kind if that is missing, else as the first of the others that is.
    """
    left = list(demand)
    chosen: list[int] = []
    serves: list[tuple[int, ...]] = []
    for container in order:
        if not any(left):
            break
        best, most, after = None, 0, left
        for c, candidate in enumerate(candidates):
            if candidate.container != container:
                continue
            served, then = _serve(candidate, left)
            size = sum(sizes[kind] for kind in served if kind != LEFT_OUT)
            if size > most:
                best, most, after = (c, served), size, then
        if best is not None:
            chosen.append(best[0])
            serves.append(best[1])
            left = after
    return Choice(tuple(chosen), tuple(serves), tuple(left))


def _serve(candidate: OfferedLayout, missing: Sequence[int]) -> tuple[tuple[int, ...], list[int]]:
    """What the units of a layout serve as, and what is missing then; units that are not needed are left out."""
    left = list(missing)
    served = []
    for options in candidate.units:
        kind = next((one for one in options if left[one] > 0), LEFT_OUT)
        if kind != LEFT_OUT:
            left[kind] -= 1
        served.append(kind)
    return tuple(served), left
