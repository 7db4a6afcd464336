"""The lay sheet: how one spread of a roll is laid and what is cut from it; one page."""

from collections.abc import Mapping
from functools import partial

from nest.cutplan.nicksaid import nicks_on
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work, found
from nest.pieces.piece import Foot
from nest.plan import Lay, Plan
from nest.sheets.cutsheet import arranged
from nest.sheets.cutwords import NOT_VERIFIED, checks_block, findings_block, on_the_table
from nest.sheets.flow import Block, write_columns
from nest.sheets.frame import MARGIN, draw_foot, draw_heading
from nest.sheets.laypicture import (
    KEY_HIGH,
    Kind,
    draw_lay_picture,
    draw_plies,
    keys_of,
    kind_words,
    kinds_of,
    row_bottom,
    rows_for,
    style_letter,
)
from nest.sheets.page import Box, Page
from nest.stock.material import Roll
from nest.units import metres

_SIGNED = "Spread, side up checked: ______________   Splices left out: ______________   Cut by, date: ______________"
_PLIES_HIGH = 50.0
_PICTURE_SHARE = 0.58
"""The picture may take this share of the page's room, if the strip then shows larger."""


def adhesive_side(roll: Roll) -> tuple[str, str]:
    """Which side up a roll is spread: in a few words, and why.

    The outline of a reinforcement is that of its vamp, grain up, moved inwards. The vamp lies on the adhesive with its
    flesh side, so the adhesive looks up where the outline reads true.
    """
    if not roll.adhesive_one_side:
        return "EITHER SIDE UP: the goods have no adhesive side", "Spread every ply the same way up."
    return (
        "ADHESIVE SIDE UP, in every ply",
        "Adhesive side up: vamps are laid on it grain up. Spread adhesive side down, a piece marked L would fit a "
        "right vamp, one marked R a left one. No piece is turned over.",
    )


def lay_sheet_page(
    plan: Plan, lay: Lay, work: Work, checks: tuple[str, ...], findings: tuple[str, ...],
    stamp: Stamp | None = None,
) -> Page:
    """The sheet of one lay."""
    page = Page()
    roll = found(plan.rolls, "roll_id", lay.roll_id)
    plies = "1 ply" if lay.plies == 1 else f"{lay.plies} plies"
    lines = [
        f"Roll {lay.roll_id}: {plies} of {metres(lay.length_mm):.3f} m",
        f"{metres(lay.plies * (lay.length_mm + 2.0 * roll.end_loss_mm)):.3f} m off the roll, ends of "
        f"{roll.end_loss_mm:g} mm included; {roll.width_mm:g} mm wide",
        f"{len(lay.placed)} piece{'s' * (len(lay.placed) != 1)} a ply, {lay.plies * len(lay.placed)} in all",
        f"Scan the code for the lay's name. {stamp.told() if stamp else ''}".strip(),
    ]
    up, _ = adhesive_side(roll)
    top = draw_heading(page, "Lay sheet", lay.lay_id, lines, up, NOT_VERIFIED if findings else "")
    draw_plies(page, MARGIN + 4.0, top, roll, lay.plies)
    top += _PLIES_HIGH
    bottom = draw_foot(Page(), 1.0, _SIGNED, stamp, plan.name)
    room = Box(MARGIN, top, page.size[0] - MARGIN, bottom)
    # Keys are explained in the lists, which take room of the picture: they are left out where all words have room.
    for named in (dict, partial(keys_of, plan, lay)):
        keys = named()
        picture, columns, rows, size = arranged(
            partial(_blocks, plan, lay, work, checks, findings, keys), _high_by_wide(lay, roll, room), room
        )
        drawn = Page()
        scale, unnamed = draw_lay_picture(drawn, picture, plan, lay, roll, work, keys)
        if not unnamed:
            break
    page.add(drawn)
    write_columns(page, rows, columns, size)
    draw_foot(page, scale, _SIGNED, stamp, plan.name)
    return page


def _high_by_wide(lay: Lay, roll: Roll, room: Box) -> float:
    """Height of the picture by its width, where the strip shows largest."""
    most = Box(room.x0, room.y0, room.x1, room.y0 + _PICTURE_SHARE * (room.y1 - room.y0))
    count, scale = rows_for(lay.length_mm, roll.usable_width_mm, most)
    return (row_bottom(most, count, scale, roll) + KEY_HIGH - room.y0) / (room.x1 - room.x0)


def _blocks(
    plan: Plan, lay: Lay, work: Work, checks, findings, keys: Mapping[Kind, str], level: int
) -> list[Block]:
    blocks = [
        *findings_block(findings, (8, 6, 4, 3, 2, 2)[level]),
        Block("Spread it right", _spread(lay, found(plan.rolls, "roll_id", lay.roll_id))),
        _counts(plan, lay, keys),
        Block("Marks that tell sizes and styles", tuple(nicks_on(plan, lay.placed))),
        Block("On the table", on_the_table(plan, lay, work, "As spread")),
    ]
    return [*blocks, checks_block(checks, short=level > 0)]


def _spread(lay: Lay, roll: Roll) -> tuple[str, ...]:
    said = [adhesive_side(roll)[1], "The thick lines of the picture are the usable width; selvedges of "
            f"{roll.selvedge_mm:g} mm lie beyond it on both sides."]
    if lay.plies > 1:
        said.append(f"{lay.plies} plies, all the same way up, ends and one selvedge in line.")
    if roll.one_way:
        said.append("One-way goods: every ply runs the same way.")
    if roll.splices_mm:
        places = ", ".join(f"{metres(one):g}" for one in roll.splices_mm)
        said.append(f"Splices of the roll at {places} m from its start: no ply may lie over one; cut it out and begin "
                    "the ply behind it.")
    else:
        said.append("No splice of this roll is known. Where you find one, cut it out and begin the ply behind it.")
    return tuple(said)


def _counts(plan: Plan, lay: Lay, keys: Mapping[Kind, str]) -> Block:
    kinds = kinds_of(plan, lay)
    styles = list(dict.fromkeys(style for style, _, _ in kinds))
    said: tuple[str, ...] = ()
    if len(styles) > 1:
        said = tuple(f"{style_letter(i)} = {style}" for i, style in enumerate(styles))
    if {foot for _, _, foot in kinds} & {Foot.LEFT, Foot.RIGHT}:
        said = (*said, "L for the left foot, R for the right.")
    if keys:
        said = (*said, "Pieces too small for their words have the small letter that stands before them here.")
    entries = (f"{keys.get(kind, '')}  {kind_words(kind, kinds)} × {kinds[kind]}".strip() for kind in keys or kinds)
    return Block("Pieces a ply" if lay.plies > 1 else "Pieces", said, tuple(entries))
