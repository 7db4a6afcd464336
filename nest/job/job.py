"""A job as the stages see it: everything read, checked and in mm; nothing refers to a file any more."""

from dataclasses import dataclass

from nest.job.costing import PLAIN_COSTING, Costing
from nest.job.cutting_table import PLAIN_TABLE, CuttingTable
from nest.pieces.quantities import RejectPairs
from nest.pieces.style import OrderLine, Style, WeightRow
from nest.stock.material import Hide, Leather, Roll


@dataclass(frozen=True, slots=True)
class Settings:
    """How the job is solved and written."""

    seed: int = 1
    seconds: float = 120.0
    hide_gap_mm: float = 1.0
    """Least distance between cut lines, as the table gets them, on a hide (knife or die bridge)."""
    roll_gap_mm: float = 1.0
    edge_margin_mm: float = 0.0
    """Margin kept along the outline of every hide."""
    currency: str = "EUR"
    dxf_version: str = "R2000"
    reject_pairs: RejectPairs = RejectPairs.POOLED
    """How many pairs are cut beyond those wanted."""
    table: CuttingTable = PLAIN_TABLE
    costing: Costing = PLAIN_COSTING

    # Gap and margin are kept by the cut lines as the table gets them, so outlines stand further off by what the tool's
    # way may lie outside them.

    @property
    def hide_apart_mm(self) -> float:
        """Least distance between outlines on a hide."""
        return self.hide_gap_mm + 2.0 * self.table.reach_mm

    @property
    def roll_apart_mm(self) -> float:
        """Least distance between outlines on a roll."""
        return self.roll_gap_mm + 2.0 * self.table.reach_mm

    @property
    def edge_room_mm(self) -> float:
        """Least distance of an outline from the edge of its hide."""
        return self.edge_margin_mm + self.table.reach_mm

    @property
    def strip_room_mm(self) -> float:
        """Least distance of an outline from the edges of its strip of a roll."""
        return self.table.reach_mm


@dataclass(frozen=True, slots=True)
class Job:
    """The whole job."""

    name: str
    styles: tuple[Style, ...]
    order: tuple[OrderLine, ...]
    leathers: tuple[Leather, ...]
    hides: tuple[Hide, ...]
    rolls: tuple[Roll, ...]
    weight_table: tuple[WeightRow, ...]
    settings: Settings
    warnings: tuple[str, ...] = ()
    """What was repaired or dropped while reading, said to the user."""
    notes: tuple[str, ...] = ()
    """What was done as it should be, such as curves made into chords; for those who ask."""
    measured_margins: bool = False
    """Whether every hide keeps as its own margin what its outline is unsure by."""
