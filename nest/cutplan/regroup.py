"""What belongs together in a cutting drawing: lines and label of each piece, rings and text of each region.

They are written in one order, and are read by it where it holds. A program that saved the drawing may have put its
entities in another: then they are put together by where they lie.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nest.cutplan.compare import SAME_MM
from nest.cutplan.drawing import Label, Outline, axis_arrow
from nest.cutplan.drawn import Drawn

ZONE_TEXT_MM, FLAW_TEXT_MM = 10.0, 2.0
"""How far the text of a zone lies from a point in it, and that of a flaw from its upper right corner, along x and y."""


@dataclass(frozen=True, slots=True, eq=False)
class PieceDrawn:
    """What is drawn of one piece; rings (n, 2) mm on the table. `lead` is the way into its cut, (2, 2), or None."""

    label: Label
    cut: np.ndarray
    wanted: np.ndarray
    net: np.ndarray
    heading: np.ndarray
    lead: np.ndarray | None


def pieces_drawn(drawn: Drawn) -> list[PieceDrawn]:
    """The pieces in the order of their cuts.

    Raises
    ------
    InputProblems
        If a piece lacks something, or what is drawn cannot be told apart by piece.
    """
    drawing = drawn.drawing
    for use in ("cut", "net", "rough"):
        for one in drawing.outlines(use):
            if not one.closed or len(one.points) < 3:
                raise drawn.refusal("closed outlines", "one that is open", use, one.points[0])
    cuts, nets = [one.points for one in drawing.outlines("cut")], [one.points for one in drawing.outlines("net")]
    wanted = [one.points for one in drawing.outlines("rough")] or cuts
    headings = [one.points for one in drawing.outlines("heading") if not one.closed]
    labels = drawn.labels("labels")
    if len({len(cuts), len(nets), len(wanted), len(headings), len(labels)}) > 1:
        raise drawn.refusal("one of each for every piece", (
            f"{len(cuts)} cut and {len(nets)} net outlines, {len(headings)} headings and {len(labels)} labels"
        ))
    for heading in headings:
        if not _is_arrow(heading):
            raise drawn.refusal("headings that are arrows", "another line", "heading", heading[0])
    headings = [heading[:2] for heading in headings]
    together = list(zip(labels, cuts, wanted, nets, headings, strict=True))
    if not all(_belong(label, *own) and _over(cut, shapely.Polygon(own[0])) for label, cut, *own in together):
        together = _by_place(drawn, labels, cuts, wanted, nets, headings)
    leads = _leads(drawn, [parts[1] for parts in together])
    return [PieceDrawn(*parts, lead) for parts, lead in zip(together, leads, strict=True)]


def region_groups(drawn: Drawn, use: str) -> Iterator[tuple[object, str]]:
    """Regions of zones or flaws, on the table, each with its text. Raises InputProblems for rings or texts alone."""
    groups: list[tuple[list[np.ndarray], Label]] = []
    waiting: list[np.ndarray] = []
    for entity in drawn.on(use):
        if isinstance(entity, Label):
            groups.append((waiting, entity))
            waiting = []
        elif entity.closed:
            waiting.append(entity.points)
    if waiting or not all(rings and _has_text(use, region_of(rings), label) for rings, label in groups):
        groups = _regions_by_place(drawn, use)
    for rings, label in groups:
        yield region_of(rings), label.text


def region_of(rings: Sequence[np.ndarray]):
    """What an odd number of rings enclose."""
    shape = shapely.Polygon()
    for ring in rings:
        shape = shape.symmetric_difference(shapely.Polygon(ring))
    return shape


def _is_arrow(points: np.ndarray) -> bool:
    """Whether a line is an axis with its arrowhead, as it is drawn."""
    if len(points) != 5:
        return False
    along = points[1] - points[0]
    length = float(np.hypot(*along))
    if length <= 0.0:
        return False
    (x, y), own = along / length, axis_arrow(length)
    wanted = [own @ np.array(((x, y), (-s * y, s * x))) + points[0] for s in (1.0, -1.0)]
    return any(np.abs(points - one).max() <= 2.0 * SAME_MM for one in wanted)


def _belong(label: Label, wanted: np.ndarray, net: np.ndarray, heading: np.ndarray) -> bool:
    """Whether these can be one piece: its label in its net outline, its heading as long as that reaches."""
    return (
        _over(net, shapely.Point(label.at))
        and shapely.intersects(shapely.Polygon(wanted), shapely.Polygon(net))
        and abs(_reach(net, heading) - np.hypot(*(heading[1] - heading[0]))) <= 2.0 * SAME_MM
    )


def _over(ring: np.ndarray, shape) -> bool:
    return bool(shapely.covers(shapely.buffer(shapely.Polygon(ring), SAME_MM), shape))


def _reach(net: np.ndarray, heading: np.ndarray) -> float:
    """How far a net outline reaches from the start of a heading along it, as headings are drawn: 1 mm at least."""
    along = (heading[1] - heading[0]) / max(np.hypot(*(heading[1] - heading[0])), 1e-9)
    return max(1.0, float(((net - heading[0]) @ along).max()))


def _by_place(drawn: Drawn, labels, cuts, wanted, nets, headings) -> list[tuple]:
    """The parts of each piece by where they lie, in the order of the cuts."""
    shapes = {name: np.array([shapely.Polygon(ring) for ring in rings])
              for name, rings in (("cut line", cuts), ("outline wanted", wanted), ("net outline", nets))}
    shapes["heading"] = shapely.linestrings(headings)
    trees = {name: shapely.STRtree(own) for name, own in shapes.items()}
    taken: dict[str, set[int]] = {name: set() for name in shapes}

    def nearest(name: str, label: Label, around, middle, fits) -> int:
        near = trees[name].query(around, predicate="dwithin", distance=SAME_MM).tolist()
        near = [i for i in near if i not in taken[name] and fits(i)]
        if not near:
            raise drawn.refusal(f"a {name} that belongs to it", "none", at=label.at, piece=label.text)
        best = min(near, key=lambda i: shapely.distance(shapely.centroid(shapes[name][i]), middle))
        taken[name].add(best)
        return best

    found = []
    for label in labels:
        at = shapely.Point(label.at)
        net = nearest("net outline", label, at, at, lambda i: True)
        inner = shapes["net outline"][net]
        outer = nearest("outline wanted", label, inner, shapely.centroid(inner), lambda i: True)
        shape = shapes["outline wanted"][outer]
        cut = nearest("cut line", label, shape, shapely.centroid(shape), lambda i: True)
        own = (wanted[outer], nets[net])
        toe = nearest(
            "heading", label, shape, shapely.centroid(shape),
            lambda i, label=label, own=own: _belong(label, own[0], own[1], headings[i]),
        )
        found.append((cut, (label, cuts[cut], *own, headings[toe])))
    return [parts for _, parts in sorted(found, key=lambda one: one[0])]


def _leads(drawn: Drawn, cuts: Sequence[np.ndarray]) -> list[np.ndarray | None]:
    """The lead-in of each cut: the line that ends where the cut begins."""
    found: list[np.ndarray | None] = [None] * len(cuts)
    if not cuts:
        return found
    tree = shapely.STRtree(shapely.points([cut[0] for cut in cuts]))
    for one in drawn.drawing.outlines("lead"):
        near = tree.query(shapely.Point(one.points[-1]), predicate="dwithin", distance=2.0 * SAME_MM)
        # Cuts that touch may begin in one point: the lead-in lies within its own.
        own = [i for i in near if found[i] is None and _over(cuts[i], shapely.LineString(one.points))]
        if len(one.points) != 2 or one.closed or not own:
            raise drawn.refusal("a lead-in that ends where a cut begins", "one that does not", "lead", one.points[-1])
        found[own[0]] = one.points
    return found


def _has_text(use: str, region, label: Label) -> bool:
    """Whether a text stands where that of this region is written."""
    if use == "zones":
        return bool(shapely.dwithin(region, shapely.Point(np.subtract(label.at, ZONE_TEXT_MM)), SAME_MM))
    return bool(np.abs(np.subtract(label.at, FLAW_TEXT_MM) - region.bounds[2:]).max() <= 2.0 * SAME_MM)


def _regions_by_place(drawn: Drawn, use: str) -> list[tuple[list[np.ndarray], Label]]:
    """Rings by the text they stand with: each text has one ring by its place, other rings go to the one around them."""
    labels = drawn.labels(use)
    rings = [one.points for one in drawn.on(use) if isinstance(one, Outline) and one.closed]
    shapes = [shapely.Polygon(ring) for ring in rings]
    left = dict.fromkeys(range(len(rings)))
    first: list[int] = []
    for label in labels:
        fitting = [i for i in left if _has_text(use, shapes[i], label)]
        if not fitting:
            raise drawn.refusal("an outline for each text", f"none for {label.text!r}", use, label.at)
        first.append(min(fitting, key=lambda i: shapes[i].area))
        del left[first[-1]]
    groups = [([rings[i]], label) for i, label in zip(first, labels, strict=True)]
    for i in left:
        around = [g for g, k in enumerate(first) if shapes[k].area > shapes[i].area and shapes[k].covers(shapes[i])]
        if not around:
            raise drawn.refusal("a text for each outline", "an outline without one", use, rings[i][0])
        groups[min(around, key=lambda g: shapes[first[g]].area)][0].append(rings[i])
    return groups
