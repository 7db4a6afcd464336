"""Plans changed at random near the limits of the rules. All data are invented."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon, box
from stated_plans import stated_plan
from tiny_plans import (
    ROUGH,
    box_plan,
    flaw,
    hide,
    in_pairs,
    slant_plan,
    spots,
    with_hide,
    with_placed,
    with_rules,
    zone,
)

from geometry.pose import Pose
from geometry.precision import GeometryError, as_ring
from nest.pieces.piece import Role
from nest.plan import Begun, CutHide, HideLayout, Placed, Plan, Side, Spoiled

AMOUNTS = (0.0, 0.002, 0.0095, 0.0105, 0.02, 0.02, 0.3, 3.0, 40.0)
"""How far past a limit, or short of it, mm; what rounding may cost lies between the third and the fourth."""

STATED = stated_plan()


def base(rng: np.random.Generator) -> Plan:
    """A plan with nothing wrong: rectangles or slanted vamps on two hides, or the stated plan of two styles."""
    kind = rng.integers(5)
    if kind == 0:
        return STATED
    if kind == 1:
        return slant_plan(hides=(hide(), hide("H2")))
    if kind == 2:
        centres = spots(4, columns=2, first=(112.0, 62.0), pitch=(ROUGH[0] + 1.0, ROUGH[1] + 1.0))
        return box_plan(layouts=(HideLayout("H1", in_pairs(["V38"] * 4, centres)),), hides=(hide(), hide("H2")))
    plan = box_plan(hides=(hide(), hide("H2")))
    return plan if kind == 3 else shifted(plan, *rng.uniform((-180.0, -900.0, -900.0), (180.0, 900.0, 900.0)))


def shifted(plan: Plan, turn_deg: float, dx: float, dy: float) -> Plan:
    """The plan with every hide, and all that lies on it, turned about the origin and moved."""

    def there(region):
        return translate(rotate(region, turn_deg, origin=(0.0, 0.0)), dx, dy)

    def pose(old: Pose) -> Pose:
        x, y = Pose(dx, dy, turn_deg).apply(np.array(((old.x, old.y),)))[0]
        return Pose(float(x), float(y), old.heading_deg + turn_deg)

    hides = tuple(
        replace(
            one, outline=there(one.outline), flaws=tuple(replace(f, outline=there(f.outline)) for f in one.flaws),
            zones=tuple(
                replace(z, outline=there(z.outline),
                        stretch_deg=None if z.stretch_deg is None else (z.stretch_deg + turn_deg) % 180.0)
                for z in one.zones
            ),
        )
        for one in plan.hides
    )
    layouts = tuple(
        replace(layout, placed=tuple(replace(p, pose=pose(p.pose)) for p in layout.placed)) for layout in plan.layouts
    )
    return replace(plan, hides=hides, layouts=layouts)


def _amount(rng) -> float:
    return float(rng.choice(AMOUNTS)) * float(rng.choice((-1.0, 1.0)))


def _spot(plan: Plan, rng) -> int:
    return int(rng.integers(len(plan.layouts[0].placed)))


def _ring(plan: Plan, at: int, net: bool = False) -> Polygon:
    one = plan.layouts[0].placed[at]
    piece = plan.piece(one.piece_id)
    return Polygon(one.pose.apply(piece.net_outline if net else piece.cut_outline))


def _moved(plan: Plan, at: int, dx: float, dy: float, heading: float | None = None) -> Plan:
    one = plan.layouts[0].placed[at]
    turned = one.pose.heading_deg if heading is None else heading
    return with_placed(plan, at, replace(one, pose=Pose(one.pose.x + dx, one.pose.y + dy, turned)))


def _towards(plan: Plan, at: int, other, distance: float) -> Plan:
    """A piece moved so that it lies this far from a region, along the shortest way to it."""
    line = shapely.get_coordinates(shapely.shortest_line(_ring(plan, at), other))
    way = line[1] - line[0]
    length = float(np.hypot(*way))
    if length == 0.0:
        return plan
    step = way * (length - distance) / length
    return _moved(plan, at, float(step[0]), float(step[1]))


def nudged(plan: Plan, rng) -> Plan:
    """A piece moved a little, any way."""
    amount, angle = _amount(rng), rng.uniform(0.0, 2.0 * math.pi)
    return _moved(plan, _spot(plan, rng), amount * math.cos(angle), amount * math.sin(angle))


def by_its_neighbour(plan: Plan, rng) -> Plan:
    """Two pieces at the gap, or a little off it."""
    at, other = _spot(plan, rng), _spot(plan, rng)
    return plan if at == other else _towards(plan, at, _ring(plan, other), plan.settings.hide_gap_mm + _amount(rng))


def by_the_edge(plan: Plan, rng) -> Plan:
    """A piece at the margin, or a little off it."""
    edge = shapely.boundary(plan.hides[0].outline)
    return _towards(plan, _spot(plan, rng), edge, plan.settings.edge_margin_mm + _amount(rng))


def turned(plan: Plan, rng) -> Plan:
    """A piece turned to the very edge of the tolerance, or a little past it."""
    at = _spot(plan, rng)
    off = plan.styles[0].rules.tolerance_deg + float(rng.choice((-1.0, -0.02, -1e-3, -1e-4, 1e-4, 1e-3, 0.02, 1.0)))
    aim, half = float(rng.choice((90.0, 45.0, 135.0))), float(rng.choice((0.0, 180.0)))
    heading = plan.hides[0].zones[0].stretch_deg + aim + half + float(rng.choice((-1.0, 1.0))) * off
    return _moved(plan, at, 0.0, 0.0, heading)


def _zones(plan: Plan, region, rng) -> Plan:
    """The first hide with this region made other ground: poorer, stretching another way or who knows how, or none."""
    first = plan.hides[0].zones[0]
    whole = shapely.union_all([one.outline for one in plan.hides[0].zones])
    rest, inner = whole.difference(region), whole.intersection(region)
    if rest.is_empty or inner.is_empty or not all(
        one.geom_type in ("Polygon", "MultiPolygon") for one in (rest, inner)
    ):
        return plan
    zones = [replace(first, zone_id="rest", outline=rest)]
    kind = rng.integers(5)
    if kind == 4:
        zones.append(zone("other", first.quality, None, inner))
    elif kind:
        turn = float(rng.choice((5.0, 45.0, 90.0))) if kind == 1 else 0.0
        grade = int(rng.integers(2, 4)) if kind > 1 else first.quality
        zones.append(zone("other", grade, first.stretch_deg + turn, inner))
    return with_hide(plan, zones=tuple(zones))


def ground_by_a_piece(plan: Plan, rng) -> Plan:
    """Other ground that ends a little within the net area or the band of a piece."""
    low_x, low_y, high_x, high_y = _ring(plan, _spot(plan, rng), bool(rng.integers(2))).bounds
    amount = _amount(rng)
    edges = (box(-1e4, -1e4, low_x + amount, 1e4), box(high_x - amount, -1e4, 1e4, 1e4),
             box(-1e4, -1e4, 1e4, low_y + amount), box(-1e4, high_y - amount, 1e4, 1e4))
    return _zones(plan, edges[rng.integers(4)], rng)


def ground_by_share(plan: Plan, rng) -> Plan:
    """Other ground under nearly a thousandth of a net area, in one part or in hairlines."""
    net = _ring(plan, _spot(plan, rng), True)
    x, y = net.representative_point().coords[0]
    area = net.area * 1e-3 * (1.0 + float(rng.choice((-0.5, -0.02, -1e-3, 1e-3, 0.02, 0.5, 4.0))))
    if rng.integers(2):
        return _zones(plan, box(x, y, x + math.sqrt(area), y + math.sqrt(area)), rng)
    width, length = 0.0095, 20.0
    count = max(1, round(area / width / length))
    strips = [box(x - 10, y - 30 + 60 * i / count, x + 10, y - 30 + 60 * i / count + width) for i in range(count)]
    return _zones(plan, shapely.union_all(strips), rng)


def flawed(plan: Plan, rng) -> Plan:
    """A flaw a little within, or short of, the net area or the cut line of a piece."""
    low_x, low_y, _high_x, high_y = _ring(plan, _spot(plan, rng), bool(rng.integers(2))).bounds
    amount, y = float(rng.choice((0.0, 0.0005, 0.002, 0.02, 1.0))) * float(rng.choice((-1, 1))), 0.5 * (low_y + high_y)
    mark = flaw(box(low_x - 8.0, y - 5.0, low_x + amount, y + 5.0), f"X{rng.integers(10**6)}",
                tears=bool(rng.integers(2)), coverable=bool(rng.integers(2)))
    return with_hide(plan, flaws=(*plan.hides[0].flaws, mark))


def holed(plan: Plan, rng) -> Plan:
    """A hole at the margin of a piece, or a little off it."""
    low_x, low_y, _high_x, high_y = _ring(plan, _spot(plan, rng)).bounds
    x, y = low_x - plan.settings.edge_margin_mm + _amount(rng), 0.5 * (low_y + high_y)
    outline = plan.hides[0].outline.difference(box(x - 3.0, y - 4.0, x, y + 4.0))
    if outline.geom_type != "Polygon":
        return plan
    return with_hide(plan, outline=outline, zones=tuple(
        replace(one, outline=one.outline.intersection(outline)) for one in plan.hides[0].zones))


def distances(plan: Plan, rng) -> Plan:
    """Another gap, margin or radius of the tool."""
    settings, amount = plan.settings, abs(_amount(rng))
    kind = rng.integers(4)
    if kind == 0:
        return replace(plan, settings=replace(settings, hide_gap_mm=min(50.0, 1.0 + amount)))
    if kind == 1:
        return replace(plan, settings=replace(settings, roll_gap_mm=min(50.0, 1.0 + amount)))
    if kind == 2:
        return replace(plan, settings=replace(settings, edge_margin_mm=8.0 + amount))
    return replace(plan, settings=replace(settings, table=replace(settings.table, tool_radius_mm=min(5.0, amount))))


def paired(plan: Plan, rng) -> Plan:
    """A pair number taken away, exchanged or given to a third."""
    at, other = _spot(plan, rng), _spot(plan, rng)
    placed = plan.layouts[0].placed
    kind = rng.integers(3)
    if kind == 0:
        return with_placed(plan, at, replace(placed[at], pair=0))
    if kind == 1:
        return with_placed(plan, at, replace(placed[at], pair=placed[other].pair))
    changed = with_placed(plan, at, replace(placed[at], pair=placed[other].pair))
    return with_placed(changed, other, replace(placed[other], pair=placed[at].pair))


def renamed(plan: Plan, rng) -> Plan:
    """Another piece where one lies."""
    at, name = _spot(plan, rng), plan.pieces[rng.integers(len(plan.pieces))].piece_id
    return with_placed(plan, at, replace(plan.layouts[0].placed[at], piece_id=name))


def fewer_or_more(plan: Plan, rng) -> Plan:
    """A piece less, or one more in a free corner."""
    at, layout = _spot(plan, rng), plan.layouts[0]
    if rng.integers(2):
        placed = (*layout.placed[:at], *layout.placed[at + 1:])
    else:
        pose = replace(layout.placed[at].pose, y=layout.placed[at].pose.y + float(rng.choice((20.0, 260.0, 600.0))))
        placed = (*layout.placed, Placed(layout.placed[at].piece_id, pose, int(rng.integers(3)) * 50))
    return replace(plan, layouts=(replace(layout, placed=placed), *plan.layouts[1:]))


def on_two_hides(plan: Plan, rng) -> Plan:
    """A piece, or a whole pair, moved to the same place on the second hide."""
    at, first, name = _spot(plan, rng), plan.layouts[0], plan.hides[1].hide_id
    pair = first.placed[at].pair if rng.integers(2) else None
    goes = [i == at or (pair is not None and one.pair == pair) for i, one in enumerate(first.placed)]
    away = tuple(one for one, go in zip(first.placed, goes, strict=True) if go)
    stays = tuple(one for one, go in zip(first.placed, goes, strict=True) if not go)
    others = {one.hide_id: one for one in plan.layouts[1:]}
    mine = others.pop(name, HideLayout(name, ()))
    return replace(plan, layouts=(
        replace(first, placed=stays), replace(mine, placed=(*mine.placed, *away)), *others.values()))


def other_rules(plan: Plan, rng) -> Plan:
    """One rule of the first style changed."""
    changes = ({"bias_leave": True}, {"tolerance_deg": float(rng.choice((0.0, 4.0, 5.0, 45.0, 90.0)))},
               {"net_quality": 2}, {"net_quality": 3}, {"trim_quality": 1}, {"trim_quality": 2},
               {"flaws_under_trim": False}, {"pairs_from_one_hide": False}, {"pairs_same_class": False})
    return with_rules(plan, **changes[rng.integers(len(changes))])


def one_way(plan: Plan, rng) -> Plan:
    """The goods one-way, all pieces the right way round but perhaps one."""
    plan = replace(plan, leathers=(replace(plan.leathers[0], one_way=True), *plan.leathers[1:]))
    keep = _spot(plan, rng) if rng.integers(2) else -1
    for at, one in enumerate(plan.layouts[0].placed):
        if at != keep:
            plan = _moved(plan, at, 0.0, 0.0, one.pose.heading_deg + 180.0)
    return plan


def on_rolls(plan: Plan, rng) -> Plan:
    """A roll or a lay a little too short, a piece of a lay moved, or another stretch of the roll."""
    if not plan.lays:
        return plan
    lay, amount, kind = plan.lays[-1], _amount(rng), rng.integers(4)
    if kind == 0:
        needed = sum(one.plies * (one.length_mm + 2 * plan.rolls[0].end_loss_mm) for one in plan.lays)
        return replace(plan, rolls=(replace(plan.rolls[0], length_mm=needed + amount),))
    if kind == 1:
        right = max(one.pose.apply(plan.piece(one.piece_id).cut_outline)[:, 0].max() for one in lay.placed)
        return replace(plan, lays=(*plan.lays[:-1], replace(lay, length_mm=float(right) + amount)))
    if kind == 2:
        at = int(rng.integers(len(lay.placed)))
        one = lay.placed[at]
        pose = Pose(one.pose.x + amount, one.pose.y, one.pose.heading_deg + float(rng.choice((0.0, 9.9, 10.1))))
        placed = (*lay.placed[:at], replace(one, pose=pose), *lay.placed[at + 1:])
        return replace(plan, lays=(*plan.lays[:-1], replace(lay, placed=placed)))
    return replace(plan, rolls=(replace(plan.rolls[0], measured_stretch_deg=float(rng.choice((80.5, 79.5, 0.0)))),))


def cutting_begun(plan: Plan, rng) -> Plan:
    """Something cut, spoiled or withdrawn."""
    first = plan.layouts[0]
    name = first.placed[_spot(plan, rng)].piece_id
    piece, kind = plan.piece(name), rng.integers(5)
    cut = tuple({one.hide_id: one for one in (*plan.begun.hides, CutHide(first.hide_id))}.values())
    side = Side(str(piece.foot)) if rng.integers(2) else Side.PAIR
    lost = Spoiled(piece.style, piece.size, side, int(rng.integers(1, 4)), bool(rng.integers(2)))
    begun = plan.begun
    if kind == 0:
        begun = Begun(cut)
    elif kind == 1:
        begun = replace(begun, hides=cut, spoiled=(*begun.spoiled, lost))
    elif kind == 2:
        begun = replace(begun, hides=cut, spoiled=(*begun.spoiled, lost), rejects_cover=True)
    elif kind == 3:
        begun = replace(begun, withdrawn=(plan.hides[rng.integers(len(plan.hides))].hide_id,))
    else:
        # A single vamp cut again on the second hide.
        begun = replace(begun, hides=cut, spoiled=(*begun.spoiled, replace(lost, count=1)))
        single = replace(first.placed[_spot(plan, rng)], pair=0)
        others = {one.hide_id: one for one in plan.layouts[1:]}
        mine = others.pop(plan.hides[1].hide_id, HideLayout(plan.hides[1].hide_id, ()))
        far = replace(single, pose=replace(single.pose, y=single.pose.y + float(rng.choice((0.0, 290.0, 580.0)))))
        mine = replace(mine, placed=(*mine.placed, far))
        plan = replace(plan, layouts=(first, mine, *others.values()))
    return replace(plan, begun=begun)


def reshaped(plan: Plan, rng) -> Plan:
    """A corner of an outline moved."""
    vamps = [at for at, piece in enumerate(plan.pieces) if piece.role is Role.VAMP]
    at, amount = int(rng.choice(vamps)), float(rng.choice((0.002, 0.02, 0.1, 0.3, 1.0, 4.0)))
    which = str(rng.choice(("net_outline", "cut_outline")))
    ring = np.array(getattr(plan.pieces[at], which))
    ring[rng.integers(len(ring))] += (0.0, amount * float(rng.choice((-1.0, 1.0))))
    pieces = (*plan.pieces[:at], replace(plan.pieces[at], **{which: as_ring(ring)}), *plan.pieces[at + 1:])
    return replace(plan, pieces=pieces)


def reordered(plan: Plan, rng) -> Plan:
    """Other numbers in a line of the order, or the line gone."""
    at = int(rng.integers(len(plan.order)))
    line, more = plan.order[at], int(rng.integers(-1, 3))
    if rng.integers(4) == 0:
        return replace(plan, order=(*plan.order[:at], *plan.order[at + 1:]))
    wanted = max(0, line.pairs_wanted + int(rng.integers(-1, 2)))
    changed = replace(line, pairs_to_cut=max(0, line.pairs_to_cut + more), pairs_wanted=wanted)
    return replace(plan, order=(*plan.order[:at], changed, *plan.order[at + 1:]))


CHANGES: tuple[Callable, ...] = (
    nudged, by_its_neighbour, by_its_neighbour, by_the_edge, turned, turned, ground_by_a_piece, ground_by_a_piece,
    ground_by_share, flawed, flawed, holed, distances, paired, renamed, fewer_or_more, on_two_hides, other_rules,
    one_way, on_rolls, on_rolls, cutting_begun, cutting_begun, reshaped, reordered,
)


def mutated(seed: int) -> tuple[Plan, tuple[str, ...]] | None:
    """A plan changed in one to four ways, with their names; None where they leave nothing to judge."""
    rng = np.random.default_rng(seed)
    plan, names = base(rng), []
    for change in rng.choice(len(CHANGES), size=int(rng.integers(1, 5))):
        try:
            plan = CHANGES[change](plan, rng)
        except (GeometryError, ValueError):
            continue
        names.append(CHANGES[change].__name__)
        if not plan.layouts or not plan.layouts[0].placed:
            return None
    return plan, tuple(names)
