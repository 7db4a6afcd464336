"""Stock: hides and rolls received, withdrawn, given another class, counted, and gone."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import select

from nest.errors import InputProblems, LedgerProblem, Problem
from nest.job.findings import meant
from nest.ledger import tables
from nest.ledger.rows import FREE, HideRow, RollRow, hide_rows, roll_rows
from nest.ledger.store import Booking, Ledger
from nest.stock.material import Hide, Leather
from nest.stock.prices import costs_of_hides, hide_price
from nest.text import count_words

COST_DIGITS = Decimal("0.0001")
"""Costs of hides are kept to a hundredth of a cent, and add up exactly from there on."""


@dataclass(frozen=True, slots=True)
class RollReceived:
    """A roll as it comes in: its article is the name of a roll in the job file."""

    code: str
    article: str
    length_mm: float
    splices_mm: tuple[float, ...] = ()
    lot: str = ""


def cost_of(hide: Hide, leather: Leather) -> Decimal:
    """What a hide costs whole, before price breaks."""
    return exact(costs_of_hides([hide], leather)[0])


def exact(amount: Fraction) -> Decimal:
    """An amount to the digits that the ledger keeps."""
    return (Decimal(amount.numerator) / Decimal(amount.denominator)).quantize(COST_DIGITS)


def receive_hides(
    ledger: Ledger, hides: Sequence[Hide], leathers: Sequence[Leather], *, by: str, since: str, supplier: str = ""
) -> int:
    """Book hides that came in on the day `since`; returns how many.

    Raises
    ------
    InputProblems
        If the ledger has hides of these names; nothing is booked then.
    """
    known = {leather.name: leather for leather in leathers}
    with ledger.booking(by, "received", count_words(len(hides), "hide")) as booking:
        _refuse_known(booking, [hide.hide_id for hide in hides])
        for hide in hides:
            put_in(booking, hide, cost_of(hide, known[hide.leather]), since=since, supplier=supplier)
    return len(hides)


def put_in(
    booking: Booking, hide: Hide, cost: Decimal, *, since: str, supplier: str, parent: str = "", place: str = ""
) -> int:
    """Add one hide, or a remnant of its `parent`, to the stock; returns its id."""
    hide_id = booking.add(
        tables.hide, code=hide.hide_id, leather=hide.leather, lot=hide.lot, supplier=supplier, quality=hide.quality,
        thickness_mm=hide.thickness_mm, area_mm2=hide.measured_area_mm2, drawn_mm2=hide.outline.area, cost=str(cost),
        parent=parent, since=since, body_id=booking.keep(Hide, hide),
    )
    booking.add(tables.hide_move, hide_id=hide_id, seq=1, state=FREE[bool(parent)], quality=hide.quality, place=place)
    return hide_id


def receive_rolls(ledger: Ledger, rolls: Sequence[RollReceived], *, by: str, since: str, supplier: str = "") -> int:
    """Book rolls that came in; returns how many; raises as `receive_hides`."""
    with ledger.booking(by, "received", count_words(len(rolls), "roll")) as booking:
        _refuse_known(booking, [roll.code for roll in rolls])
        for one in rolls:
            roll_id = booking.add(
                tables.roll, code=one.code, article=one.article, lot=one.lot, supplier=supplier,
                length_mm=one.length_mm, since=since,
            )
            booking.add(
                tables.roll_move, roll_id=roll_id, seq=1, state="received", left_mm=one.length_mm, held_mm=0.0,
                splices=splices_text(one.splices_mm),
            )
    return len(rolls)


def splices_text(splices_mm: Iterable[float]) -> str:
    """Splices as they are kept."""
    return " ".join(f"{one:.1f}" for one in splices_mm)


def _refuse_known(booking: Booking, codes: Sequence[str]) -> None:
    expected, remedy = "an id that the ledger does not know", "give it its own id"
    problems = [
        Problem(f"{what} {row.code}", expected, f"a {what} of this id", remedy)
        for what, rows in (("hide", hide_rows), ("roll", roll_rows)) for row in rows(booking.connection, codes=codes)
    ]
    if problems:
        raise InputProblems(problems)


def move_hides(
    booking: Booking, rows: Sequence[HideRow], state: str, *, plan_id: int | None = None,
    quality: Mapping[str, int] | None = None, place: str | None = None,
) -> None:
    """Add the next move of these hides; somebody else who moved one since `rows` were read makes this fail."""
    booking.add_all(tables.hide_move, [
        {
            "hide_id": row.hide_id, "seq": row.seq + 1, "state": state or row.state, "plan_id": plan_id,
            "quality": (quality or {}).get(row.code, row.quality), "place": row.place if place is None else place,
        }
        for row in sorted(rows, key=lambda one: one.hide_id)  # in one sequence, so that nobody waits in a circle
    ])


def move_roll(
    booking: Booking, row: RollRow, *, left_mm: float | None = None, held_mm: float | None = None, state: str = "",
    splices: str | None = None, plan_id: int | None = None,
) -> None:
    """Add the next move of a roll."""
    booking.add(
        tables.roll_move, roll_id=row.roll_id, seq=row.seq + 1, state=state or row.state, plan_id=plan_id,
        left_mm=row.left_mm if left_mm is None else left_mm, held_mm=row.held_mm if held_mm is None else held_mm,
        splices=row.splices if splices is None else splices,
    )


def set_aside(ledger: Ledger, codes: Sequence[str], state: str, *, by: str, why: str = "") -> tuple[str, ...]:
    """Withdraw hides and rolls, bring them back ("received"), or book them as "gone"; returns their names.

    Raises
    ------
    LedgerProblem
        If one is not known, is cut or gone, or is reserved by an open plan.
    """
    with ledger.booking(by, {"received": "brought back"}.get(state, state), _with_names(codes, why)) as booking:
        hides, rolls = named(booking.connection, codes)
        for row in hides:
            if row.state not in (*FREE, "withdrawn"):
                raise LedgerProblem(not_free(row))
        by_origin: dict[str, list[HideRow]] = {}
        for row in hides:
            own = FREE[bool(row.parent)] if state == "received" else state
            by_origin.setdefault(own, []).append(row)
        for own, mine in by_origin.items():
            move_hides(booking, mine, own)
        for roll in rolls:
            if roll.held_mm > 0.0 and state != "received":
                raise LedgerProblem(
                    f"roll {roll.code}: {roll.held_mm / 1e3:.2f} m of it are reserved; give up that plan first."
                )
            move_roll(booking, roll, state=state)
    return tuple(codes)


def give_class(ledger: Ledger, codes: Sequence[str], quality: int, *, by: str, why: str = "") -> None:
    """Give hides another class, as they turned out; what they cost stays; raises as `set_aside`."""
    with ledger.booking(by, "class", f"{quality}: {_with_names(codes, why)}") as booking:
        hides, rolls = named(booking.connection, codes)
        if rolls:
            raise LedgerProblem(f"{rolls[0].code} is a roll, and rolls have no class; name hides.")
        for row in hides:
            if row.state == "gone":
                raise LedgerProblem(f"hide {row.code} is gone; name another.")
            move_hides(booking, [row], row.state, quality={row.code: quality}, plan_id=_plan_id(booking, row))


def give_place(ledger: Ledger, codes: Sequence[str], place: str, *, by: str) -> None:
    """Note where on the rack hides hang; raises as `set_aside`."""
    with ledger.booking(by, "place", f"{place}: {', '.join(codes)}") as booking:
        hides, rolls = named(booking.connection, codes)
        if rolls:
            raise LedgerProblem(f"{rolls[0].code} is a roll; places are kept of hides alone.")
        for row in hides:
            move_hides(booking, [row], row.state, place=place, plan_id=_plan_id(booking, row))


def _plan_id(booking: Booking, row: HideRow) -> int | None:
    return booking.connection.scalar(select(tables.plan.c.id).where(tables.plan.c.code == row.plan))


def not_free(row: HideRow) -> str:
    """Why a hide cannot be set aside, in words."""
    if row.state == "reserved":
        return (
            f"hide {row.code} is reserved by plan {row.plan}; book it as withdrawn with `vampyield orders close`, "
            f"or give the plan up with `vampyield orders release {row.plan}`."
        )
    return f"hide {row.code} is {row.state}; name another."


def _with_names(codes: Sequence[str], why: str) -> str:
    return f"{', '.join(codes)}{': ' * bool(why)}{why}"


def named(connection, codes: Sequence[str]) -> tuple[list[HideRow], list[RollRow]]:
    """Hides and rolls of these names; LedgerProblem if one is not known."""
    hides, rolls = hide_rows(connection, codes=codes), roll_rows(connection, codes=codes)
    found = {row.code for row in hides} | {row.code for row in rolls}
    for code in codes:
        if code not in found:
            known = [*connection.scalars(select(tables.hide.c.code)), *connection.scalars(select(tables.roll.c.code))]
            hint = meant(code, known)
            raise LedgerProblem(f"the ledger knows no hide or roll {code!r}; "
                                f"{hint if hint.startswith('correct') else 'see `vampyield stock list`'}.")
    return hides, rolls


def check_kept(connection, *, leather: str = "", lot: str = "", rolls: bool = False) -> None:
    """LedgerProblem if the ledger has never had this leather, or this lot of hides, or of `rolls`."""
    hide, things = tables.hide.c, tables.roll.c if rolls else tables.hide.c
    for what, name, column in (("leather", leather, hide.leather), ("lot", lot, things.lot)):
        if name:
            known = sorted(filter(None, connection.scalars(select(column).distinct())))
            if name not in known:
                raise LedgerProblem(f"the ledger has no {what} {name!r}; {meant(name, known)}.")


def history(ledger: Ledger, code: str) -> list[tuple[str, str, str, str, str]]:
    """All that happened to a hide or a roll: when, who, what was booked, how it stood then, and what was said.

    Raises
    ------
    LedgerProblem
        If it is not known.
    """
    with ledger.reading() as connection:
        hides, _ = named(connection, [code])
        thing, move = (tables.hide, tables.hide_move) if hides else (tables.roll, tables.roll_move)
        stood = [move.c.state] if hides else [move.c.state, move.c.left_mm, move.c.held_mm]
        booked = tables.change.c
        query = select(booked.at, booked.said_by, booked.what, booked.said, *stood).join(
            move, move.c.change_id == booked.id
        ).join(thing, thing.c.id == move.c[f"{thing.name}_id"]).where(thing.c.code == code).order_by(move.c.seq)
        return [
            (at, who, what, state if hides else f"{state}, {more[0] / 1e3:.2f} m left, {more[1] / 1e3:.2f} m reserved",
             said) for at, who, what, said, state, *more in connection.execute(query)
        ]


def came_on(connection, codes: Sequence[str]) -> dict[str, str]:
    """The day on which each hide was booked: of a remnant that on which it came back."""
    hide, change = tables.hide, tables.change
    query = select(hide.c.code, change.c.at).join(change, change.c.id == hide.c.change_id)
    wanted = set(codes)
    return {code: at[:10] for code, at in connection.execute(query) if code in wanted}


def hide_of(
    ledger: Ledger, connection, row: HideRow, leather: Leather, *, measured_margins: bool | None = None
) -> Hide:
    """The hide itself, of the class it has now; one that was given another class costs what it did.

    measured_margins : whether what its outline is unsure by is its margin; None for as it was when it was received.

    Raises
    ------
    LedgerProblem
        If it is to be, and the drawing did not say.
    """
    hide = replace(ledger.body(connection, row.body_id, Hide), remnant_of=row.parent)
    if measured_margins and hide.within_mm is None:
        raise LedgerProblem(
            f"hide {row.code}: its drawing did not say how sure its outline is, so it has no measured margin; give "
            f"edge_margin_mm in mm in the job file, or withdraw the hide."
        )
    if measured_margins is not None:
        hide = replace(hide, margin_mm=hide.within_mm if measured_margins else 0.0)
    if row.quality == hide.quality:
        return hide
    price, unit = hide_price(hide, leather)
    return replace(hide, quality=row.quality, price=price, price_unit=unit)
