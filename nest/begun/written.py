"""The two lists of the day for a plan, as `nest.begun.lists` reads them: what is cut, and what is spoiled."""

from nest.plan import Begun, Side
from nest.units import MM2_PER_DM2

List = tuple[tuple[str, ...], tuple[tuple[str | int, ...], ...]]
"""Names of the columns, and rows."""


def cut_list(begun: Begun) -> List:
    """What is cut or withdrawn: a row a hide, then a row a roll."""
    rows = [(one.hide_id, "cut", *_measure(one.measured_mm2, MM2_PER_DM2, "dm2")) for one in begun.hides]
    rows += [(hide_id, "withdrawn", "", "") for hide_id in begun.withdrawn]
    rows += [
        (one.roll_id, "withdrawn" if one.withdrawn else "cut", *_measure(one.length_mm, 1000.0, "m"))
        for one in begun.rolls
    ]
    return ("material", "state", "used", "unit"), tuple(rows)


def spoiled_list(begun: Begun) -> List:
    """What is spoiled since cutting began: a row a style, size and side."""
    rows = tuple(
        (one.style, one.size, "" if one.side is Side.EITHER else str(one.side), one.count,
         "lost" if one.backed else "kept")
        for one in begun.spoiled
    )
    return ("style", "size", "side", "pieces", "reinforcement"), rows


def _measure(value: float | None, unit: float, name: str) -> tuple[str, str]:
    return ("", "") if value is None else (f"{value / unit:.10g}", name)
