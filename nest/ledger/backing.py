"""Reinforcements that are lacking, for their roll was missing, too short or withdrawn: booked, and laid later."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from sqlalchemy import Connection, func, select

from nest.errors import LedgerProblem, Taken
from nest.job.job import Job
from nest.ledger import tables
from nest.ledger.offer import StockOffer, articles_of, with_rolls
from nest.ledger.rows import roll_rows
from nest.ledger.standing import Group
from nest.ledger.store import Booking, Ledger


def book_lacking(booking: Booking, plan_id: int, pairs: Mapping[Group, int]) -> None:
    """Book the pairs of a plan that lack their reinforcement, where that has changed.

    Raises
    ------
    Taken
        If a plan lays more reinforcements than are still lacking: somebody else was first.
    """
    lack = tables.lacking.c
    last = {(plan, style, size): number for plan, style, size, number in _last(booking.connection)}
    rows = []
    for style, size in dict.fromkeys((*(group[1:] for group in last if group[0] == plan_id), *pairs)):
        now, before = pairs.get((style, size), 0), last.get((plan_id, style, size), 0)
        if now == before:
            continue
        in_all = sum(number for key, number in last.items() if key[1:] == (style, size)) + now - before
        if now < before <= 0 and in_all < 0:
            raise Taken(f"somebody else has just laid reinforcements of {style} {size}; nothing was reserved.")
        seq = booking.connection.scalar(select(func.max(lack.seq)).where(lack.style == style, lack.size == size)) or 0
        rows.append({"plan_id": plan_id, "style": style, "size": size, "seq": seq + 1, "pairs": now})
    booking.add_all(tables.lacking, rows)


def lacking(connection: Connection) -> dict[Group, int]:
    """Pairs of vamps, cut or to be cut, of each style and size that no plan has a reinforcement for."""
    found: dict[Group, int] = defaultdict(int)
    for _, style, size, pairs in _last(connection):
        found[style, size] += pairs
    return {group: number for group, number in sorted(found.items()) if number > 0}


def _last(connection: Connection) -> list[tuple[int, str, str, int]]:
    """Pairs of each plan, style and size as they stand."""
    lack = tables.lacking.c
    last = select(func.max(lack.id)).group_by(lack.plan_id, lack.style, lack.size)
    query = select(lack.plan_id, lack.style, lack.size, lack.pairs).where(lack.id.in_(last))
    return [tuple(row) for row in connection.execute(query)]


def offer_of_rolls(ledger: Ledger, job: Job, *, name: str = "") -> tuple[StockOffer, dict[Group, int]]:
    """Rolls for the reinforcements that are lacking, the longest of each article, and the pairs of these.

    Raises
    ------
    LedgerProblem
        If none is lacking, or no roll is free for any.
    """
    with ledger.reading() as connection:
        wanted, rolls = lacking(connection), roll_rows(connection)
    if not wanted:
        raise LedgerProblem("no reinforcement is lacking.")
    styles = tuple(one for one in job.styles if one.roll and one.name in {style for style, _ in wanted})
    free = {article: max((row for row in rolls if row.article == article), key=lambda row: row.free_mm, default=None)
            for article in articles_of(styles)}
    picked = {article: row for article, row in free.items() if row is not None and row.free_mm > 0.0}
    styles = tuple(one for one in styles if one.roll in picked)
    if not styles:
        missing = ", ".join(free) or "the roll of " + ", ".join(dict.fromkeys(style for style, _ in wanted))
        raise LedgerProblem(f"no roll of {missing} is free; receive one, or give up a plan that holds it.")
    asked = with_rolls(replace(job, name=name or job.name, styles=styles, order=(), hides=()), picked)
    mine = {style.name for style in styles}
    pairs = {group: number for group, number in wanted.items() if group[0] in mine}
    return StockOffer(asked, (), (), tuple(picked.values())), pairs
