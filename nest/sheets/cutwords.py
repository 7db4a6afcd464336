"""What a cut sheet says in words: lists and sentences, and the same shorter where a page has no room for all."""

from collections.abc import Sequence

from nest.cutplan.compose import POINT_NAMES, registration_points
from nest.cutplan.frame import frame_words
from nest.cutplan.legend import order_words, point_distances
from nest.cutplan.sheet import CutSheet
from nest.cutplan.toolwords import knife_words, look_out, number_words
from nest.cutplan.work import Work
from nest.plan import HideLayout, Lay, Plan
from nest.sheets.flow import Block
from nest.sheets.hidepicture import Named, drawn_flaws, piece_words, table_place
from nest.sheets.page import ALARM
from nest.stock.material import Flaw, Hide
from nest.units import MM_PER_LENGTH_UNIT

NOT_VERIFIED = "NOT VERIFIED: do not cut"

LEVELS = 6
"""How often a sheet may be shortened; the last keeps no more than headings and the first sentences."""

_WHOLE_LEVEL = 3
"""Beyond this level flaws and zones have their names without the words for them."""

_MOST_FINDINGS = (8, 8, 6, 4, 3, 2)
_MOST_ENTRIES = (10**6, 10**6, 10**6, 10**6, 10**6, 0)
_MOST_SENTENCES = (10**6, 10**6, 10**6, 8, 4, 2)


def cut_blocks(
    plan: Plan, layout: HideLayout, hide: Hide, sheet: CutSheet, work: Work, names: Named, level: int = 0
) -> list[Block]:
    """Everything to be read on the sheet of one hide, in its order; `level` from 0 (all) to `LEVELS` - 1."""
    most = _MOST_SENTENCES[level]
    blocks = [
        *findings_block(sheet.findings, _MOST_FINDINGS[level]),
        *_pieces(plan, layout, sheet, work, names, _MOST_ENTRIES[level]),
        *_flaws(hide, work, level),
        Block("Lay it right", _lay_it_right(hide, work)),
        Block("On the table", on_the_table(plan, layout, work)),
        Block("Stretch: toes lie across the arrows", (), _zones(hide, work, names, level)),
        Block("Nicks", _some(sheet.nicks, most)),
    ]
    said = () if work.table.registered is None else work.table.registered.told()
    if notes := [f"{style}: {note}" for style, note in sheet.notes if note not in said]:
        blocks.append(Block("Notes", _some(notes, most)))
    return [*blocks, checks_block(sheet.checks, short=level > 0)]


def findings_block(findings: Sequence[str], most: int) -> list[Block]:
    """What is wrong, in red."""
    return [Block(NOT_VERIFIED, _some(findings, most), colour=ALARM)] if findings else []


def checks_block(checks: Sequence[str], short: bool) -> Block:
    """What was checked."""
    if not checks:
        return Block("Checked and right", ("Nothing: see what was found.",))
    told = (f"{len(checks)} checks passed; report.html names them.",) if short else tuple(checks)
    return Block("Checked and right", told)


def _some(sentences: Sequence[str], most: int) -> tuple[str, ...]:
    """The first of these, and how many more there are."""
    more = len(sentences) - most
    return tuple(sentences) if more <= 0 else (*sentences[:most], f"{more} more: see report.html.")


def _pieces(
    plan: Plan, layout: HideLayout, sheet: CutSheet, work: Work, names: Named, most: int
) -> list[Block]:
    """Counts, the number of every piece with its pair, and the order of cutting."""
    counts = []
    for (style, foot), row in sheet.counts_by_foot():
        letter = f"{names.styles[style]} = " if names.styles[style] else ""
        foot_said = "" if foot == "either" else f", {foot}"
        counts.append(f"{letter}{style}{foot_said}: " + ", ".join(f"{one.size} × {one.pieces}" for one in row))
    entries = []
    for i, one in enumerate(layout.placed):
        pair = f" pair {one.pair}" if one.pair else ""
        entries.append(f"{layout.number(i)}  {piece_words(plan.piece(one.piece_id), names)}{pair}")
    order = " ".join(str(layout.number(path.index)) for path in work.paths)
    if len(entries) > most:
        counts.append("The number and pair of each piece stand on its label in the drawing.")
        return [Block(f"{sheet.pieces} pieces", tuple(counts))]
    return [
        Block(f"{sheet.pieces} piece{'s' * (sheet.pieces != 1)}", tuple(counts)),
        Block("Number, piece, pair (a number as recut and used want it)", (), tuple(entries)),
        Block("Order of cutting", (order,)),
    ]


def _flaws(hide: Hide, work: Work, level: int) -> list[Block]:
    """Flaws by what may lie over them, each with its place on the table."""
    flaws, unit = drawn_flaws(hide), work.table.unit
    groups = (
        ("Flaws, filled: nothing may be cut over them", [f for f in flaws if f.tears]),
        ("Flaws, hatched: no piece may lie on them", [f for f in flaws if not f.tears and not f.coverable]),
        ("Flaws, white: the trim-off band may lie on them", [f for f in flaws if not f.tears and f.coverable]),
    )
    blocks = []
    for title, found in groups:
        if not found:
            continue
        found.sort(key=lambda flaw: (-flaw.severity, flaw.flaw_id))
        if level > 2 and found[0].coverable:
            blocks.append(Block(title, (), tuple(flaw.flaw_id for flaw in found)))
        else:
            blocks.append(Block(f"{title} ({unit} of the table)", (), tuple(_flaw(f, work, level) for f in found)))
    holes, planned = len(hide.outline.interiors), len(hide.flaws) - len(flaws)
    said = [f"{holes} {'hole' if holes == 1 else 'holes'} in the hide."] if holes else []
    if planned:
        pieces = f"{planned} piece{'s' * (planned != 1)}"
        said.append(f"Grey: {pieces} that the plan cuts from this hide otherwise; not to be cut into.")
    if not flaws:
        said.append("No flaw is marked.")
    return [*blocks, *([Block("Look out for", tuple(said))] if said else [])]


def _flaw(flaw: Flaw, work: Work, level: int) -> str:
    middle = flaw.outline.centroid
    place = table_place(work.frame.apply(((middle.x, middle.y),))[0], work.table.unit)
    if level > _WHOLE_LEVEL:
        return f"{flaw.flaw_id} {place}"
    return f"{flaw.flaw_id} {flaw.kind}, severity {flaw.severity}, {place}"


def _zones(hide: Hide, work: Work, names: Named, level: int) -> tuple[str, ...]:
    return tuple(
        f"{names.zones[zone.zone_id]}{'' if level > _WHOLE_LEVEL else f' {zone.zone_id}'}: class {zone.quality}, " + (
            "stretch unknown" if zone.stretch_deg is None
            else f"{work.frame.direction_deg(zone.stretch_deg) % 180.0:.0f}°"
        )
        for zone in hide.zones
    )


def _lay_it_right(hide: Hide, work: Work) -> tuple[str, ...]:
    """The registration points on the table, and how far they lie apart."""
    unit = work.table.unit
    points = work.frame.apply(registration_points(hide))
    places = ", ".join(f"{name} {table_place(at, unit)}" for name, at in zip(POINT_NAMES, points, strict=False))
    scale = MM_PER_LENGTH_UNIT[unit]
    digits = {"mm": 0, "cm": 1, "in": 2}[unit]
    sides = ", ".join(f"{one}–{other} {length / scale:.{digits}f}" for one, other, length in point_distances(points))
    registered = () if work.table.registered is None else work.table.registered.told()
    return (
        f"Tips of the hide on the table: {places} {unit}.",
        f"Measure {sides} {unit}. Other lengths mean another hide, or one that has stretched.",
        *registered,
    )


def on_the_table(plan: Plan, part: HideLayout | Lay, work: Work, up: str = "Grain side up") -> tuple[str, ...]:
    """What to look out for, how the material lies (`up` as for `frame_words`), how the tool goes, and for how long."""
    (order,) = order_words(work)
    pieces = [plan.piece(one.piece_id) for one in part.placed]
    frame = frame_words(work.table, work.frame.mirrored, up)
    return (*look_out(work, pieces), *frame, *knife_words(work), *number_words(work), work.time.told(), order)
