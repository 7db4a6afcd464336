"""How long functions are, and how many arguments they take by place."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

MOST_LINES, MOST_BY_PLACE = 80, 7

LOOPS = {"compiled", "uncounted", "inlined", "njit"}
"""Decorators of compiled loops. These may take more arguments: what they pass on is scalars and arrays, which stay in
registers; a record of them would be unpacked at every call of the innermost loops (`geometry/compiled.py`)."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions(source: str) -> Iterator[Function]:
    """All functions of a module, methods and inner ones among them."""
    return (one for one in ast.walk(ast.parse(source)) if isinstance(one, Function))


def too_long(one: Function) -> bool:
    """Whether a function has more lines than are read at a glance; decorators do not count."""
    return (one.end_lineno or one.lineno) - one.lineno + 1 > MOST_LINES


def takes_too_many(one: Function) -> bool:
    """Whether a function takes more by place than a reader can count, and is no compiled loop."""
    named = {part.id for way in one.decorator_list for part in ast.walk(way) if isinstance(part, ast.Name)}
    return len(one.args.posonlyargs) + len(one.args.args) > MOST_BY_PLACE and not named & LOOPS


@pytest.mark.parametrize("room", ["geometry", "nest"])
def test_functions_are_short_and_take_few_arguments_by_place(room):
    """No function of nest or geometry has more than 80 lines; only compiled loops take more than seven by place."""
    wrong = [
        f"{path.relative_to(ROOT)}:{one.lineno} {one.name}"
        for path in sorted((ROOT / room).rglob("*.py")) for one in functions(path.read_text(encoding="utf-8"))
        if too_long(one) or takes_too_many(one)
    ]
    assert not wrong


def test_what_is_wrong_is_seen():
    """A long function is found; eight arguments by place are, but not behind a star or in a compiled loop."""
    eight = ", ".join("abcdefgh")
    long, many, named, loop = functions(
        "def long():\n" + "    1\n" * 80 + f"def many({eight}): ...\ndef named(a, *, {eight[3:]}): ...\n"
        f"@njit(cache=True)\ndef loop({eight}): ...\n"
    )
    assert [too_long(one) for one in (long, many)] == [True, False]
    assert [takes_too_many(one) for one in (many, named, loop)] == [True, False, False]
