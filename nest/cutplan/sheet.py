"""What the cutter is handed with one hide: what lies on it, how it lies, and what to look out for."""

from collections import Counter
from dataclasses import dataclass

from nest.cutplan.cautions import CAUTIONS
from nest.cutplan.compose import registration_points
from nest.cutplan.frame import Frame, frame_of, frame_words
from nest.cutplan.legend import POINT_NAMES, order_words, point_distances
from nest.cutplan.nicksaid import nicks_on
from nest.cutplan.sizes import sizes_in_order
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work
from nest.errors import PlanProblem
from nest.job.cutting_table import CuttingTable
from nest.pieces.piece import Foot
from nest.plan import CUT_BY_PLAN, HideLayout, Plan
from nest.stock.material import Flaw, Hide


@dataclass(frozen=True, slots=True)
class SheetCount:
    """Pieces of one style, size and foot on the hide."""

    style: str
    size: str
    foot: Foot
    pieces: int


@dataclass(frozen=True, slots=True)
class CutSheet:
    """One hide's cut sheet; every text is one sentence or phrase, in the order to be read."""

    hide_id: str
    leather: str
    lot: str
    quality: int
    thickness_mm: float
    measured_area_mm2: float
    cutting_yield: float
    counts: tuple[SheetCount, ...]
    directions: tuple[str, ...]
    """Zone by zone: class and stretch direction."""
    look_out: tuple[str, ...]
    """Holes and flaws, those that tear first."""
    registration: tuple[str, ...]
    """How to see that the hide on the table is the hide of the file."""
    notes: tuple[tuple[str, str], ...]
    """Style and preparation note."""
    checks: tuple[str, ...]
    """What was checked and found right."""
    findings: tuple[str, ...]
    """What is wrong; empty on a plan that may be cut."""
    cautions: tuple[str, ...] = CAUTIONS
    table: tuple[str, ...] = ()
    """How the hide lies on the cutting table, in which order it is cut and how long that takes."""
    nicks: tuple[str, ...] = ()
    """How the nicks tell sizes and styles apart, and where they do not."""

    @property
    def pieces(self) -> int:
        """Pieces on the hide."""
        return sum(count.pieces for count in self.counts)

    def counts_by_foot(self) -> tuple[tuple[tuple[str, Foot], tuple[SheetCount, ...]], ...]:
        """The counts grouped by style and foot, sizes in their order within."""
        groups: dict[tuple[str, Foot], list[SheetCount]] = {}
        for count in self.counts:
            groups.setdefault((count.style, count.foot), []).append(count)
        return tuple((key, tuple(group)) for key, group in groups.items())


def cut_sheet(
    plan: Plan, layout: HideLayout, *, cutting_yield: float, checks: tuple[str, ...] = (),
    findings: tuple[str, ...] = (), work: Work | None = None, stamp: Stamp | None = None,
) -> CutSheet:
    """The cut sheet of one hide; `cutting_yield` (0..1), `checks` and `findings` come from account and judge.

    Without `work` nothing is said of order and time, without `stamp` not which plan it is of.

    Raises PlanProblem if the plan holds no such hide.
    """
    hide = next((hide for hide in plan.hides if hide.hide_id == layout.hide_id), None)
    if hide is None:
        raise PlanProblem(f"the plan holds no hide named {layout.hide_id}; plan again")
    counts = _counts(plan, layout)
    table = plan.settings.table
    frame = frame_of(table, hide.outline, turned_over=table.grain_down)
    styles = {count.style for count in counts}
    return CutSheet(
        hide.hide_id,
        hide.leather,
        hide.lot,
        hide.quality,
        hide.thickness_mm,
        hide.measured_area_mm2,
        cutting_yield,
        counts,
        tuple(f"{z.zone_id}: class {z.quality}, " + (
            "stretch unknown" if z.stretch_deg is None else f"stretches most at {z.stretch_deg:.0f}°"
        ) for z in hide.zones),
        _look_out(hide),
        _registration(hide, frame),
        tuple((style.name, note) for style in plan.styles if style.name in styles for note in style.notes),
        checks,
        findings,
        table=(*((stamp.told(),) if stamp else ()), *_table_words(frame, table, work)),
        nicks=nicks_on(plan, layout.placed),
    )


def _table_words(frame: Frame, table: CuttingTable, work: Work | None) -> tuple[str, ...]:
    told = list(frame_words(table, frame.mirrored))
    if frame != Frame():
        told.append("Directions and places of flaws are as digitised, as in the picture.")
    return (*told, *order_words(work), work.time.told()) if work else tuple(told)


def _counts(plan: Plan, layout: HideLayout) -> tuple[SheetCount, ...]:
    pieces = [plan.piece(placed.piece_id) for placed in layout.placed]
    counted = Counter((piece.style, piece.size, piece.foot) for piece in pieces)
    rank = {size: i for i, size in enumerate(sizes_in_order(plan))}
    ordered = sorted(counted, key=lambda key: (key[0], rank[key[1]], key[2]))
    return tuple(SheetCount(*key, counted[key]) for key in ordered)


def _look_out(hide: Hide) -> tuple[str, ...]:
    planned = [flaw.flaw_id for flaw in hide.flaws if flaw.kind == CUT_BY_PLAN]
    flaws = [flaw for flaw in hide.flaws if flaw.kind != CUT_BY_PLAN]
    flaws.sort(key=lambda flaw: (not flaw.tears, -flaw.severity, flaw.flaw_id))
    holes = len(hide.outline.interiors)
    told = [f"{holes} {'hole' if holes == 1 else 'holes'} in the hide"] if holes else []
    if planned:
        told.append(f"What the plan cuts from this hide otherwise, {planned[0]} to {planned[-1]}: not to be cut into")
    return (*told, *map(_flaw_words, flaws))


def _flaw_words(flaw: Flaw) -> str:
    middle = flaw.outline.centroid
    if flaw.tears:
        rule = "tears: nothing may be cut over it"
    elif flaw.coverable:
        rule = "may lie under the trim-off band"
    else:
        rule = "may lie under no piece"
    return f"{flaw.flaw_id}: {flaw.kind} at ({middle.x:z.0f}, {middle.y:z.0f}) mm, severity {flaw.severity}; {rule}"


def _registration(hide: Hide, frame: Frame) -> tuple[str, ...]:
    points = frame.apply(registration_points(hide))
    places = ", ".join(f"{name} ({x:z.0f}, {y:z.0f})" for name, (x, y) in zip(POINT_NAMES, points, strict=False))
    sides = ", ".join(f"{one}–{other} {length:.0f}" for one, other, length in point_distances(points))
    count = {3: "Three", 4: "Four"}[len(points)]
    return (
        f"Grain side {'down' if frame.mirrored else 'up'}. "
        f"{count} tips of the hide lie at the crosses {places} mm of the table.",
        f"Measure between the tips: {sides} mm. Other lengths mean another hide, or one that has stretched.",
    )
