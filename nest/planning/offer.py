"""What one hide is offered: the region problem for some of the wants, and the units that come back."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from geometry.polygon import area
from geometry.pose import Pose
from geometry.precision import Region
from nest.job.job import Settings
from nest.placement.problem import Ground, Item, Kind, RegionProblem
from nest.planning.grounds import class_under, core_grounds, hide_headings, outline_ground
from nest.planning.pairs import nearest_pairs
from nest.planning.wants import Unit, Want, kind_of, on_coordinate_grid
from nest.rules import Rules
from nest.selection.prices import SortSet, sets_of
from nest.stock.ground import fit_ground
from nest.stock.material import Hide


@dataclass(frozen=True, slots=True, eq=False)
class HideOffer:
    """A problem made for one hide. `owner[k]` is the index of the want that kind k belongs to."""

    problem: RegionProblem
    owner: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """The level of an item of a problem: the class of the ground under its net outline, 0 where that does not matter.

    nets : net outline by kind, None where pairs need not share a class.
    """

    class_at: Callable[[np.ndarray], int]
    nets: tuple[np.ndarray | None, ...]

    def __call__(self, kind: int, pose: Pose) -> int:
        """The level of an item of this kind at this pose."""
        net = self.nets[kind]
        return 0 if net is None else self.class_at(pose.apply(net))


@dataclass(frozen=True, slots=True, eq=False)
class HideGrounds:
    """One hide as the styles of some wants see it: headings and ground by style, class under a piece.

    rooms_mm2 : ground where net area of the styles in a set may lie, of one or another of them.
    better : ground of the best class on the hide, of the two best, and so on, but not of all.
    """

    hide: Hide
    headings_deg: Mapping[str, tuple[float, ...]]
    grounds: Mapping[str, Ground]
    class_at: Callable[[np.ndarray], int]
    rooms_mm2: Mapping[SortSet, float]
    better: tuple[Polygon | MultiPolygon, ...]

    @property
    def usable_mm2(self) -> float:
        """Ground where net area of some style may lie."""
        return max(self.rooms_mm2.values(), default=0.0)

    @property
    def rooms_of_styles(self) -> dict[str, float]:
        """Ground fit for each style by itself."""
        return {style: self.rooms_mm2[style,] for style in self.headings_deg}

    def level(self, want: Want, index: int, pose: Pose) -> int:
        """Class of the ground under piece `index` of a want where pairs must share it, else 0."""
        return self.class_at(pose.apply(want.pieces[index].net_outline)) if want.same_class else 0

    def whole(self, want: Want, unit: Unit) -> bool:
        """Whether the pieces of a unit lie on ground of one class, if they must."""
        return len({self.level(want, i, pose) for i, pose in enumerate(unit.poses)}) == 1


def looked_at(hide: Hide) -> HideGrounds:
    """A hide that is not searched: room is looked for on it alone, which needs no more than the hide."""
    return HideGrounds(hide, {}, {}, class_under(hide), {}, ())


def searched_rules(wants: Sequence[Want]) -> dict[str, Rules]:
    """Rules of each style as the search has them: bias is a way out, and left to the exact search."""
    return {want.style: replace(want.rules, bias_leave=False) for want in wants}


def see_hide(
    hide: Hide, wants: Sequence[Want], settings: Settings, *, one_way: bool, most_parts: int | None = None
) -> HideGrounds:
    """Work out headings and ground of every style among the wants; headings at bias are left to the exact search.

    most_parts : of the widest tolerance between headings, as `nest.planning.grounds.hide_headings` takes it.
    """
    rules = searched_rules(wants)
    margin = settings.edge_room_mm
    found = hide_headings(hide, list(rules.values()), one_way=one_way, fine=True, most_parts=most_parts)
    headings_deg = dict(zip(rules, found, strict=True))
    least = min(area(piece.net_outline) for want in wants for piece in want.pieces)
    grounds = {}
    for style, rule in rules.items():
        cores = core_grounds(hide, rule, headings_deg[style], one_way=one_way, margin_mm=margin)
        # many headings share their ground
        large = {id(core): large_enough(core, least) for core in {id(core): core for core in cores}.values()}
        grounds[style] = Ground(outline_ground(hide, rule, margin), tuple(large[id(core)] for core in cores))
    rooms = _rooms({style: fit_ground(hide, rule, margin) for style, rule in rules.items()})
    return HideGrounds(hide, headings_deg, grounds, class_under(hide), rooms, _better(hide))


def _rooms(fit: Mapping[str, Region]) -> dict[SortSet, float]:
    """Ground that each set of styles can use together; styles that want the same ground are looked at once."""
    alike: dict[bytes, float] = {}
    rooms = {}
    for some in sets_of(tuple(fit), {style: float(ground.area) for style, ground in fit.items()}):
        parts = {shapely.to_wkb(fit[style]): fit[style] for style in some}
        key = b"".join(sorted(parts))
        if key not in alike:
            alike[key] = float(shapely.union_all(list(parts.values())).area)
        rooms[some] = alike[key]
    return rooms


def _better(hide: Hide) -> tuple[Polygon | MultiPolygon, ...]:
    classes = sorted({zone.quality for zone in hide.zones})
    return tuple(
        shapely.union_all([zone.outline for zone in hide.zones if zone.quality <= worst]) for worst in classes[:-1]
    )


def large_enough(ground: Polygon | MultiPolygon, least_mm2: float) -> Polygon | MultiPolygon:
    """The parts of a ground that are larger than the smallest piece."""
    return shapely.union_all([part for part in shapely.get_parts(ground) if part.area > least_mm2])


def make_offer(
    seen: HideGrounds, wants: Sequence[Want], limits: Mapping[int, int], gap_mm: float, within: Polygon | None = None,
    prices: Mapping[str, float] | None = None,
) -> HideOffer:
    """The problem of placing up to `limits[w]` units of each want w, on the part of the hide in `within`.

    prices : what a mm² of each style counts for; all alike without them.
    """
    kinds: list[Kind] = []
    grounds: list[Ground] = []
    owner: list[int] = []
    members: list[tuple[Want, int]] = []
    cut: dict[str, Ground] = {}
    for w, limit in sorted(limits.items()):
        want = wants[w]
        if limit <= 0 or not seen.headings_deg[want.style]:
            continue
        if want.style not in cut:
            ground = _within(seen.grounds[want.style], within)
            cut[want.style] = replace(ground, better=seen.better) if want.same_class else ground
        family = f"{want.style}-{want.size}" if len(want.pieces) > 1 else ""
        for piece in want.distinct:
            times = want.pieces.count(piece)
            worth = None if prices is None else prices[want.style] * area(piece.cut_outline)
            kinds.append(kind_of(piece, seen.headings_deg[want.style], times * limit, family, worth))
            grounds.append(cut[want.style])
            owner.append(w)
            members.append((want, want.pieces.index(piece)))
    needs_level = any(want.same_class for want, _ in members)

    nets = tuple(want.pieces[index].net_outline if want.same_class else None for want, index in members)
    level = Level(seen.class_at, nets) if needs_level else None
    problem = RegionProblem(tuple(kinds), tuple(grounds), gap_mm, level)
    return HideOffer(problem, tuple(owner))


def _within(ground: Ground, part: Polygon | None) -> Ground:
    if part is None:
        return ground
    return Ground(_areas(ground.outline, part), tuple(_areas(core, part) for core in ground.core))


def _areas(ground, part: Polygon):
    parts = shapely.get_parts(shapely.intersection(ground, part))
    return shapely.union_all([one for one in parts if one.geom_type == "Polygon" and one.area > 0.0])


def items_of(units: Sequence[Unit], offer: HideOffer, wants: Sequence[Want]) -> tuple[Item, ...]:
    """The units as items of an offer; those of kinds that are not on offer are left out."""
    kinds = {(w, kind.name): k for k, (kind, w) in enumerate(zip(offer.problem.kinds, offer.owner, strict=True))}
    return tuple(
        Item(kinds[unit.want, piece.piece_id], pose)
        for unit in units
        for piece, pose in zip(wants[unit.want].pieces, unit.poses, strict=True)
        if (unit.want, piece.piece_id) in kinds
    )


def units_of(items: Sequence[Item], offer: HideOffer, seen: HideGrounds, wants: Sequence[Want]) -> tuple[Unit, ...]:
    """The units a layout holds, pairs of pieces that lie near each other; what is left over is dropped."""
    heaps: dict[tuple[int, int], dict[int, list[Pose]]] = defaultdict(lambda: defaultdict(list))
    for item in items:
        w = offer.owner[item.kind]
        piece_id = offer.problem.kinds[item.kind].name
        index = next(i for i, piece in enumerate(wants[w].pieces) if piece.piece_id == piece_id)
        pose = on_coordinate_grid(item.pose)
        heaps[w, seen.level(wants[w], index, pose)][index].append(pose)
    units = []
    for (w, _), heap in sorted(heaps.items()):
        if len(wants[w].pieces) == 1:
            units += [Unit(w, (pose,)) for pose in heap[0]]
            continue
        first, second = heap[0], heap[1]
        if len(wants[w].distinct) == 1:
            units += [Unit(w, (first[i], first[j])) for i, j in nearest_pairs(_spots(first))]
        else:
            units += [Unit(w, (first[i], second[j])) for i, j in nearest_pairs(_spots(first), _spots(second))]
    return tuple(units)


def _spots(poses: Sequence[Pose]) -> np.ndarray:
    return np.array([(pose.x, pose.y) for pose in poses]).reshape(-1, 2)
