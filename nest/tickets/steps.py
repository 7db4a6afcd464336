"""The steps of a ticket: what is done to a batch, with the values that its job states and blanks for the others."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from nest.pieces.piece import Role
from nest.pieces.reinforcement import wanted_weight
from nest.plan import Plan, PlannedStyle
from nest.tickets.batches import Batch


@dataclass(frozen=True, slots=True)
class Fact:
    """A value with its name; "" leaves a line to write it on, followed by its `unit`."""

    name: str
    value: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class TicketStep:
    """One step; `key` names it in a timetable, "" where none has it."""

    key: str
    title: str
    facts: tuple[Fact, ...] = ()
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Planned:
    """When a timetable has a batch: in words, from when to when by step key, and the hours between which to crimp."""

    times: dict[str, str] = field(default_factory=dict)
    earliest: str = ""
    latest: str = ""


UNPLANNED = Planned()


def steps_of(plan: Plan, batch: Batch, planned: Planned = UNPLANNED) -> tuple[TicketStep, ...]:
    """Every step after cutting, in its order."""
    style = next(style for style in plan.styles if style.name == batch.style)
    stated = style.crimping
    return (
        TicketStep("bond", "Bond", _press(stated.bond_celsius, stated.bond_bar, stated.bond_s),
                   bonding_words(plan, style, batch)) if style.roll else
        TicketStep("", "Bond", (), ("Not backed: this style has no reinforcement.",)),
        TicketStep("soften", "Soften", (
            Fact("spray", stated.spray), Fact("on the side", stated.spray_side),
            _number("a vamp", stated.spray_ml, "ml"), _number("after bonding, at least", stated.bond_set_h, "h"),
        ), ("Ventilate; the supplier's safety data sheet prevails. Write down when the first and the last vamp go into "
            "the bag.",)),
        TicketStep("", "Rest in the closed bag", (
            _number("at least", stated.bag_least_h, "h"), _number("at most", stated.bag_most_h, "h"),
            Fact("crimp from", planned.earliest), Fact("crimped by", planned.latest),
        )),
        TicketStep("crimp", "Crimp", (
            _number("heel height", stated.heel_mm, "mm"), Fact("plate", stated.plate),
            *_press(stated.crimp_celsius, stated.crimp_bar, stated.crimp_s),
        ), ("Hot plates: hands clear, guards and two-hand control in use; the machine's manual prevails.",)),
        TicketStep("", "Check at once", (_number("edge off by at most", stated.check_mm, "mm"),), (
            "Lay the template on it: toe, both sides and back must reach its line. Record what fails by its number.",)),
        TicketStep("check", "Check again", (
            _number("after", stated.wait_h, "h"), _number("edge off by at most", stated.check_later_mm, "mm"),
        ), ("By the template too. A vamp that has straightened wants more reinforcement, or more time: report it.",)),
        TicketStep("trim", "Trim", (
            _number("leave beyond the line", stated.trim_leave_mm, "mm"), *_allowances(style, batch),
        ), ("Keep hands clear of the knife. What is cut short of the line is recorded as short.",)),
    )


def _number(name: str, value: float | None, unit: str) -> Fact:
    return Fact(name, "" if value is None else f"{value:g} {unit}", unit)


def _press(celsius: float | None, bar: float | None, seconds: float | None) -> tuple[Fact, ...]:
    return _number("temperature", celsius, "°C"), _number("pressure", bar, "bar"), _number("time", seconds, "s")


def _allowances(style: PlannedStyle, batch: Batch) -> tuple[Fact, ...]:
    """What was added to the template, by part: the trim-off that is to be expected, before the vamp was stretched."""
    sizes = {vamp.size for vamp in batch.vamps}
    given = [style.allowances.for_size(size) for size in sizes]
    found = []
    for part in ("toe", "side", "back"):
        values = [getattr(one, f"{part}_mm") for one in given]
        low, high = min(values), max(values)
        found.append(Fact(f"allowance, {part}", f"{low:g} mm" if low == high else f"{low:g} to {high:g} mm"))
    return tuple(found)


def bonding_words(plan: Plan, style: PlannedStyle, batch: Batch) -> tuple[str, ...]:
    """Which reinforcement, whether its weight suits the upper by the job's weight table, and where it lies."""
    roll = next((roll for roll in plan.rolls if roll.roll_id == style.roll), None)
    said = [f"Reinforcement {style.roll}" + (f", {roll.weight_g_m2:g} g/m²." if roll else ".")]
    if roll is not None:
        said[0] += f" {_weight_words(style, roll.weight_g_m2)}"
        said += _odd_hides(plan, style, roll.weight_g_m2, batch)
    side = " adhesive to the flesh side," if roll is None or roll.adhesive_one_side else " on the flesh side,"
    if lays := _lays(plan, batch):
        said[0] += f" Cut from lay {', '.join(lays)}."
    return (*said, f"Lay it on{side} its edge {style.reinforcement_inset_mm:g} mm inside that of the vamp all round, "
            "all ticks in line. Ventilate.")


def _lays(plan: Plan, batch: Batch) -> list[str]:
    """The lays from which reinforcements of the batch's sizes come."""
    sizes = {vamp.size for vamp in batch.vamps}
    mine = {piece.piece_id for piece in plan.pieces
            if piece.role is Role.REINFORCEMENT and piece.style == batch.style and piece.size in sizes}
    return [lay.lay_id for lay in plan.lays if any(one.piece_id in mine for one in lay.placed)]


def _weight_words(style: PlannedStyle, weight: float) -> str:
    if style.thickness_mm is None or not style.weight_table:
        return "Weight wanted for this upper (the job states none): ____________ g/m²."
    row = wanted_weight(style.weight_table, style.thickness_mm)
    upper = f"an upper of {style.thickness_mm:g} mm"
    if row is None:
        return f"The weight table ends below {upper}: weight wanted ____________ g/m²."
    return f"For {upper} the weight table wants {row.least_g_m2:g} to {row.most_g_m2:g} g/m²: {_fits(row, weight)}."


def _fits(row, weight: float) -> str:
    if weight < row.least_g_m2:
        return "TOO LIGHT, ask before bonding"
    return "TOO HEAVY, ask before bonding" if weight > row.most_g_m2 else "it fits"


def _odd_hides(plan: Plan, style: PlannedStyle, weight: float, batch: Batch) -> Sequence[str]:
    """Hides of the batch whose measured thickness wants another weight than their reinforcement has."""
    thick = {hide.hide_id: hide.thickness_mm for hide in plan.hides}
    said = []
    for hide_id in batch.hides:
        row = wanted_weight(style.weight_table, thick[hide_id]) if thick[hide_id] > 0.0 else None
        if row is not None and not row.least_g_m2 <= weight <= row.most_g_m2:
            said.append(f"Hide {hide_id} measures {thick[hide_id]:g} mm and wants {row.least_g_m2:g} to "
                        f"{row.most_g_m2:g} g/m²: {_fits(row, weight)}.")
    return said
