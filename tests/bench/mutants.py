"""Do the tests bite? One operator, condition or constant of a room is changed at a time, and the room's tests run.

    python tests/bench/mutants.py --rooms verify begun --count 30 --seed 1

The tests of a room are collected once, in a copy of the tree; each mutant is put into the loaded functions, and the
tests that reach it are run up to the first that fails (`mutant_runs.py`). One outside of functions is written into
the copy, and the room's tests are imported anew. A mutant that no test notices survives and is printed with its line,
to be judged by hand: a gap in the tests, or a change that changes nothing. Those that were judged before stand with
their reason in `harmless.toml`. Ends with code 1 if fewer than 90 % of those that change anything are noticed.
"""

import argparse
import ast
import math
import os
import random
import re
import shutil
import sys
import tempfile
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import pytest
from mutant_runs import NOTE, Given, changed_functions, forked, run_room, silenced
from numba.core.caching import _CacheLocator

os.environ["CI"] = "true"  # before hypothesis is imported: it draws the same examples each time, however long it takes
for _library in ("hypothesis", "numpy", "shapely.geometry", "numba", "ezdxf", "openpyxl", "pydantic", "sqlalchemy"):
    import_module(_library)  # none of our own: each mutant is imported anew

ROOT = Path(__file__).parents[2]
SOURCES = "geometry/*.py", "nest/placement/*.py", "nest/cutplan/_*.py"
"""Files with compiled loops, as `geometry/loopcache.py` has them."""

_JUDGE = ("verify", "test_planted_violations.py", "test_plan_against_itself.py", "test_two_judges.py")
ROOMS = {
    "verify": _JUDGE,
    "accounts": ("accounts", "test_one_source_of_money.py", "test_costing_commands.py", "report/test_tables.py",
                 "report/test_quotation.py"),
    "pieces": ("pieces", "test_plan_against_itself.py", "planning/test_spoilage.py"),
    "trial": ("trial", "test_costing_commands.py"),
    "begun": ("begun", "accounts/test_used.py", "planning/test_urgent_first.py", "planning/test_replan.py",
              "test_replan_command.py"),
    "cutplan": ("cutplan",),
    "edits": ("edits", "desk/test_desk_session.py"),
    "desk": tuple(f"desk/test_desk_{name}.py" for name in (
        "figures", "processes", "session", "versions", "guard", "listen", "price", "day", "pressed")),
    "ledger": ("ledger",),
    "outcomes": ("outcomes", "test_costing_commands.py"),
    "digitise": ("digitise",),
    "selection": ("selection",),
}
"""Of each room, what in `tests/nest` holds it: the quickest first."""

HARMLESS: dict[tuple[str, str, str], str] = {
    (one["file"], one["code"], change): one["why"]
    for one in tomllib.loads((ROOT / "tests/bench/harmless.toml").read_text(encoding="utf-8"))["line"]
    for change in one["changes"]
}
"""Survivors that were judged: (file, line of code, change) and why it changes nothing that matters."""

_LIMIT = re.compile(r"(?<![<>=!])(<=?|>=?) [^<>]*(_MM|_DEG|SHARE|_DOUBT|_REFUSAL|SHRUNK|\d\.\d+|\de-\d+)\b")
"""A measured number held against a tolerance: equality or not matters only where it is that to the last bit."""

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
    """One change: file, which of its places, line, what was there, what stands there now, the file with it."""

    file: Path
    at: int
    line: int
    before: str
    after: str
    tree: ast.Module

    @property
    def change(self) -> str:
        """The change in words of code."""
        return f"{self.before}  →  {self.after}"


def _harmless_by_kind(mutant: Mutant, code: str) -> str:
    """A reason, where a change of this kind to a line of code changes nothing that anybody could observe; else ""."""
    if mutant.before == "True" and "strict=True" in code and code.count("True") == 1:
        return "only guards that lengths agree, which they do"
    if re.fullmatch(r"\d\.?\d*e-(0[6-9]|1\d)", mutant.before):
        return "slack for rounding, a tenth more of it"
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
    return Mutant(path, at, node.lineno, before, ast.unparse(node), ast.fix_missing_locations(tree))


def noting(path: Path, numbers: dict[int, list[int]]) -> ast.Module:
    """The file as it is, but that it notes the numbers of a place each time it is reached; `mutant_runs.py` counts."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    places = {id(node): numbers[at] for at, node in enumerate(_changeable(tree)) if at in numbers}

    class Noting(ast.NodeTransformer):
        def visit(self, node: ast.AST) -> ast.AST:
            """Before what is there."""
            here = places.get(id(node), ())
            self.generic_visit(node)
            if not here:
                return node
            calls = [ast.Call(ast.Name(NOTE, ast.Load()), [ast.Constant(one)], []) for one in here]
            if isinstance(node, ast.If | ast.While):
                node.test = ast.BoolOp(ast.Or(), [*calls, node.test])
                return node
            return ast.copy_location(ast.BoolOp(ast.Or(), [*calls, node]), node)

    return ast.fix_missing_locations(Noting().visit(tree))


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
    for name in ("nest", "geometry", "tests", "demo_data", "notebooks"):
        shutil.copytree(ROOT / name, to / name, copy_function=shutil.copy2)
    for name in ("pyproject.toml", "README.md"):
        shutil.copy2(ROOT / name, to / name)
    for pattern in SOURCES:
        was, now = (_CacheLocator.get_suitable_cache_subpath(str(root / pattern)) for root in (ROOT, to))
        for kept in (to / "geometry" / "__pycache__").glob(f"loops-*/{was}"):
            kept.rename(kept.parent / now)  # numba looks for them by the place of their sources


def passed_anew(tree: Path, mutant: Mutant, tests: list[str]) -> bool:
    """Whether the tests pass with the mutant written into the copy, all imported anew; the file is put back."""
    def work() -> int:
        silenced()
        os.chdir(tree)
        sys.path.insert(0, str(tree))
        sys.dont_write_bytecode = True
        return int(pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", *tests]))

    place = tree / mutant.file.relative_to(ROOT)
    was, times = place.read_bytes(), place.stat()
    place.write_text(ast.unparse(mutant.tree), encoding="utf-8")
    try:
        return forked(work, 600.0)[0] == 0
    finally:
        place.write_bytes(was)
        os.utime(place, ns=(times.st_atime_ns, times.st_mtime_ns))  # loops compiled for it stay good


def tried(
    tree: Path, room: str, mutants: list[Mutant], tests: tuple[str, ...], at_once: int, most_s: float
) -> Counter:
    """Run the mutants of a room; survivors are printed as they come."""
    names = [str(tree / one.file.relative_to(ROOT)) for one in mutants]
    given: list[Given] = []
    places: dict[Path, dict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
    for number, (name, one) in enumerate(zip(names, mutants, strict=True)):
        old = compile(one.file.read_text(encoding="utf-8"), name, "exec")
        given.append(Given(name, changed_functions(old, compile(one.tree, name, "exec"))))
        if given[-1].pairs is not None:
            places[one.file][one.at].append(number)
    noted = []
    for file, numbers in places.items():
        name = str(tree / file.relative_to(ROOT))
        old = compile(file.read_text(encoding="utf-8"), name, "exec")
        noted += changed_functions(old, compile(noting(file, numbers), name, "exec"))
    counts: Counter[str] = Counter()
    outside = []
    for result in run_room(tree, tests, given, noted, at_once, most_s):
        if "failed" in result:
            print(f"{room}: fails as it is: {result['failed']}", flush=True)
            counts["failed"] += 1
        elif "usual" in result:
            print(f"{room}: {len(mutants)} mutants; {result['tests']} tests take {result['usual']:.0f} s", flush=True)
        elif result.get("outside"):
            outside.append(result)
        else:
            survived = result["survived"] or result["unloaded"]
            counts[_told(mutants[result["number"]], result) if survived else "noticed"] += 1
    every = [f"tests/nest/{name}" for name in tests if (tree / "tests/nest" / name).exists()]
    for result in outside:  # when nothing else runs in the tree: they are written into it
        mutant = mutants[result["number"]]
        survived = passed_anew(tree, mutant, [*result["near"], *every])
        counts[_told(mutant, result) if survived else "noticed"] += 1
    return counts


def _told(mutant: Mutant, result: dict) -> str:
    """Print a survivor, and say whether it is a gap or harmless."""
    name = mutant.file.relative_to(ROOT).as_posix()
    line = mutant.file.read_text(encoding="utf-8").splitlines()[mutant.line - 1].strip()
    reason = HARMLESS.get((name, line, mutant.change)) or _harmless_by_kind(mutant, line)
    where = "outside of functions"
    if "tests" in result:
        where = f"{result['reach']} tests reach it, {result['tests']} of them tried, {result['took']:.0f} s"
    print(f"  {name}:{mutant.line}: {line}\n      {mutant.change}\n      {reason or where}", flush=True)
    return "harmless" if reason else "survived"


def main() -> int:
    """Run mutants of the rooms asked for, drawn by the seed, and list the survivors."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rooms", nargs="+", choices=ROOMS, default=list(ROOMS))
    parser.add_argument("--count", type=int, default=10, help="mutants of each room; default %(default)s")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--file", default="", help="of files with this in their name alone")
    parser.add_argument("--at-once", type=int, default=1, help="mutants tried at a time; default %(default)s")
    parser.add_argument("--most", type=float, default=math.inf, help="seconds of tests by which a mutant is tried, "
                        "the quickest first: those left out may notice it, so the share is at least what is said")
    parser.add_argument("--examples", type=int, help="drawn by a test of hypothesis that states no number; default 100")
    parser.add_argument("--tests", nargs="+", help="in tests/nest, in place of all that hold the room")
    arguments = parser.parse_args()
    if arguments.examples:
        drawn = import_module("hypothesis").settings
        drawn.register_profile("few", drawn(), max_examples=arguments.examples)
        drawn.load_profile("few")  # tests/conftest.py builds on it
    counts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        copied(tree)
        for room in arguments.rooms:
            everything = [
                one for path in sorted((ROOT / "nest" / room).glob("*.py"))
                if arguments.file in path.name and not path.name.startswith("_") for one in places_of(path)
            ]
            chosen = random.Random(f"{arguments.seed} {room}").sample(everything, min(arguments.count, len(everything)))
            mutants = [mutant_at(*place) for place in chosen]
            counts += tried(tree, room, mutants, tuple(arguments.tests or ROOMS[room]), arguments.at_once,
                            arguments.most)
    share = counts["noticed"] / max(1, counts["noticed"] + counts["survived"])
    print(f"{sum(counts.values())} mutants: {counts['noticed']} noticed, {counts['survived']} survived, "
          f"{counts['harmless']} change nothing: {share:.0%}")
    return 0 if share >= 0.9 and not counts["failed"] else 1


if __name__ == "__main__":
    sys.exit(main())
