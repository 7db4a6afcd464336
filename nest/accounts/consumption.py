"""Material used per pair, by size, style and order.

Each hide or lay is charged whole to the pieces cut from it: net and trim-off area to the size they
belong to, every kind of waste to the sizes in proportion to their rough area there. The last
hide is charged whole too, however little was cut from it. Pairs are pairs cut: pieces ÷ 2.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import fsum

from nest.accounts.areas import MaterialUse
from nest.pieces.piece import Role
from nest.pieces.sizing import size_key


@dataclass(frozen=True, slots=True)
class Consumption:
    """What the pairs of one style and size took of their material, mm² and mm, all pairs together.

    size "" : all sizes of the style; style "" : the whole order.
    measure_mm2 : paid for beyond the digitised outline (below zero if the hide measured less), so that
        gross = net + trim-off + interlock + fault + edge + measure.
    length_mm : length off the roll, end losses included; 0 for leather.
    """

    style: str
    size: str
    role: Role
    pairs: float
    net_mm2: float = 0.0
    trim_off_mm2: float = 0.0
    interlock_mm2: float = 0.0
    fault_mm2: float = 0.0
    edge_mm2: float = 0.0
    measure_mm2: float = 0.0
    length_mm: float = 0.0

    @property
    def rough_mm2(self) -> float:
        """Area within the cut lines."""
        return self.net_mm2 + self.trim_off_mm2

    @property
    def gross_mm2(self) -> float:
        """Area paid for."""
        return self.rough_mm2 + self.interlock_mm2 + self.fault_mm2 + self.edge_mm2 + self.measure_mm2

    def per_pair(self) -> "Consumption":
        """The same for one pair.

        Raises
        ------
        ZeroDivisionError
            If no pair was cut.
        """
        return self._scaled(1.0 / self.pairs)

    def _scaled(self, factor: float) -> "Consumption":
        return replace(self, **{name: factor * getattr(self, name) for name in _AMOUNTS})


_AMOUNTS = ("pairs", "net_mm2", "trim_off_mm2", "interlock_mm2", "fault_mm2", "edge_mm2", "measure_mm2", "length_mm")


def added(parts: Iterable[Consumption], style: str = "", size: str = "", role: Role = Role.VAMP) -> Consumption:
    """The parts added up under a new name."""
    parts = tuple(parts)
    return Consumption(style, size, role, *(fsum(getattr(part, name) for part in parts) for name in _AMOUNTS))


def consumption(uses: Sequence[MaterialUse], role: Role) -> tuple[Consumption, ...]:
    """Consumption of one kind of material: a row for each style and size, a row for each style, one for the order.

    Sizes stand in order of style and size; empty if nothing was cut in this role.
    """
    rows: dict[tuple[str, str], list[Consumption]] = {}
    for use in uses:
        if use.role is role:
            for part in _on_material(use):
                rows.setdefault((part.style, part.size), []).append(part)
    if not rows:
        return ()
    keys = sorted(rows, key=lambda key: (key[0], size_key(key[1])))
    by_size = [added(rows[style, size], style, size, role) for style, size in keys]
    styles = dict.fromkeys(row.style for row in by_size)
    by_style = [added((row for row in by_size if row.style == style), style, "", role) for style in styles]
    return (*by_size, *by_style, added(by_size, role=role))


def _on_material(use: MaterialUse) -> list[Consumption]:
    account, excess = use.account, use.paid_mm2 - use.account.material_mm2
    return [
        Consumption(
            part.style, part.size, use.role, part.pieces / 2.0, part.net_mm2, part.rough_mm2 - part.net_mm2,
            account.interlock_mm2 * part.share, account.fault_mm2 * part.share, account.edge_mm2 * part.share,
            excess * part.share, use.length_mm * part.share,
        )
        for part in use.sizes
    ]
