"""The tables of the ledger.

Hides, rolls and order lines are written once. What happens to them are moves: rows numbered from 1 for each hide, roll
or line, of which the last says how it stands. Two of one number cannot be, so of two people who book the same hide at
the same moment only one does: the database itself refuses the other. Every row names the change it came with, which
has the time, what was done and who says so.

Areas are mm², lengths mm, money text with its digits, dates and times ISO 8601.
"""

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()


def _id() -> Column:
    return Column("id", Integer, primary_key=True)


def _of(name: str, *, needed: bool = True) -> Column:
    return Column(f"{name}_id", Integer, ForeignKey(f"{name}.id"), nullable=not needed)


def _text(name: str) -> Column:
    return Column(name, String, nullable=False, server_default="")


def _number(name: str, kind=Float) -> Column:
    return Column(name, kind, nullable=False)


def _moves(name: str, *columns: Column) -> Table:
    return Table(
        f"{name}_move", metadata, _id(), _of(name), _number("seq", Integer), _of("change"), *columns,
        UniqueConstraint(f"{name}_id", "seq"),
    )


version = Table("ledger_version", metadata, _id(), Column("version", Integer, nullable=False, unique=True), _text("at"))
change = Table("change", metadata, _id(), _text("at"), _text("said_by"), _text("what"), Column("said", Text))
body = Table("body", metadata, _id(), _text("kind"), Column("packed", LargeBinary, nullable=False))
"""A hide or a plan as `nest.planfile` writes it, packed by zlib."""

plan = Table(
    "plan", metadata, _id(), Column("code", String, nullable=False, unique=True), _text("name"), _text("until"),
    _of("body"), _of("change"),
)
hide = Table(
    "hide", metadata, _id(), Column("code", String, nullable=False, unique=True), _text("leather"), _text("lot"),
    _text("supplier"), _number("quality", Integer), _number("thickness_mm"), _number("area_mm2"), _number("drawn_mm2"),
    _text("cost"), _text("parent"), _text("since"), _of("body"), _of("change"),
)
"""`cost` is what was paid for it; `parent` the hide that a remnant was cut from; `since` the day it was received."""

roll = Table(
    "roll", metadata, _id(), Column("code", String, nullable=False, unique=True), _text("article"), _text("lot"),
    _text("supplier"), _number("length_mm"), _text("since"), _of("change"),
)
line = Table(
    "line", metadata, _id(), _text("order_no"), _text("style"), _text("size"), _text("due"),
    _number("priority", Integer), _of("change"), UniqueConstraint("order_no", "style", "size", "due", "priority"),
)
hide_move = _moves("hide", _text("state"), _number("quality", Integer), _text("place"), _of("plan", needed=False))
roll_move = _moves(
    "roll", _text("state"), _number("left_mm"), _number("held_mm"), _text("splices"), _of("plan", needed=False)
)
line_move = _moves(
    "line", *(_number(name, Integer) for name in ("wanted", "planned", "cut", "spoiled")), _of("plan", needed=False)
)
"""Running totals of pairs; planned are those still to be cut by open plans."""

plan_move = _moves("plan", _text("state"), Column("begun", Text))

spent = Table(
    "spent", metadata, _id(), _of("change"), _of("plan"), _of("hide"),
    *(_number(f"{name}_mm2") for name in ("net", "trim", "waste", "remnant", "paid", "returned")), _text("cost"),
)
"""Where the drawn area of a hide that was cut went; what of the paid area was returned as remnants; what it cost."""

work = Table(
    "work", metadata, _id(), _of("change"), _of("plan"), _text("material"), _text("kind"), _text("lot"),
    _text("supplier"), _text("style"), _text("size"), _text("cutter"), _number("pieces", Integer),
    *(_number(name) for name in ("rough_mm2", "planned", "used")), _text("planned_cost"), _text("used_cost"),
)
"""What a cut hide or roll gave to each style and size; planned and used are mm² of a hide, mm of a roll."""

lacking = Table(
    "lacking", metadata, _id(), _of("change"), _of("plan"), _text("style"), _text("size"), _number("seq", Integer),
    _number("pairs", Integer), UniqueConstraint("style", "size", "seq"),
)
"""Pairs of vamps of a plan that have no reinforcement: the last row of each plan, style and size. Less than 0 are pairs
of reinforcements that a plan lays for vamps of others. `seq` counts the rows of a style and size."""

Index("hide_by_lot", hide.c.leather, hide.c.lot)
Index("work_by_plan", work.c.plan_id)
Index("line_move_by_plan", line_move.c.plan_id)

OF_VERSION_1 = (version, change, body, plan, hide, roll, line, hide_move, roll_move, line_move)
"""The tables a ledger of version 1 had."""
