"""Stocktake: what was counted on the racks beside what the ledger holds."""

from collections.abc import Sequence
from dataclasses import dataclass

from nest.ledger.lists import Counted
from nest.ledger.rows import FREE, HideRow, RollRow, hide_rows, roll_rows
from nest.ledger.stock import check_kept, move_hides, move_roll
from nest.ledger.store import Ledger

ON_THE_RACK = (*FREE, "reserved", "withdrawn")
"""Hides in these states should be found."""

LENGTH_DOUBT = 0.02
"""A roll whose length is off by more than this share counts as different: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Stocktake:
    """Hides and rolls held and not counted; counted and not held, though known; not known at all; lengths that differ.

    elsewhere : what was counted with a leather or lot of which it is not.
    agreed : hides and rolls that are as the ledger has them.
    """

    missing: tuple[HideRow | RollRow, ...]
    returned: tuple[HideRow | RollRow, ...]
    elsewhere: tuple[HideRow | RollRow, ...]
    unknown: tuple[str, ...]
    lengths: tuple[tuple[RollRow, float], ...]
    agreed: int


def compare(ledger: Ledger, counted: Sequence[Counted], *, leather: str = "", lot: str = "") -> Stocktake:
    """Hold a count against the ledger; of one leather or lot alone where only that was counted.

    Raises
    ------
    LedgerProblem
        If the ledger has no such leather or lot.
    """
    found = {one.code: one for one in counted}
    with ledger.reading() as connection:
        check_kept(connection, leather=leather, lot=lot)
        hides = hide_rows(connection, leather=leather, lot=lot)
        rolls = [] if leather or lot else roll_rows(connection)
        all_rows: list[HideRow | RollRow] = [*hide_rows(connection), *roll_rows(connection)]
    every = {row.code: row for row in all_rows}
    held = [row for row in hides if row.state in ON_THE_RACK]
    held_rolls = [row for row in rolls if row.state != "gone"]
    kept: list[HideRow | RollRow] = [*held, *held_rolls]
    known: list[HideRow | RollRow] = [*hides, *rolls]
    here, mine = ({row.code for row in rows} for rows in (kept, known))
    lengths = tuple(
        (row, length) for row in held_rolls
        if row.code in found and (length := found[row.code].length_mm) is not None
        and abs(length - row.left_mm) > LENGTH_DOUBT * row.left_mm
    )
    return Stocktake(
        tuple(row for row in kept if row.code not in found),
        tuple(row for row in known if row.code in found and row.code not in here),
        tuple(every[code] for code in found if code in every and code not in mine),
        tuple(code for code in found if code not in every), lengths, sum(code in found for code in here) - len(lengths),
    )


def book(ledger: Ledger, taken: Stocktake, *, by: str) -> int:
    """Book what a stocktake found: what is missing is gone, what was gone and is there is back; returns how many.

    What is reserved or cut is left as it is: an open plan is given up or closed first.
    """
    with ledger.booking(by, "stocktake", f"{len(taken.missing)} missing, {len(taken.returned)} found again") as booking:
        gone = [row for row in taken.missing if isinstance(row, HideRow) and row.state != "reserved"]
        back = [row for row in taken.returned if isinstance(row, HideRow) and row.state == "gone"]
        move_hides(booking, gone, "gone")
        for parent in (False, True):
            move_hides(booking, [row for row in back if bool(row.parent) is parent], FREE[parent])
        rolls = 0
        for row in taken.missing:
            if isinstance(row, RollRow) and not row.held_mm:
                move_roll(booking, row, state="gone")
                rolls += 1
        for row in taken.returned:
            if isinstance(row, RollRow):
                move_roll(booking, row, state="received")
                rolls += 1
        for row, length in taken.lengths:
            move_roll(booking, row, left_mm=max(length, row.held_mm))
            rolls += 1
    return len(gone) + len(back) + rolls
