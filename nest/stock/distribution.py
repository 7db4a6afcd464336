"""What a supply of hides is like, as data: how large, how divided into zones, how flawed.

The values in `SIDES` are input, not law: zone shares and usual areas are common practice from memory,
the names and the order of the zones follow F. Y. Golding, The Manufacture of Boots and Shoes (London,
1902), chapter on clicking; flaw rates and stretch directions are invented. Put your own stock's
values in with `dataclasses.replace`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import fsum
from statistics import fmean, stdev

from nest.stock.material import Hide
from nest.units import MM2_PER_M2


@dataclass(frozen=True, slots=True)
class ZoneKind:
    """A zone of a side: its share of the area, its class (1 is the best) and its stretch direction.

    lower_chance : chance that it is one class worse on a given hide.
    stretch_deg, stretch_sd_deg : mean and spread of the direction of most stretch, degrees from the spine
        (the spine runs along +x from tail to head).
    """

    name: str
    share: float
    quality: int
    lower_chance: float
    stretch_deg: float
    stretch_sd_deg: float


@dataclass(frozen=True, slots=True)
class FlawKind:
    """A kind of flaw: how often, where, how large, how bad. Ranges are (least, largest).

    per_m2 : mean number on a square metre of hide.
    zones : names of the zones it is found in; empty for all.
    length_mm, width_mm : the flaw is a wandering streak of this length and width; a spot when the
        length is zero.
    """

    name: str
    per_m2: float
    zones: tuple[str, ...]
    length_mm: tuple[float, float]
    width_mm: tuple[float, float]
    severity: tuple[int, int]
    tears_chance: float
    coverable_chance: float


@dataclass(frozen=True, slots=True)
class HideDistribution:
    """A supply of hides to draw from.

    area_mean_mm2, area_sd_mm2, area_range_mm2 : normal distribution, cut off at the range.
    slenderness : (mean, spread) of length ÷ width.
    measure_sd : relative spread of the area as measured about the true one.
    thickness_mm : (mean, spread).
    flaw_range : least and largest number of flaws on one hide.
    class_from_usable : a hide is of class 1 when at least the first share of its area lies in zones of
        class 1 or 2 and clear of flaws, of class 2 at the second share, otherwise of class 3.
    """

    area_mean_mm2: float
    area_sd_mm2: float
    area_range_mm2: tuple[float, float]
    slenderness: tuple[float, float]
    measure_sd: float
    thickness_mm: tuple[float, float]
    zones: tuple[ZoneKind, ...]
    flaws: tuple[FlawKind, ...]
    flaw_range: tuple[int, int]
    class_from_usable: tuple[float, float]

    def __post_init__(self) -> None:
        least, largest = self.area_range_mm2
        if not 0.0 < least <= self.area_mean_mm2 <= largest or self.area_sd_mm2 < 0.0:
            raise ValueError(f"expected a mean area within the range, found {self.area_mean_mm2} in {least}..{largest}")
        total = fsum(zone.share for zone in self.zones)
        if abs(total - 1.0) > 1e-6 or min(zone.share for zone in self.zones) <= 0.0:
            raise ValueError(f"expected zone shares above zero that add up to 1, found {total}")
        if tuple(zone.name for zone in self.zones) != ZONE_NAMES:
            raise ValueError(f"expected the zones {', '.join(ZONE_NAMES)} in this order")
        if not 0 <= self.flaw_range[0] <= self.flaw_range[1]:
            raise ValueError(f"expected a range of flaw numbers, found {self.flaw_range}")


ZONE_NAMES = ("butt", "ribs", "shoulder", "neck", "belly", "flank", "hind shank", "fore shank")
"""The zones of a side from tail to head along the spine, then along the belly, then the shanks."""

SIDES = HideDistribution(
    area_mean_mm2=2.05 * MM2_PER_M2,
    area_sd_mm2=0.17 * MM2_PER_M2,
    area_range_mm2=(1.6 * MM2_PER_M2, 2.6 * MM2_PER_M2),
    slenderness=(1.95, 0.06),
    measure_sd=0.004,
    thickness_mm=(1.5, 0.1),
    zones=(
        ZoneKind("butt", 0.25, 1, 0.0, 90.0, 2.5),
        ZoneKind("ribs", 0.24, 1, 0.1, 90.0, 2.5),
        ZoneKind("shoulder", 0.15, 2, 0.05, 84.0, 4.0),
        ZoneKind("neck", 0.07, 3, 0.2, 96.0, 6.0),
        ZoneKind("belly", 0.16, 2, 0.45, 78.0, 5.0),
        ZoneKind("flank", 0.07, 4, 0.0, 70.0, 6.0),
        ZoneKind("hind shank", 0.03, 4, 0.0, 40.0, 8.0),
        ZoneKind("fore shank", 0.03, 4, 0.0, 130.0, 8.0),
    ),
    flaws=(
        FlawKind("pinhole", 1.6, (), (0.0, 0.0), (1.0, 2.5), (1, 1), 0.2, 0.9),
        FlawKind("tick mark", 1.2, ("ribs", "belly", "flank", "shoulder"), (0.0, 2.0), (3.0, 7.0), (1, 2), 0.0, 0.8),
        FlawKind("scratch", 1.4, (), (20.0, 60.0), (1.5, 3.5), (1, 2), 0.0, 0.8),
        FlawKind("growth line", 0.5, ("neck", "shoulder"), (60.0, 160.0), (3.0, 6.0), (1, 2), 0.0, 0.6),
        FlawKind("vein", 0.6, ("belly", "flank"), (80.0, 180.0), (3.0, 6.0), (1, 2), 0.0, 0.7),
        FlawKind("cut", 0.7, ("butt", "belly", "flank", "shoulder"), (12.0, 45.0), (1.5, 3.0), (2, 3), 1.0, 0.0),
        FlawKind("scar", 0.4, (), (10.0, 35.0), (4.0, 9.0), (2, 3), 0.3, 0.3),
        FlawKind("brand", 0.25, ("butt", "ribs", "shoulder"), (30.0, 70.0), (60.0, 95.0), (3, 3), 0.0, 0.1),
    ),
    flaw_range=(5, 25),
    class_from_usable=(0.75, 0.60),
)
"""Sides of cow hide, for demonstrations."""


def like(hides: Iterable[Hide], supply: HideDistribution = SIDES) -> HideDistribution:
    """Return `supply` with mean and spread of area taken from at least two measured `hides`.

    Raises
    ------
    ValueError
        If there are fewer than two hides.
    """
    areas = [hide.measured_area_mm2 for hide in hides]
    if len(areas) < 2:
        raise ValueError(f"expected at least two hides to take a spread from, found {len(areas)}")
    mean, spread = fmean(areas), stdev(areas)
    low, high = min(min(areas), mean - 2.5 * spread), max(max(areas), mean + 2.5 * spread)
    return replace(supply, area_mean_mm2=mean, area_sd_mm2=spread, area_range_mm2=(max(low, 0.1 * mean), high))
