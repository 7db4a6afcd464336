"""A second judge of plans, written from the Promises of README.md and the users' guide alone.

It takes the data of a plan file as `json` reads them, and measures with numpy and shapely; nothing of the program is
imported, so that a slip in the first judge, or in what it shares with the rest, shows as a difference. Every measure
that lies so near its limit that rounding decides is named, for there two honest judges may differ.
"""

import math
from collections import defaultdict

import numpy as np
import shapely
from second_counts import NEAR, Lying, Opinion, lays_fit_rolls, names_agree, order_is_met, pairs_are_pairs
from shapely.geometry import LinearRing, Point, Polygon, shape

INTO = 0.001
"""What it may cost an overlap, mm (README, Promises)."""
SHARE = 0.001
"""Wrong ground counts from this share of the net area on (README, Promises)."""
OWN_MIRROR = 0.2
"""An outline that is its own mirror image within this serves both feet, mm (guide, files)."""


def opinion(plan: dict) -> Opinion:
    """What this judge says of a plan, given as the data of its file."""
    said = Opinion()
    pieces = {one["piece_id"]: one for one in plan["pieces"]}
    styles = {one["name"]: one for one in plan["styles"]}
    names_agree(plan, pieces, styles, said)
    if "agree" in said.broken:
        return said
    _pieces_as_stated(plan, pieces, styles, said)
    laid = []
    for layout in plan["layouts"]:
        hide = next(one for one in plan["hides"] if one["hide_id"] == layout["hide_id"])
        laid += _on_hide(plan, hide, layout, pieces, styles, said)
    for lay in plan["lays"]:
        roll = next(one for one in plan["rolls"] if one["roll_id"] == lay["roll_id"])
        laid += _on_lay(plan, roll, lay, pieces, styles, said)
    pairs_are_pairs(laid, styles, said)
    order_is_met(plan, laid, pieces, styles, said)
    lays_fit_rolls(plan, said)
    return said


def _lying(group: dict, where: str, pieces: dict, plies: int = 1) -> list[Lying]:
    found = []
    for one in group["placed"]:
        pose, piece = one["pose"], pieces[one["piece_id"]]
        turn = math.radians(pose["heading_deg"])
        matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
        cut, net = (
            Polygon(np.array(piece[ring]) @ matrix + (pose["x"], pose["y"])) for ring in ("cut_outline", "net_outline")
        )
        found.append(Lying(one["piece_id"], piece, one["pair"], where, pose["heading_deg"], cut, net, plies))
    return found


def _into(a, b) -> float:
    """How far two regions reach into each other, mm: by a corner of either, else by what is left of a thinned one."""
    if a.disjoint(b):
        return 0.0
    deep = 0.0
    for inner, outer in ((a, b), (b, a)):
        corners = shapely.points(shapely.get_coordinates(inner))
        within = corners[shapely.contains_properly(outer, corners)]
        if len(within):
            deep = max(deep, float(shapely.distance(within, shapely.boundary(outer)).max()))
    if deep <= 10 * INTO:
        for thin in (0.9 * INTO, 1.1 * INTO, 10 * INTO):
            for one, other in ((a, b), (b, a)):
                if one.buffer(-thin, join_style="mitre").intersection(other).area > 0:
                    deep = max(deep, thin)
    return deep


def _beyond(region, outline: Polygon) -> float:
    """How far a region reaches out of an outline without holes, mm."""
    if outline.covers(region):
        return 0.0
    low_x, low_y, high_x, high_y = outline.union(region).bounds
    far = 2000.0 + high_x - low_x + high_y - low_y
    frame = shapely.box(low_x - far, low_y - far, high_x + far, high_y + far)
    return _into(region, frame.difference(outline))


def _clear(lying: list[Lying], outline: Polygon, margin: float, gap: float, loose: float, said: Opinion) -> None:
    """Cut lines stay on the material, clear of holes, margins and each other by the gap."""
    full, edge = Polygon(outline.exterior), outline.boundary
    holes = [Polygon(ring) for ring in outline.interiors]
    for one in lying:
        out = max([_beyond(one.cut, full), *(_into(one.cut, hole) for hole in holes)])
        if said.hold("material", out, INTO, 0.15 * INTO):
            continue
        near = 0.0 if one.cut.crosses(edge) or not outline.covers(one.cut) else one.cut.distance(edge)
        if margin > 0.0:
            said.hold("material", margin - near, NEAR, 2e-4 + loose)
    tree = shapely.STRtree([one.cut for one in lying])
    firsts, seconds = tree.query([one.cut for one in lying], predicate="dwithin", distance=gap + 1.0)
    for i, j in zip(firsts.tolist(), seconds.tolist(), strict=True):
        if i < j:
            apart = lying[i].cut.distance(lying[j].cut)
            if apart > 0.0 or not said.hold("apart", _into(lying[i].cut, lying[j].cut), INTO, 0.15 * INTO):
                said.hold("apart", gap - apart, NEAR, 2e-4 + loose)


def _off(heading: float, towards: float, one_way: bool) -> float:
    turn = 360.0 if one_way else 180.0
    off = (heading - towards) % turn
    return min(off, turn - off)


def _stretch(one: Lying, shares: list[tuple[float, float]], rules: dict, one_way: bool, said: Opinion) -> None:
    """Headings keep to the stretch of every zone under the net area, on one-way goods the right way round."""
    aims = (90.0, 45.0, 135.0) if rules["bias_leave"] else (90.0,)
    wrong = 0.0
    for stretch, share in shares:
        if stretch is None:
            wrong += 0.0 if rules["bias_leave"] else share
            continue
        off = min(_off(one.heading, stretch + aim, one_way) for aim in aims)
        if abs(off - rules["tolerance_deg"]) < 2e-5 and share > 0.0:
            said.close.add("stretch")
        if off > rules["tolerance_deg"]:
            wrong += share
    said.hold("stretch", wrong, SHARE, 2e-6)


def _wide(region, width: float) -> bool:
    return any(
        not part.buffer(-width / 2).is_empty for part in shapely.get_parts(region) if part.geom_type == "Polygon"
    )


def _off_ground(region, bad, said: Opinion) -> bool:
    """Whether a region lies on bad ground that is wider than rounding makes it."""
    shared = region.intersection(bad)
    if shared.area == 0.0:
        return False
    if _wide(shared, NEAR * 0.97) != _wide(shared, NEAR * 1.03):
        said.close.add("ground")
    if _wide(shared, NEAR):
        said.broken.add("ground")
        return True
    return False


def _ground(one: Lying, hide: dict, outline: Polygon, zones: list, rules: dict, said: Opinion) -> None:
    """Net area on good enough ground and on no flaw; the band on no flaw or ground that it may not cover."""
    none, union = Polygon(), shapely.union_all([zone for _, zone in zones])
    bare = outline.difference(union)
    band = None if rules["trim_quality"] is None else max(rules["trim_quality"], rules["net_quality"])
    bad_net = [zone for grade, zone in zones if grade > rules["net_quality"]]
    bad_band = [zone for grade, zone in zones if band is not None and grade > band]
    found = [_off_ground(one.net, bad, said) for bad in (*bad_net, bare)]
    found += [_off_ground(one.cut, bad, said) for bad in (*bad_band, *([bare] if band is not None else []))]
    all_flaws, barred = [], []
    for flaw in hide["flaws"]:
        where = shape(flaw["outline"])
        all_flaws.append(where)
        found.append(said.hold("ground", _into(one.net, where), INTO, 0.15 * INTO))
        if flaw["tears"] or not flaw["coverable"] or not rules["flaws_under_trim"]:
            barred.append(where)
            found.append(said.hold("ground", _into(one.cut, where), INTO, 0.15 * INTO))
    if not any(found):
        for region, bad in ((one.net, [*bad_net, bare, *all_flaws]),
                            (one.cut, [*bad_band, bare if band is not None else none, *barred])):
            area = region.intersection(shapely.union_all(bad)).area
            said.hold("ground", area / one.net.area, SHARE, 2e-6)


def _on_hide(plan: dict, hide: dict, layout: dict, pieces: dict, styles: dict, said: Opinion) -> list[Lying]:
    lying, settings = _lying(layout, hide["hide_id"], pieces), plan["settings"]
    outline, radius = shape(hide["outline"]), settings["table"]["tool_radius_mm"]
    zones = [(zone["quality"], shape(zone["outline"])) for zone in hide["zones"]]
    _clear(lying, outline, settings["edge_margin_mm"] + hide["margin_mm"] + radius,
           settings["hide_gap_mm"] + 2 * radius, 0.03 * bool(radius), said)
    one_way = any(one["one_way"] for one in plan["leathers"] if one["name"] == hide["leather"])
    for one in lying:
        style = styles[one.piece["style"]]
        if one.piece["role"] != "vamp" or style["leather"] != hide["leather"]:
            said.broken.add("agree")
        shares = [zone.intersection(one.net).area / one.net.area for _, zone in zones]
        _stretch(one, list(zip((zone["stretch_deg"] for zone in hide["zones"]), shares, strict=True)),
                 style["rules"], one_way, said)
        _ground(one, hide, outline, zones, style["rules"], said)
        for grade in sorted({grade for grade, _ in zones}):
            held = sum(share for (other, _), share in zip(zones, shares, strict=True) if other >= grade)
            if abs(held - SHARE) < 2e-6:
                said.close.add("pairs")
            if held > SHARE:
                one.grade = grade
    return lying


def _on_lay(plan: dict, roll: dict, lay: dict, pieces: dict, styles: dict, said: Opinion) -> list[Lying]:
    lying, settings = _lying(lay, lay["lay_id"], pieces, lay["plies"]), plan["settings"]
    radius = settings["table"]["tool_radius_mm"]
    strip = shapely.box(0, 0, lay["length_mm"], roll["width_mm"] - 2 * roll["selvedge_mm"])
    _clear(lying, strip, radius, settings["roll_gap_mm"] + 2 * radius, 0.03 * bool(radius), said)
    stretch = roll["measured_stretch_deg"]
    stretch = (90.0 if roll["stretch"] == "width" else 0.0) if stretch is None else stretch
    for one in lying:
        style = styles[one.piece["style"]]
        if one.piece["role"] != "reinforcement" or style["roll"] != roll["roll_id"]:
            said.broken.add("agree")
        _stretch(one, [(stretch, 1.0)], style["rules"], roll["one_way"], said)
    return lying


def _pieces_as_stated(plan: dict, pieces: dict, styles: dict, said: Opinion) -> None:
    """Right is left mirrored; pieces agree with templates, sizes and allowances."""
    by_kind = defaultdict(dict)
    for one in pieces.values():
        by_kind[one["style"], one["size"], one["role"]][one["foot"]] = one
    for (name, size, role), feet in by_kind.items():
        left, right = (feet.get(foot, feet.get("either")) for foot in ("left", "right"))
        if left and right:
            own = left is right
            for ring in ("cut_outline", "net_outline"):
                image = LinearRing(np.array(right[ring]) * (1.0, -1.0))
                off = float(shapely.hausdorff_distance(LinearRing(left[ring]), image))
                said.hold("mirror", off, OWN_MIRROR + NEAR if own else NEAR, 0.06 if own else 2e-4)
        template = next((one for one in styles[name]["templates"] if one["size"] == size), None)
        if not _still_due(plan, pieces, name, size):
            continue
        for foot, piece in feet.items():
            if not Polygon(piece["cut_outline"]).buffer(NEAR).covers(Polygon(piece["net_outline"])):
                said.broken.add("agree")
            if role == "vamp":
                _as_template(piece, template, styles[name], said)
            elif foot in by_kind[name, size, "vamp"]:
                _as_its_vamp(piece, by_kind[name, size, "vamp"][foot], styles[name], said)


def _still_due(plan: dict, pieces: dict, style: str, size: str) -> bool:
    """Whether anything of a size is still to be cut: what is cut stays what it was (guide, cutting-day)."""
    cut = {*(one["hide_id"] for one in plan["begun"]["hides"]), *plan["begun"]["lays"]}
    groups = [one for one in (*plan["layouts"], *plan["lays"]) if one.get("lay_id", one.get("hide_id")) not in cut]
    laid = {(pieces[one["piece_id"]]["style"], pieces[one["piece_id"]]["size"])
            for group in groups for one in group["placed"]}
    ordered = {(one["style"], one["size"]) for one in plan["order"] if one["pairs_to_cut"]}
    return (style, size) in laid | ordered


def _as_template(piece: dict, template: dict | None, style: dict, said: Opinion) -> None:
    """Net outline against template, and the cut line off it by the allowance at the middle of every part."""
    side = (1.0, -1.0) if piece["foot"] == "right" else (1.0, 1.0)
    cut, net = (LinearRing(np.array(piece[ring]) * side) for ring in ("cut_outline", "net_outline"))
    given = dict(style["allowances"])
    for row in given["by_size"]:
        if row[0] == piece["size"]:
            given |= dict(zip(("toe_mm", "side_mm", "back_mm"), row[1:], strict=True))
    if template is None:
        least = min(given["toe_mm"], given["back_mm"], given["least_side_mm"] or given["side_mm"])
        said.hold("pieces", least - shapely.distance(shapely.points(net.coords), cut).min(), 0.1, 0.3)
        return
    ring = np.array(template["outline"])
    said.hold("pieces", float(shapely.hausdorff_distance(LinearRing(ring), net)), 0.06, 0.06)
    for start, end, part in zip(ring, np.roll(ring, -1, axis=0), template["parts"], strict=True):
        middle = Point((start + end) / 2)
        least = given[f"{part}_mm"]
        if part == "side":
            taken = style["widening_percent"] / 100 * abs(middle.y)
            least = max(given["least_side_mm"], least - taken)
        # Beside a larger allowance the outline passes over in a curve, so too much is not looked for here.
        said.hold("pieces", least - middle.distance(cut), 0.05, 0.3)


def _as_its_vamp(backing: dict, vamp: dict, style: dict, said: Opinion) -> None:
    """A reinforcement lies inside its vamp by the inset, and its net outline is what of it lies within the vamp's."""
    inner = Polygon(vamp["cut_outline"]).buffer(-style["reinforcement_inset_mm"], quad_segs=64)
    inner = max(shapely.get_parts(inner), key=shapely.area)
    off = float(shapely.hausdorff_distance(inner.exterior, LinearRing(backing["cut_outline"])))
    said.hold("pieces", off, 0.2, 0.1)
    stays = Polygon(vamp["net_outline"]).intersection(Polygon(backing["cut_outline"]))
    apart = stays.symmetric_difference(Polygon(backing["net_outline"]))
    if _wide(apart, 0.9 * NEAR) != _wide(apart, 1.1 * NEAR):
        said.close.add("pieces")
    if _wide(apart, NEAR):
        said.broken.add("pieces")
