"""Days in a shop of rectangles: a job, hides and rolls, planned in rows. All data are invented."""

from functools import cache

import numpy as np
from box_jobs import hide, job, roll, style
from shapely.geometry import box

from geometry.pose import Pose
from nest.ledger.lists import OrderedLine
from nest.ledger.offer import offer
from nest.ledger.orders import take_orders
from nest.ledger.plans import plan_of, plan_row, reserve
from nest.ledger.rows import HideRow, LineRow, RollRow, hide_rows
from nest.ledger.stock import RollReceived, receive_hides, receive_rolls
from nest.pieces.make import make_pieces
from nest.pieces.piece import Role
from nest.pieces.quantities import cut_quantities
from nest.plan import HideLayout, Lay, Placed, Plan
from nest.planning.stages import planned_style

HOUSE = job(order=(), hides=(), rolls=(roll(),), styles=(style(roll="knit", reject_percent=5.0),))
"""One style of 224 × 124 mm, backed, on calf at 30.00 a m²."""

HIDE = HideRow(1, "H1", "calf", "lot 1", "", 1, 1, 1.3, 5e5, 5e5, "15", "", "2026-11-02", "received", "", "", 1, 1)
ROLL = RollRow(1, "R1", "knit", "", "", 20_000.0, "2026-11-02", "received", 15_000.0, 4000.0, "1000.0 5000.0", 1)
LINE = LineRow(1, "A", "box", "38", "", 0, 10, 3, 5, 1, 1)
"""A hide, a roll and an order line as they may stand in a ledger."""


def stocked(ledger, count=6, since="2026-11-02", first=1, **more):
    """This many hides of 1000 × 500 mm, and a roll of 20 m, received."""
    receive_hides(
        ledger, [hide(f"H{i}", **more) for i in range(first, first + count)], HOUSE.leathers, by="Ann", since=since
    )
    if first == 1:
        receive_rolls(ledger, [RollReceived("R1", "knit", 20_000.0)], by="Ann", since=since)
    return ledger


def wanted(ledger, *lines):
    """Orders taken: (order, size, pairs, due)."""
    take_orders(ledger, [OrderedLine(order, "box", size, pairs, due) for order, size, pairs, due in lines], by="Ann")


def planned(ledger, until="", by="Ann", house=HOUSE, **more):
    """A plan made of what is due, and reserved; returns its code."""
    offered = offer(ledger, house, until=until, **more)
    plan = rows_plan(offered.job)
    return reserve(ledger, offered, plan, by=by, until=until)[0]


@cache
def pieces_of(size):
    """Vamp and reinforcement of a size."""
    return tuple(make_pieces(HOUSE.styles[0], [size])[0])


def rows_plan(asked) -> Plan:
    """A plan of pairs in rows, hide by hide as they are offered; reinforcements one behind the other on one lay."""
    lines = cut_quantities(asked.order, asked.styles, asked.settings.reject_pairs)
    to_place = [(line.size, pair) for line in lines for pair in range(line.pairs_to_cut)]
    layouts, number, gap = [], 0, asked.settings.hide_apart_mm
    for one in asked.hides:
        spots = list(_spots(one.outline, gap))
        placed = []
        while to_place and len(spots) > 1:
            size, _ = to_place.pop(0)
            number += 1
            vamp = next(piece for piece in pieces_of(size) if piece.role is Role.VAMP)
            placed += [Placed(vamp.piece_id, spots.pop(0), number) for _ in range(2)]
        if placed:
            layouts.append(HideLayout(one.hide_id, tuple(placed)))
    sizes = sorted({line.size for line in asked.order})
    pieces = tuple(piece for size in sizes for piece in pieces_of(size))
    return Plan(
        name="rows", styles=tuple(planned_style(asked, style, lines) for style in asked.styles),
        order=lines, pieces=pieces, leathers=asked.leathers, hides=asked.hides, rolls=asked.rolls,
        settings=asked.settings, layouts=tuple(layouts), lays=_lays(asked, layouts, pieces),
    )


PITCH = 246.0, 138.0
"""Room for the largest vamp of these tests, 40, and the gap beside it."""


def _spots(outline, gap):
    """Places for a vamp of any size on a grid from the lower left corner, toes along x."""
    x0, y0, x1, y1 = outline.bounds
    for y in np.arange(y0, y1 - PITCH[1], PITCH[1] + gap):
        for x in np.arange(x0, x1 - PITCH[0], PITCH[0] + gap):
            if outline.covers(box(x, y, x + PITCH[0], y + PITCH[1])):
                yield Pose(round(x + 0.5 * PITCH[0], 4), round(y + 0.5 * PITCH[1], 4), 0.0)


def _lays(asked, layouts, pieces) -> tuple[Lay, ...]:
    if not asked.rolls:
        return ()
    backing = {piece.size: piece for piece in pieces if piece.role is Role.REINFORCEMENT}
    size_of = {piece.piece_id: piece.size for piece in pieces}
    placed, end = [], 0.0
    for one in (one for layout in layouts for one in layout.placed):
        piece = backing[size_of[one.piece_id]]
        low, high = piece.cut_outline.min(axis=0), piece.cut_outline.max(axis=0)
        if end + high[0] - low[0] > asked.rolls[0].length_mm - 50.0:
            break
        placed.append(Placed(piece.piece_id, Pose(round(end - low[0], 4), round(1.0 - low[1], 4), 0.0)))
        end = round(end + high[0] - low[0] + 1.0, 4)
    return (Lay("L1", asked.rolls[0].roll_id, end, 1, tuple(placed)),) if placed else ()


def plan_named(ledger, code):
    """A plan of the ledger."""
    with ledger.reading() as connection:
        return plan_of(ledger, connection, plan_row(connection, code))[0]


def list_file(folder, name, head, *rows):
    """A list as CSV."""
    path = folder / name
    path.write_text("\n".join((head, *rows, "")), encoding="utf-8")
    return path


def states(ledger):
    """State of every hide by its name."""
    with ledger.reading() as connection:
        return {row.code: row.state for row in hide_rows(connection)}
