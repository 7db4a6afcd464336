"""The figures of a plan: each makes sense by itself, and none contradicts another."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal
from math import fsum

import numpy as np
import shapely

from nest.plan import Begun, Plan, PlannedStyle, Side
from nest.stock.material import Hide, Roll
from nest.verify.rows import row_findings
from nest.verify.verdict import DISTANCE_TOLERANCE_MM, Finding, Rule, in_plan

Figure = tuple[str, str, float | Decimal | None, float, float]
"""Whose figure it is, what it is, the figure, the least and the most it may be; None is no figure, and passes."""

ABOVE = 5e-324
"""The least number above 0: what must be more than 0 may not be less than this."""

LESS_THAN_ALL = math.nextafter(100.0, 0.0)
"""The greatest number below 100: of what is rejected something is left."""

AREA_FACTOR = 2.0
"""A hide measured more than this many times larger or smaller than it is drawn has a unit wrong."""

LARGEST_TRIM_MM = 200.0
"""No allowance and no inset is wider; the other limits, too, are those that a job file is held to."""

TURNS_DEG = 720.0
"""A direction may be written within two turns either way; far beyond them its digits are lost."""

SAME = 1e-9
"""Rounding left to yields."""


def figure_findings(plan: Plan) -> Iterator[Finding]:
    """One finding for each figure that makes no sense, or contradicts another."""
    for who, what, value, low, high in _figures(plan):
        # Decimals that are no numbers raise when they are compared.
        if value is not None and not low <= float(value) <= high:
            yield _said(f"{who}: {what} is {value:g}, {_range(low, high)} makes sense.")
    for style in plan.styles:
        yield from _allowance_findings(style)
    for line in plan.order:
        if line.pairs_to_cut < line.pairs_wanted:
            yield _said(
                f"order line {line.style} {line.size}: {line.pairs_to_cut} pairs to cut are fewer than the "
                f"{line.pairs_wanted} wanted.", line.pairs_wanted - line.pairs_to_cut, "pairs",
            )
        yield from row_findings(line)
    for group in plan.groups:
        below = sorted({one.pair for one in group.placed if one.pair < 0})
        if below:
            what = f"pair number {below[0]} makes no sense, pairs count from 1 and 0 is none."
            yield _said(f"{group.material_id}: {what}")
    yield from _begun_findings(plan)
    yield from _bound_findings(plan)
    yield from _issue_findings(plan)


def _said(sentence: str, amount: float = 1.0, unit: str = "pieces") -> Finding:
    return in_plan(Rule.FIGURE, sentence, (), amount, unit)


def _range(low: float, high: float) -> str:
    least = "more than 0" if low == ABOVE else f"{low:g}"
    if high == _MOST:
        return least if low == ABOVE else f"{least} or more"
    return f"{least} to {'less than 100' if high == LESS_THAN_ALL else f'{high:g}'}"


_MOST = 1e15
"""No length, area or amount of a cutting room comes near."""


def _figures(plan: Plan) -> Iterator[Figure]:
    settings, table, costing = plan.settings, plan.settings.table, plan.settings.costing
    for name, most in (("hide_gap_mm", 50.0), ("roll_gap_mm", 50.0), ("edge_margin_mm", 500.0), ("seconds", _MOST),
                       ("seed", _MOST)):
        yield "settings", name, getattr(settings, name), 0.0, most
    for name, most in (("tool_radius_mm", 10.0), ("overcut_mm", 100.0), ("lead_in_mm", 50.0), ("thin_mm", 1.0),
                       ("curve_mm", 2.0), ("knife_offset_mm", 5.0), ("corner_loop_mm", 50.0), ("lift_s", 60.0),
                       ("corner_s", 60.0)):
        yield "cutting table", name, getattr(table, name), 0.0, most
    for name, most in (("origin_x_mm", 1e5), ("origin_y_mm", 1e5), ("turn_deg", TURNS_DEG)):
        yield "cutting table", name, getattr(table, name), -most, most
    for name, most in (("cut_mm_s", 1e5), ("mark_mm_s", 1e5), ("travel_mm_s", 1e5), ("accel_mm_s2", 1e6),
                       ("length_mm", 1e5), ("width_mm", 1e5), ("least_radius_mm", 1e3), ("number_mm", 30.0)):
        yield "cutting table", name, getattr(table, name), ABOVE, most
    for name in ("labour_per_hour", "scrap_per_m2", "pairs_per_year"):
        yield "costing", name, getattr(costing, name), 0.0, _MOST
    for style in plan.styles:
        yield from _of_style(style)
    for line in plan.order:
        who = f"order line {line.style} {line.size}"
        yield who, "pairs_wanted", line.pairs_wanted, 0.0, _MOST
        yield who, "pairs_to_cut", line.pairs_to_cut, 0.0, _MOST
    for leather in plan.leathers:
        who = f"leather {leather.name}"
        yield who, "price", leather.price, 0.0, _MOST
        yield who, "mean_hide_mm2", leather.mean_hide_mm2, ABOVE, _MOST
        yield who, "unfit_share", leather.unfit_share, 0.0, 1.0
        for quality, price in leather.price_by_quality:
            yield who, f"price of class {quality}", price, 0.0, _MOST
        yield from _of_breaks(who, leather.breaks)
    for hide in plan.hides:
        yield from _of_hide(hide)
    for roll in plan.rolls:
        yield from _of_roll(roll)
    for lay in plan.lays:
        yield f"lay {lay.lay_id}", "length_mm", lay.length_mm, ABOVE, _MOST
        yield f"lay {lay.lay_id}", "plies", lay.plies, 1.0, _MOST


_CRIMPING = (
    ("heel_mm", 200.0), ("bond_celsius", 300.0), ("bond_bar", 100.0), ("bond_s", 3600.0),
    ("bond_set_h", 500.0), ("spray_ml", 1000.0), ("bag_most_h", 500.0), ("crimp_celsius", 300.0), ("crimp_bar", 100.0),
    ("crimp_s", 3600.0), ("check_mm", 50.0), ("wait_h", 500.0), ("check_later_mm", 50.0), ("trim_leave_mm", 50.0),
)
"""What is stated of a style's crimping, and the most that makes sense: what a ticket says goes to hot plates."""


def _of_style(style: PlannedStyle) -> Iterator[Figure]:
    who, rules = f"style {style.name}", style.rules
    yield who, "tolerance_deg", rules.tolerance_deg, 0.0, 90.0
    yield who, "net_quality", rules.net_quality, 1.0, _MOST
    yield who, "trim_quality", rules.trim_quality, 1.0, _MOST
    yield who, "reject_percent", style.reject_percent, 0.0, LESS_THAN_ALL
    for _, by_band in style.rates.percent if style.rates else ():
        for rate in by_band:
            yield who, "rates", rate, 0.0, LESS_THAN_ALL
    yield who, "widening_percent", style.widening_percent, 0.0, 100.0
    yield who, "reinforcement_inset_mm", style.reinforcement_inset_mm, 0.0, LARGEST_TRIM_MM
    yield who, "blend_mm", style.allowances.blend_mm, 0.0, 500.0
    yield who, "thickness_mm", style.thickness_mm, 0.0, 100.0
    for row in style.weight_table:
        yield who, "upper_to_mm", row.upper_to_mm, 0.0, 100.0
        yield who, "least_g_m2", row.least_g_m2, 0.0, row.most_g_m2
    yield who, "batch_pairs", style.crimping.batch_pairs, 1.0, 1e4
    for name, most in _CRIMPING:
        yield who, name, getattr(style.crimping, name), 0.0, most
    yield who, "bag_least_h", style.crimping.bag_least_h, 0.0, style.crimping.bag_most_h or 500.0


def _of_hide(hide: Hide) -> Iterator[Figure]:
    who = f"hide {hide.hide_id}"
    yield who, "quality", hide.quality, 0.0, _MOST
    yield who, "thickness_mm", hide.thickness_mm, 0.0, 100.0
    yield who, "margin_mm", hide.margin_mm, 0.0, 500.0
    drawn = float(hide.outline.area)
    yield who, "measured_area_mm2", hide.measured_area_mm2, drawn / AREA_FACTOR, drawn * AREA_FACTOR
    yield who, "price", hide.price, 0.0, _MOST
    for zone in hide.zones:
        yield f"{who}, zone {zone.zone_id}", "quality", zone.quality, 1.0, _MOST
        yield f"{who}, zone {zone.zone_id}", "stretch_deg", zone.stretch_deg, -TURNS_DEG, TURNS_DEG
    for flaw in hide.flaws:
        yield f"{who}, flaw {flaw.flaw_id}", "severity", flaw.severity, 0.0, _MOST


def _of_roll(roll: Roll) -> Iterator[Figure]:
    who = f"roll {roll.roll_id}"
    yield who, "usable width", roll.usable_width_mm, ABOVE, _MOST
    for name, most in (("width_mm", 1e6), ("selvedge_mm", 1e5), ("length_mm", 1e7), ("weight_g_m2", 1e6),
                       ("price_per_m", _MOST), ("end_loss_mm", 1e5)):
        yield who, name, getattr(roll, name), 0.0, most
    yield who, "measured_stretch_deg", roll.measured_stretch_deg, -TURNS_DEG, TURNS_DEG
    for splice in roll.splices_mm:
        yield who, "a splice", splice, 0.0, max(0.0, roll.length_mm)
    yield from _of_breaks(who, roll.breaks)


def _of_breaks(who: str, breaks: Iterable[tuple[Decimal, Decimal]]) -> Iterator[Figure]:
    for quantity, off in breaks:
        yield who, "the quantity of a price break", quantity, 0.0, _MOST
        yield who, "the percent off of a price break", off, 0.0, 100.0


def _allowance_findings(style: PlannedStyle) -> Iterator[Finding]:
    """Allowances are numbers, and none is less than the least the press needs."""
    stated = style.allowances
    for size in ("", *(row[0] for row in stated.by_size)):
        mine = stated.for_size(size)
        for part in ("toe", "side", "back"):
            given, least = getattr(mine, f"{part}_mm"), getattr(mine, f"least_{part}_mm")
            if not (0.0 <= least <= given <= LARGEST_TRIM_MM):
                of_size = f" of size {size}" if size else ""
                yield _said(
                    f"style {style.name}: a {part} allowance{of_size} of {given:g} mm with a least of {least:g} mm "
                    "makes no sense."
                )


def _begun_findings(plan: Plan) -> Iterator[Finding]:
    """What counts as cut is in the plan, and is not withdrawn; no more is spoiled than is cut."""
    begun = plan.begun
    laid = {layout.hide_id for layout in plan.layouts if layout.placed}
    lays = {lay.lay_id for lay in plan.lays}
    rolls = {roll.roll_id: roll for roll in plan.rolls}
    named = {
        "hide": begun.cut_hides, "lay": begun.lays, "roll": [one.roll_id for one in begun.rolls],
        "withdrawn hide": begun.withdrawn,
    }
    for kind, ids in named.items():
        for name, times in Counter(ids).items():
            if times > 1:
                yield in_plan(Rule.IDS, f"what is cut: {kind} {name} is named {times} times.", amount=times)
    hides = {hide.hide_id for hide in plan.hides}
    for one in begun.hides:
        if one.hide_id not in hides:
            yield in_plan(Rule.IDS, f"what is cut: hide {one.hide_id!r} is not in the plan.")
        elif one.hide_id not in laid:
            yield _said(f"what is cut: the plan cuts nothing from hide {one.hide_id}.")
        if one.hide_id in begun.withdrawn:
            yield _said(f"what is cut: hide {one.hide_id} is cut and withdrawn, it can only be one of both.")
        if one.measured_mm2 is not None and not ABOVE <= one.measured_mm2 <= _MOST:
            yield _said(f"what is cut: hide {one.hide_id} measured {one.measured_mm2:g} mm², which makes no sense.")
    for name in begun.lays:
        if name not in lays:
            yield in_plan(Rule.IDS, f"what is cut: lay {name!r} is not in the plan.")
    for roll in begun.rolls:
        if roll.roll_id not in rolls and not roll.withdrawn:
            yield in_plan(Rule.IDS, f"what is cut: roll {roll.roll_id!r} is not in the plan.")
        most = rolls[roll.roll_id].length_mm if roll.roll_id in rolls else _MOST
        if roll.length_mm is not None and not 0.0 <= roll.length_mm <= most + DISTANCE_TOLERANCE_MM:
            yield _said(f"what is cut: {roll.length_mm:g} mm off roll {roll.roll_id}, which holds {most:g} mm.")
    yield from _withdrawn_findings(plan)
    yield from _spoiled_findings(plan, begun)


def _withdrawn_findings(plan: Plan) -> Iterator[Finding]:
    """Nothing is to be cut from what is withdrawn."""
    for layout in plan.layouts_to_cut:
        if layout.hide_id in plan.begun.withdrawn:
            number = len(layout.placed)
            text = (f"hide {layout.hide_id} is withdrawn, {number} piece{' is' if number == 1 else 's are'} to be cut "
                    "from it.")
            yield Finding(layout.hide_id, Rule.WITHDRAWN, (), (), float(len(layout.placed)), "pieces", text)
    gone = {one.roll_id for one in plan.begun.rolls if one.withdrawn}
    for lay in plan.lays_to_cut:
        if lay.roll_id in gone:
            text = f"lay {lay.lay_id} is to be cut from roll {lay.roll_id}, which is withdrawn."
            yield Finding(lay.lay_id, Rule.WITHDRAWN, (), (), float(len(lay.placed)), "pieces", text)


def _spoiled_findings(plan: Plan, begun: Begun) -> Iterator[Finding]:
    """Of each style and size no more is spoiled than is cut, left and right together."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    cut: Counter[tuple[str, str]] = Counter()
    for layout in plan.layouts:
        if layout.hide_id in begun.cut_hides:
            cut.update(
                (pieces[one.piece_id].style, pieces[one.piece_id].size) for one in layout.placed
                if one.piece_id in pieces
            )
    lost: Counter[tuple[str, str]] = Counter()
    for one in begun.spoiled:
        if one.count < 0:
            yield _said(f"what is spoiled: {one.count} pieces of {one.style} {one.size} make no sense.")
        lost[one.style, one.size] += one.count * (2 if one.side is Side.PAIR else 1)
    # A plan for one piece cut again names what was spoiled, and nothing that is cut.
    for (style, size), number in lost.items() if begun.hides else ():
        if number > cut[style, size]:
            yield _said(
                f"what is spoiled: {number} vamps of {style} {size} are more than the {cut[style, size]} that are cut.",
                number - cut[style, size],
            )


def _bound_findings(plan: Plan) -> Iterator[Finding]:
    """A proved bound lies between 0 and 1, of a hide or lay of the plan, and no lower than what is placed there."""
    areas = {
        piece.piece_id: float(shapely.Polygon(piece.cut_outline).area) for piece in plan.pieces
        if np.isfinite(piece.cut_outline).all()
    }
    wholes = {hide.hide_id: float(hide.outline.area) for hide in plan.hides}
    rolls = {roll.roll_id: roll for roll in plan.rolls}
    yields: dict[str, float] = {}
    for layout in plan.layouts:
        if wholes.get(layout.hide_id, 0.0) > 0.0:
            rough = fsum(areas.get(one.piece_id, 0.0) for one in layout.placed)
            yields[layout.hide_id] = rough / wholes[layout.hide_id]
    for lay in plan.lays:
        if (roll := rolls.get(lay.roll_id)) is not None:
            whole = (lay.length_mm + 2.0 * roll.end_loss_mm) * roll.width_mm
            rough = fsum(areas.get(one.piece_id, 0.0) for one in lay.placed)
            yields[lay.lay_id] = rough / whole if whole > 0.0 else 0.0
    for name, times in Counter(bound.material_id for bound in plan.bounds).items():
        if times > 1:
            yield in_plan(Rule.IDS, f"bound of {name} is given {times} times.", amount=times)
    for bound in plan.bounds:
        name, most = bound.material_id, bound.cutting_yield_at_most
        if name not in yields:
            yield in_plan(Rule.IDS, f"a bound names {name!r}, from which the plan cuts nothing.")
        elif not (0.0 <= most <= 1.0 and 0.0 <= bound.reference_yield <= 1.0):
            yield _said(f"the bound of {name}: yields of {most:g} and {bound.reference_yield:g} make no sense.")
        elif yields[name] > most + SAME:
            yield _said(f"the bound of {name} is a yield of {most:.2%}, but {yields[name]:.2%} are placed.")


def _issue_findings(plan: Plan) -> Iterator[Finding]:
    """What the hides of a leather cost is no less than the least that is proved, and they are as many as are used."""
    leather_of = {hide.hide_id: hide.leather for hide in plan.hides}
    opened = Counter(leather_of.get(layout.hide_id) for layout in plan.layouts if layout.placed)
    known = {leather.name for leather in plan.leathers}
    for name, times in Counter(issue.leather for issue in plan.issues).items():
        if times > 1:
            yield in_plan(Rule.IDS, f"the choice of hides of leather {name} is given {times} times.", amount=times)
    for issue in plan.issues:
        who = f"the choice of hides of leather {issue.leather}"
        amounts: list[float | Decimal] = [issue.cost, issue.least_of_layouts, issue.least_by_area, issue.reference]
        amounts += [one.cost for one in issue.greedy]
        amounts += [one.missing_mm2 for one in issue.greedy]
        if issue.leather not in known:
            yield in_plan(Rule.IDS, f"{who}: that leather is not in the plan.")
        elif not all(0.0 <= float(amount) <= _MOST for amount in amounts) or any(one.hides < 0 for one in issue.greedy):
            yield _said(f"{who}: an amount below 0, or no number, makes no sense.")
        elif issue.hides != opened[issue.leather]:
            yield _said(f"{who}: {issue.hides} hides are named, {opened[issue.leather]} are used.")
        elif issue.cost < issue.least_by_area:
            yield _said(f"{who}: a cost of {issue.cost} lies below the proved least of {issue.least_by_area}.")
