"""Where the area of a hide or lay goes, in five parts that add up.

    material = net + trim-off + interlock waste + fault waste + edge waste

material : a hide's digitised outline, holes left out; of a lay every ply in full width, end losses included.
net, trim-off : of what is cut, the part that stays in the shoe and the part that is thrown away.
interlock waste : rough area × (1/ρ − 1) for each piece, ρ its best double-lattice density under its gap.
fault waste : ground that no piece could use because of flaws and unfit zones (`nest.accounts.faults`),
    where nothing was cut from it after all.
edge waste : the rest; on a lay selvedges and end losses are part of it.

For a plan that passes its checks no part is below zero: fault waste is ground that was left, so it is at
most what the cuts leave; interlock waste is a computed figure and is capped by what then remains, since a
mixture of sizes, or a small hide that fits just so, may interlock more densely than one size's best lattice.
`interlock_capped_mm2` says how much was cut off that way.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from math import fsum
from typing import Self

from geometry.polygon import area
from nest.pieces.piece import Piece, Role
from nest.plan import HideLayout, Lay, Placed
from nest.stock.material import Hide, Roll


@dataclass(frozen=True, slots=True)
class AreaAccount:
    """The five parts of one material's area, or of several added up; mm²."""

    material_mm2: float
    net_mm2: float
    trim_off_mm2: float
    interlock_mm2: float
    fault_mm2: float
    edge_mm2: float
    interlock_capped_mm2: float = 0.0
    selvedge_mm2: float = 0.0
    """Part of the edge waste: selvedges of a roll."""
    ends_mm2: float = 0.0
    """Part of the edge waste: lost at the ends of the plies, between the selvedges."""

    @property
    def rough_mm2(self) -> float:
        """Area within the cut lines."""
        return self.net_mm2 + self.trim_off_mm2

    @property
    def waste_mm2(self) -> float:
        """Area outside the cut lines."""
        return self.interlock_mm2 + self.fault_mm2 + self.edge_mm2

    @classmethod
    def total(cls, accounts: Iterable[Self]) -> Self:
        """The accounts added up, part by part."""
        accounts = tuple(accounts)
        return cls(*(fsum(getattr(one, field.name) for one in accounts) for field in fields(cls)))


@dataclass(frozen=True, slots=True)
class Measure:
    """What one piece measures: area within its cut line, the net part of it, and its interlock waste; mm²."""

    piece: Piece
    rough_mm2: float
    net_mm2: float
    density: float
    """Best double-lattice density under the gap of its material."""

    @property
    def interlock_mm2(self) -> float:
        """Area that even the densest interlocking of this piece leaves, for one piece."""
        return self.rough_mm2 * (1.0 / self.density - 1.0)


@dataclass(frozen=True, slots=True)
class SizeShare:
    """Pieces of one style and size on one material, and their share of its rough area (0..1)."""

    style: str
    size: str
    pieces: int
    rough_mm2: float
    net_mm2: float
    share: float


@dataclass(frozen=True, slots=True)
class MaterialUse:
    """What one hide or lay gave: its account, its sizes, and what is paid for it.

    paid_mm2 : a hide's measured area, which may differ from its digitised outline; a lay's material area.
    length_mm : metres off the roll, all plies, end losses included; 0 for a hide.
    """

    material_id: str
    role: Role
    account: AreaAccount
    paid_mm2: float
    length_mm: float
    sizes: tuple[SizeShare, ...]


def measure(piece: Piece, density: float) -> Measure:
    """Measure one piece; `density` is its best double-lattice density under its gap (0..1]."""
    return Measure(piece, area(piece.cut_outline), area(piece.net_outline), density)


def hide_use(hide: Hide, layout: HideLayout, measures: Mapping[str, Measure], fault_mm2: float) -> MaterialUse:
    """Account of one hide. `measures` by piece id; `fault_mm2` is the fault waste that nothing was cut from."""
    placed = [measures[one.piece_id] for one in layout.placed]
    account = _account(hide.outline.area, hide.outline.area, placed, 1, fault_mm2)
    return MaterialUse(
        hide.hide_id, Role.VAMP, account, hide.measured_area_mm2, 0.0, _sizes(layout.placed, measures, 1)
    )


def lay_use(roll: Roll, lay: Lay, measures: Mapping[str, Measure]) -> MaterialUse:
    """Account of one lay, all plies together; goods on a roll have no faults here."""
    placed = [measures[one.piece_id] for one in lay.placed]
    ply_length = lay.length_mm + 2.0 * roll.end_loss_mm
    length = lay.plies * ply_length
    usable = lay.plies * lay.length_mm * roll.usable_width_mm
    account = _account(
        length * roll.width_mm, usable, placed, lay.plies, 0.0, selvedge_mm2=length * 2.0 * roll.selvedge_mm,
        ends_mm2=lay.plies * 2.0 * roll.end_loss_mm * roll.usable_width_mm,
    )
    sizes = _sizes(lay.placed, measures, lay.plies)
    return MaterialUse(lay.lay_id, Role.REINFORCEMENT, account, account.material_mm2, length, sizes)


def _account(
    material: float, usable: float, placed: list[Measure], plies: int, fault: float, **edges: float
) -> AreaAccount:
    """The five parts; interlock waste is capped by what the cuts and faults leave of the `usable` area."""
    rough = plies * fsum(one.rough_mm2 for one in placed)
    net = plies * fsum(one.net_mm2 for one in placed)
    computed = plies * fsum(one.interlock_mm2 for one in placed)
    interlock = min(computed, max(0.0, usable - rough - fault))
    edge = material - rough - interlock - fault
    return AreaAccount(material, net, rough - net, interlock, fault, edge, computed - interlock, **edges)


def _sizes(placed: tuple[Placed, ...], measures: Mapping[str, Measure], plies: int) -> tuple[SizeShare, ...]:
    by_size: dict[tuple[str, str], list[Measure]] = {}
    for one in placed:
        found = measures[one.piece_id]
        by_size.setdefault((found.piece.style, found.piece.size), []).append(found)
    whole = fsum(measures[one.piece_id].rough_mm2 for one in placed)
    shares = []
    for (style, size), mine in sorted(by_size.items()):
        rough, net = fsum(one.rough_mm2 for one in mine), fsum(one.net_mm2 for one in mine)
        shares.append(SizeShare(style, size, plies * len(mine), plies * rough, plies * net, rough / whole))
    return tuple(shares)
