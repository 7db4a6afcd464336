"""Do the tests bite? One operator, condition or constant of a room is changed at a time, and the room's tests run.

    python tests/bench/mutants.py --rooms verify begun --count 30 --seed 1

Each mutant is written into a copy of the tree; pytest runs there with -x and a limit of time. A mutant that no test
notices survives and is printed with its line, to be judged by hand: a gap in the tests, or a change that changes
nothing. Those that were judged before stand with their reason in `HARMLESS`. Ends with code 1 if fewer than 90 % of
those that change anything are noticed.
"""

import argparse
import ast
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import pytest

for _library in ("hypothesis", "numpy", "shapely.geometry", "numba", "ezdxf", "openpyxl", "pydantic", "sqlalchemy"):
    import_module(_library)  # none of our own: each mutant is imported anew

ROOT = Path(__file__).parents[2]

_JUDGE = ("verify", "test_planted_violations.py", "test_plan_against_itself.py", "test_two_judges.py")
ROOMS = {
    "verify": _JUDGE,
    "accounts": ("accounts", "test_one_source_of_money.py", "test_costing_commands.py", "report/test_tables.py"),
    "pieces": ("pieces", "test_plan_against_itself.py"),
    "trial": ("trial",),
    "begun": ("begun", "accounts/test_used.py", "planning/test_urgent_first.py", "planning/test_replan.py",
              "test_replan_command.py"),
    "cutplan": ("cutplan",),
    "edits": ("edits", "desk/test_desk_session.py"),
    "desk": ("desk",),
    "ledger": ("ledger",),
    "selection": ("selection",),
}
"""Of each room, what in `tests/nest` holds it: the quickest first."""

HARMLESS: dict[tuple[str, str, str], str] = {}
"""Survivors that were judged: (file, line of code, change) and why it changes nothing that matters."""

_LIMIT = re.compile(r"(?<![<>=!])(<=?|>=?) [^<>]*(_MM|_DEG|SHARE|_DOUBT|_REFUSAL|SHRUNK|\d\.\d+|\de-\d+)\b")
"""A measured number held against a tolerance: equality or not matters only where it is that to the last bit."""

SECONDS = 180
"""A mutant that runs longer has made a loop without end: noticed."""

_COMPARE = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}
_BINARY = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}
_CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Mutant:
    """One change: file, line, what was there, what stands there now, and the whole text of the file with it."""

    file: Path
    line: int
    before: str
    after: str
    text: str

    @property
    def change(self) -> str:
        """The change in words of code."""
        return f"{self.before}  →  {self.after}"


def _only_at_the_limit(mutant: Mutant) -> str:
    """A reason, where only equality of a measured number with its limit was put in or taken out; else ""."""
    strict = mutant.after.replace("<=", "<").replace(">=", ">")
    same = strict == mutant.before.replace("<=", "<").replace(">=", ">")
    return "differs only where a measured number is its limit to the last bit" if (
        same and _LIMIT.search(mutant.before)) else ""


def places_of(path: Path) -> list[tuple[Path, int, int]]:
    """Every place of a file that can be changed, and in which way of several."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [(path, at, way) for at, node in enumerate(_changeable(tree)) for way in range(len(_changes(node)))]


def mutant_at(path: Path, at: int, way: int) -> Mutant:
    """The mutant of one place."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    node = next(one for i, one in enumerate(_changeable(tree)) if i == at)
    before = ast.unparse(node)
    _changes(node)[way]()
    return Mutant(path, node.lineno, before, ast.unparse(node), ast.unparse(ast.fix_missing_locations(tree)))


def _changeable(tree: ast.AST) -> Iterator[ast.AST]:
    """Nodes that may be changed: none in annotations, decorators, docstrings, formats or messages of errors."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(tree, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and (
            node in tree.decorator_list or node is getattr(tree, "returns", None)
        ):
            continue
        if isinstance(tree, ast.arg | ast.AnnAssign) and node is tree.annotation:
            continue
        if isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom | ast.Raise):
            continue
        if _changes(node):
            yield node
        yield from _changeable(node)


def _changes(node: ast.AST) -> list:
    """Calls that change the node in place."""
    def put(name, value):
        return lambda: setattr(node, name, value)

    if isinstance(node, ast.Compare) and type(node.ops[0]) in _COMPARE:
        return [put("ops", [_COMPARE[type(node.ops[0])](), *node.ops[1:]])]
    if isinstance(node, ast.BoolOp):
        return [put("op", ast.Or() if isinstance(node.op, ast.And) else ast.And())]
    if isinstance(node, ast.BinOp) and type(node.op) in _BINARY:
        return [put("op", _BINARY[type(node.op)]())]
    if isinstance(node, ast.If | ast.IfExp | ast.While):
        return [put("test", ast.UnaryOp(ast.Not(), node.test))]
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _CALLS:
        return [put("func", ast.Name(_CALLS[node.func.id], ast.Load()))]
    if isinstance(node, ast.Constant):
        if isinstance(node.value, bool):
            return [put("value", not node.value)]
        if isinstance(node.value, int):
            return [put("value", node.value + 1)]
        if isinstance(node.value, float) and node.value and abs(node.value) < 1e300:
            return [put("value", 1.1 * node.value)]
    return []


def copied(to: Path) -> None:
    """The tree as it stands, compiled loops with it."""
    for name in ("nest", "geometry", "tests", "demo_data"):
        shutil.copytree(ROOT / name, to / name, copy_function=shutil.copy2)
    for name in ("pyproject.toml", "README.md"):
        shutil.copy2(ROOT / name, to / name)


def noticed(tree: Path, mutant: Mutant, tests: tuple[str, ...], seconds: float) -> bool:
    """Whether a test fails with the mutant in place; the file is put back."""
    place = tree / mutant.file.relative_to(ROOT)
    was = place.read_bytes()
    place.write_text(mutant.text, encoding="utf-8")
    try:
        return not passed(tree, tests, seconds)
    finally:
        place.write_bytes(was)


def passed(tree: Path, tests: tuple[str, ...], seconds: float) -> bool:
    """Whether the tests pass in time, in a process forked from this one: libraries are loaded once for all mutants."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            os.chdir(tree)
            silent = os.open(os.devnull, os.O_WRONLY)
            os.dup2(silent, 1)
            os.dup2(silent, 2)
            sys.path.insert(0, str(tree))
            sys.dont_write_bytecode = True
            paths = [f"tests/nest/{name}" for name in tests if (tree / "tests" / "nest" / name).exists()]
            code = int(pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", *paths]))
        finally:
            os._exit(code)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def main() -> int:
    """Run mutants of the rooms asked for, drawn by the seed, and list the survivors."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rooms", nargs="+", choices=ROOMS, default=list(ROOMS))
    parser.add_argument("--count", type=int, default=10, help="mutants of each room; default %(default)s")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--file", default="", help="of files with this in their name alone")
    parser.add_argument("--tests", nargs="+", help="in tests/nest, in place of all that hold the room")
    arguments = parser.parse_args()
    killed = left = harmless = 0
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        copied(tree)
        for room in arguments.rooms:
            everything = [
                one for path in sorted((ROOT / "nest" / room).glob("*.py"))
                if arguments.file in path.name and not path.name.startswith("_") for one in places_of(path)
            ]
            begin = time.monotonic()
            tests = tuple(arguments.tests or ROOMS[room])
            if not passed(tree, tests, 10 * SECONDS):
                print(f"{room}: its tests fail as they are", flush=True)
                return 1
            usual = time.monotonic() - begin
            drawn = random.Random(f"{arguments.seed} {room}").sample(everything, min(arguments.count, len(everything)))
            print(f"{room}: {len(everything)} mutants, {len(drawn)} drawn; tests take {usual:.0f} s", flush=True)
            for place in drawn:
                mutant = mutant_at(*place)
                if noticed(tree, mutant, tests, max(SECONDS, 4 * usual)):
                    killed += 1
                    continue
                name = mutant.file.relative_to(ROOT).as_posix()
                line = mutant.file.read_text(encoding="utf-8").splitlines()[mutant.line - 1].strip()
                reason = HARMLESS.get((name, line, mutant.change)) or _only_at_the_limit(mutant)
                harmless, left = (harmless + 1, left) if reason else (harmless, left + 1)
                print(f"  {name}:{mutant.line}: {line}\n      {mutant.change}", flush=True)
                if reason:
                    print(f"      {reason}", flush=True)
    share = killed / max(1, killed + left)
    tried = killed + left + harmless
    print(f"{tried} mutants: {killed} noticed, {left} survived, {harmless} change nothing: {share:.0%}")
    return 0 if share >= 0.9 else 1


if __name__ == "__main__":
    sys.exit(main())
