"""Which ground and which headings a style may have on a hide or a roll.

Headings are offered on a grid of equal steps about the stretch of the largest fit zone, not about every zone's
own: the solver tabulates pieces against pieces for every *difference* of headings, and differences on one
grid are few. That zone's centre and both its edges are on the grid; other zones lose less than a step at
an edge, and one that holds no grid heading at all has its own centre.

What is offered is a little less than what is allowed (`SAFETY_MM`, `THIN_MM`), so that rounding never
turns a legal plan into a wrong one, and outlines with fewer corners are solved faster.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from geometry.precision import Region
from nest.rules import ZONE_SHARE, Heading, Rules, judge_heading
from nest.stock.ground import fit_zones, net_ground, trim_ground
from nest.stock.material import Hide, Roll, Zone

STEP_DEG = 5.0
"""Widest step between headings; half of it doubles the number of shapes the solver prepares."""

FINE_PARTS = 5
"""Parts of a step in which the solver may close up what it found, if it has the time."""

MOST_HEADINGS = 24

SAFETY_MM = 0.01
THIN_MM = 0.1

COARSER_MM, MOST_CORNERS = (0.3, 1.0), 2_000
"""Where ground still has more corners than this, it is thinned by more: tables of it would take minutes."""


def headings(
    stretches_deg: Sequence[float], rules: Rules, *, one_way: bool = False, step_deg: float = STEP_DEG,
    anchor_deg: float | None = None,
) -> tuple[float, ...]:
    """Headings that at least one of these stretch directions allows, degrees in [0, 360), in ascending order.

    All on the grid within the tolerance of *across*; of bias, where it has leave, as few as serve every stretch
    direction: it is a way out, and each heading costs time.

    anchor_deg : a heading the grid runs through; by default *across* the first stretch direction.
    """
    if not stretches_deg:
        return ()
    anchor = stretches_deg[0] + 90.0 if anchor_deg is None else anchor_deg
    mine = [h for stretch in stretches_deg for h in _within(stretch + 90.0, rules.tolerance_deg, anchor, step_deg)]
    if rules.bias_leave:
        for offset in (45.0, 135.0):
            mine += _few([_within(s + offset, rules.tolerance_deg, anchor, step_deg) for s in stretches_deg])
    turns = (0.0,) if one_way else (0.0, 180.0)
    found = {round((heading + turn) * 1e6) % 360_000_000 for heading in mine for turn in turns}
    return tuple(key * 1e-6 for key in sorted(found))


def _few(ranges: list[list[float]]) -> list[float]:
    """Few headings of which every range holds one: the one most ranges hold first, the middlemost of equals."""
    chosen = []
    while ranges:
        held = [h for one in ranges for h in one]
        most = max(map(held.count, held))
        equals = [h for h in dict.fromkeys(held) if held.count(h) == most]
        chosen.append(equals[len(equals) // 2])
        ranges = [one for one in ranges if chosen[-1] not in one]
    return chosen


def _within(centre: float, tolerance: float, anchor: float, step: float) -> list[float]:
    """Headings on the grid within the tolerance of `centre`; `centre` itself if there are none."""
    first = int(np.ceil((centre - tolerance - anchor) / step - 1e-9))
    last = int(np.floor((centre + tolerance - anchor) / step + 1e-9))
    return [anchor + k * step for k in range(first, last + 1)] or [centre]


def hide_headings(
    hide: Hide, rules: Sequence[Rules], *, one_way: bool = False, step_deg: float = STEP_DEG, fine: bool = False,
    most_parts: int | None = None,
) -> list[tuple[float, ...]]:
    """Headings for each of several styles on one hide, all on one grid.

    The step is at most `step_deg` and a part of the widest tolerance, of no more than `most_parts`; it is widened while
    a style has more than MOST_HEADINGS. Where it is not, `fine` headings are one of FINE_PARTS parts of it apart. Empty
    for a style that no zone of known stretch is good enough for.
    """
    return _on_grid(hide, rules, one_way, step_deg, fine, most_parts)[0]


def grid_parts(hide: Hide, rules: Sequence[Rules], *, one_way: bool = False) -> int | None:
    """Into how many parts the widest tolerance is divided by the headings of a hide; None for a hide without any."""
    headings_deg, parts = _on_grid(hide, rules, one_way, STEP_DEG, False, None)
    return parts if any(headings_deg) else None


def _on_grid(
    hide: Hide, rules: Sequence[Rules], one_way: bool, step_deg: float, fine: bool, most_parts: int | None
) -> tuple[list[tuple[float, ...]], int]:
    """Headings by style, and the parts of the widest tolerance that they are apart."""
    fit = [fit_zones(hide, rule) for rule in rules]
    zones = max(fit, key=len, default=())
    if not zones:
        return [()] * len(rules), 0
    known = [(zone.outline.area, zone.stretch_deg) for zone in zones if zone.stretch_deg is not None]
    if not known:
        return [()] * len(rules), 0
    anchor = max(known, key=lambda one: one[0])[1] + 90.0
    widest = max(rule.tolerance_deg for rule in rules)
    least = int(np.ceil(widest / step_deg - 1e-9))
    parts = least if most_parts is None else min(least, most_parts)

    def by(step: float) -> list[tuple[float, ...]]:
        return [
            headings([zone.stretch_deg for zone in mine if zone.stretch_deg is not None], rule, one_way=one_way,
                     step_deg=step, anchor_deg=anchor)
            for mine, rule in zip(fit, rules, strict=True)
        ]

    while True:
        found = by(_grid_step(widest, parts) if parts else step_deg)
        if parts <= 1 or max(map(len, found)) <= MOST_HEADINGS:
            break
        parts -= 1
    return (by(_grid_step(widest, FINE_PARTS * parts)) if fine and parts == least > 0 else found), parts


def roll_headings(roll: Roll, rules: Sequence[Rules], *, step_deg: float = STEP_DEG) -> list[tuple[float, ...]]:
    """Headings for each of several styles on a roll, all on one grid."""
    widest = max(rule.tolerance_deg for rule in rules)
    step = _grid_step(widest, int(np.ceil(widest / step_deg - 1e-9))) if widest > 0.0 else step_deg
    return [headings([roll.stretch_deg], rule, one_way=roll.one_way, step_deg=step) for rule in rules]


def _grid_step(widest: float, parts: int) -> float:
    """A part of the tolerance, in whole hundredths so that differences of headings are equal to the last digit."""
    return max(np.floor(100.0 * widest / parts + 1e-9) / 100.0, 0.01)


def outline_ground(hide: Hide, rules: Rules, margin_mm: float = 0.0) -> Region:
    """The ground offered to rough outlines: `trim_ground`, a little less."""
    return _offered(trim_ground(hide, rules, margin_mm))


def core_grounds(
    hide: Hide, rules: Rules, headings_deg: Sequence[float], *, one_way: bool = False, margin_mm: float = 0.0,
    wanted: Callable[[Zone, float], bool] = lambda zone, heading: True,
) -> tuple[Region, ...]:
    """The ground offered to net outlines at each heading: zones of a good class that allow it, a little less.

    wanted : which of these zones are wanted at which heading; by default all.
    """
    made: dict[tuple[bool, ...], Region] = {}
    grounds = []
    for heading in headings_deg:
        good = tuple(
            zone.quality <= rules.net_quality
            and judge_heading(heading, zone.stretch_deg, rules, one_way) is not Heading.WRONG
            and wanted(zone, heading)
            for zone in hide.zones
        )
        if good not in made:
            made[good] = _offered(net_ground(hide, good, margin_mm))
        grounds.append(made[good])
    return tuple(grounds)


@dataclass(frozen=True, slots=True, eq=False)
class ClassUnder:
    """Gives the class of the ground under a net outline, a placed ring; 0 where no zone holds any.

    It is the worst class of which zones that bad or worse hold more than ZONE_SHARE of the outline together. It holds
    the zones alone, for it is sent to other processes with the problem it belongs to.

    outlines : of the zones, prepared; an array of objects.
    classes : of the zones.
    """

    outlines: np.ndarray
    classes: tuple[int, ...]

    def __post_init__(self):
        shapely.prepare(self.outlines)

    def __reduce__(self):
        return ClassUnder, (self.outlines, self.classes)  # made anew, so that the outlines are prepared there too

    def __call__(self, net: np.ndarray) -> int:
        """The class under this ring."""
        shape = Polygon(net)
        met = np.flatnonzero(shapely.intersects(self.outlines, shape))
        held = 0.0
        for index in sorted(met, key=lambda one: -self.classes[one]):
            if shapely.covers(self.outlines[index], shape):
                return self.classes[index]
            held += float(shapely.intersection(self.outlines[index], shape).area)
            if held > ZONE_SHARE * shape.area:
                return self.classes[index]
        return 0


def class_under(hide: Hide) -> ClassUnder:
    """What gives the class of the ground of a hide under a net outline."""
    outlines = np.array([zone.outline for zone in hide.zones], dtype=object)
    return ClassUnder(outlines, tuple(zone.quality for zone in hide.zones))


def _offered(ground: Region) -> Region:
    """The ground without its outermost SAFETY_MM, and with fewer corners: never more than that."""
    for thin_mm in (THIN_MM, *COARSER_MM):
        inner = ground.buffer(-(SAFETY_MM + thin_mm), join_style="mitre")
        thinned = shapely.simplify(inner, thin_mm)
        if shapely.get_num_coordinates(thinned) <= MOST_CORNERS:
            break
    # about the point a ring starts from it may be thinned by more than was asked for
    thinned = shapely.intersection(thinned, ground.buffer(-SAFETY_MM, join_style="mitre"))
    parts = [part for part in shapely.get_parts(thinned) if part.geom_type == "Polygon"]
    return shapely.union_all([part for part in parts if part.area > 0.0])
