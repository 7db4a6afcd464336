"""Notes on sizes not measured at a part: where their allowance comes from, so that nobody takes it for tried."""

from collections.abc import Mapping, Sequence

from nest.pieces.piece import Part
from nest.pieces.sizing import position, size_system
from nest.pieces.style import Style


def neighbours(style: Style, size: str, measured: Sequence[str]) -> tuple[str, ...]:
    """The nearest of the measured sizes below and above a size along the scale; one alone beyond them, or of itself."""
    system = size_system(style.grading.system)
    at = position(system, size)
    by_place = sorted(measured, key=lambda one: position(system, one))
    below = [one for one in by_place if position(system, one) <= at][-1:]
    above = [one for one in by_place if position(system, one) >= at][:1]
    return tuple(dict.fromkeys(below + above))


def untried_notes(style: Style, sizes: Sequence[str], measured: Mapping[Part, Sequence[str]]) -> list[str]:
    """One sentence for the parts that are alike: which sizes take their change from where.

    sizes : all that get an allowance, in ascending order; measured : those with measurements at each part. A part
        without any is left out.
    """
    alike: dict[str, list[str]] = {}
    for part, known in measured.items():
        sources: dict[tuple[str, ...], list[str]] = {}
        for size in sizes:
            if known and size not in known:
                sources.setdefault(neighbours(style, size, known), []).append(size)
        said = []
        for source, mine in sources.items():
            how = f"taken over from size {source[0]}" if len(source) == 1 else (
                f"interpolated between sizes {source[0]} and {source[1]}")
            said.append(f"{', '.join(mine)} {how}")
        if said:
            alike.setdefault("; ".join(said), []).append(str(part))
    return [f"Not tried, change of the allowance at the {_listed(parts)}: {said}." for said, parts in alike.items()]


def _listed(parts: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1])))
