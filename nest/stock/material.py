"""Hides with zones and flaws, and rolls."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from shapely.geometry import MultiPolygon, Polygon

UNKNOWN = "unknown"
"""The word for stretch that is not known, in drawings."""


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """Region of a hide with one quality class (1 is the best) and one stretch direction (degrees from +x).

    stretch_deg : None where the stretch is unknown.
    """

    zone_id: str
    quality: int
    stretch_deg: float | None
    outline: Polygon | MultiPolygon


@dataclass(frozen=True, slots=True, eq=False)
class Flaw:
    """A fault. `tears`: nothing may be cut over it. `coverable`: harmless within the trim-off band."""

    flaw_id: str
    kind: str
    severity: int
    tears: bool
    coverable: bool
    outline: Polygon | MultiPolygon


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A straightened photograph, grey: `packed` is base64 of its zlib-packed rows from the top, one byte a pixel.

    It covers x0..x1 and y0..y1 of the hide's coordinates, mm.
    """

    packed: str
    width: int
    height: int
    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True, eq=False)
class Hide:
    """One skin, grain side up; `outline` may have holes. `measured_area_mm2` is what is paid for."""

    hide_id: str
    leather: str
    lot: str
    quality: int
    thickness_mm: float
    measured_area_mm2: float
    outline: Polygon
    zones: tuple[Zone, ...]
    flaws: tuple[Flaw, ...]
    price: Decimal | None = None
    """Price of this hide, if it differs from the leather's own."""
    price_unit: str = ""
    """Unit of area that price is for, a key of MM2_PER_AREA_UNIT; "" for the price unit of its leather."""
    photograph: str = ""
    """Name of the photograph that the outline was taken from, if it was."""
    within_mm: float | None = None
    """95 % of a photographed outline is right within this."""
    backdrop: Backdrop | None = None
    """The photograph, to be shown under a layout."""
    margin_mm: float = 0.0
    """Kept along its edge on top of the job's margin: what its outline is unsure by, where the job asks for that."""
    remnant_of: str = ""
    """The hide it is what is left of; "" of a whole hide."""


class RollStretch(StrEnum):
    """Along which direction of the roll the goods stretch most."""

    WIDTH = "width"
    LENGTH = "length"


@dataclass(frozen=True, slots=True)
class Roll:
    """Goods of fixed width. On the roll x runs along its length, y across its width from one selvedge."""

    roll_id: str
    width_mm: float
    selvedge_mm: float
    length_mm: float
    stretch: RollStretch
    weight_g_m2: float
    price_per_m: Decimal
    adhesive_one_side: bool = True
    one_way: bool = False
    end_loss_mm: float = 20.0
    """Lost at each end of a ply."""
    measured_stretch_deg: float | None = None
    """Direction of most stretch as a stretch test found it, degrees from +x (along the roll); it takes the place of
    `stretch`."""
    splices_mm: tuple[float, ...] = ()
    """Distances of splices from the roll's start; no ply may lie over one."""
    breaks: tuple[tuple[Decimal, Decimal], ...] = ()
    """Price breaks: (metres from which, percent off the price of all of them), rising."""
    currency: str = ""
    """What its prices were given in; "" for the job's own. Prices here are in the job's own."""
    rate: Decimal = Decimal(1)
    """What one unit of that currency was taken for."""
    rate_date: str = ""

    @property
    def usable_width_mm(self) -> float:
        """Width between the selvedges."""
        return self.width_mm - 2.0 * self.selvedge_mm

    @property
    def stretch_deg(self) -> float:
        """Direction of most stretch on the roll, degrees from +x (along the roll)."""
        if self.measured_stretch_deg is not None:
            return self.measured_stretch_deg
        return 90.0 if self.stretch is RollStretch.WIDTH else 0.0


@dataclass(frozen=True, slots=True)
class Leather:
    """A leather on offer: price per `price_unit` (a key of MM2_PER_AREA_UNIT), by hide class if given."""

    name: str
    price: Decimal
    price_unit: str
    price_by_quality: tuple[tuple[int, Decimal], ...] = ()
    one_way: bool = False
    mean_hide_mm2: float | None = None
    """Mean area of a hide of this leather, where it is known before there is stock."""
    unfit_share: float | None = None
    """Share of a hide's area that is not fit for vamps, flaws and poor zones together, as stated; 0..1."""
    breaks: tuple[tuple[Decimal, Decimal], ...] = ()
    """Price breaks: (price units from which, percent off the price of all of them), rising; not off a hide's own."""
    currency: str = ""
    """What its prices were given in; "" for the job's own. Prices here are in the job's own."""
    rate: Decimal = Decimal(1)
    """What one unit of that currency was taken for."""
    rate_date: str = ""
