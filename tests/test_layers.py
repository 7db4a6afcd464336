"""Imports run downwards only, every outside library has its place, and the top of the project holds what was agreed."""

import ast
import fnmatch
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

_READS_PLANS = {
    "geometry", "nest.errors", "nest.units", "nest.pieces", "nest.stock", "nest.rules", "nest.job", "nest.plan",
    "nest.urgency",
}
_READS_BEGUN = _READS_PLANS | {"nest.begun"}
MAY_IMPORT = {
    "geometry": set(),
    "nest.clock": set(),
    "nest.limits": set(),
    "nest.text": set(),
    "nest.plainfile": set(),
    "nest.errors": {"nest.limits", "nest.text"},
    "nest.guide": set(),
    "nest.units": set(),
    "nest.statistics": set(),
    "nest.rules": set(),
    "nest.urgency": set(),
    "nest.atomic": {"nest.errors"},
    "nest.newjob": {"nest.errors", "nest.atomic"},
    "nest.pieces": {"geometry", "nest.errors", "nest.units", "nest.rules"},
    "nest.stock": {"geometry", "nest.errors", "nest.units", "nest.rules"},
    "nest.job": {
        "geometry", "nest.errors", "nest.limits", "nest.plainfile", "nest.text", "nest.units", "nest.pieces",
        "nest.stock", "nest.rules",
    },
    "nest.stretch": {"nest.errors", "nest.job", "nest.atomic", "nest.newjob", "nest.statistics"},
    "nest.plan": {"geometry", "nest.pieces", "nest.stock", "nest.rules", "nest.job"},
    "nest.asjson": {
        "geometry", "nest.errors", "nest.limits", "nest.plainfile", "nest.text", "nest.units", "nest.pieces",
        "nest.job",
    },
    "nest.planfile": {"nest.errors", "nest.limits", "nest.plainfile", "nest.atomic", "nest.plan", "nest.asjson"},
    "nest.cutagain": {"nest.errors", "nest.plan", "nest.planfile"},
    "nest.outcomes": _READS_PLANS,
    "nest.begun": _READS_PLANS | {"nest.outcomes"},
    "nest.perpair": {"geometry", "nest.pieces", "nest.stock", "nest.rules", "nest.job"},
    "nest.placement": {"geometry"},
    "nest.room": _READS_BEGUN,
    "nest.selection": set(),
    "nest.planning": _READS_BEGUN | {"nest.atomic", "nest.placement", "nest.selection", "nest.perpair", "nest.room"},
    "nest.estimate": _READS_BEGUN | {"nest.placement", "nest.planning", "nest.room", "nest.statistics", "nest.perpair"},
    "nest.cluster": {"geometry", "nest.errors", "nest.placement", "nest.planning"},
    "nest.batch": {
        "geometry", "nest.errors", "nest.limits", "nest.plainfile", "nest.atomic", "nest.cluster", "nest.pieces",
        "nest.job", "nest.planning", "nest.verify", "nest.accounts", "nest.output",
    },
    "nest.digitise": {
        "geometry", "nest.errors", "nest.limits", "nest.plainfile", "nest.text", "nest.units", "nest.atomic",
        "nest.pieces", "nest.job",
    },
    "nest.lays": _READS_PLANS | {"nest.estimate", "nest.selection"},
    "nest.verify": {"geometry", "nest.units", "nest.pieces", "nest.stock", "nest.rules", "nest.urgency", "nest.plan"},
    "nest.accounts": _READS_BEGUN | {"nest.perpair", "nest.cutplan"},
    "nest.whatif": _READS_PLANS | {"nest.accounts", "nest.statistics", "nest.teaching"},
    "nest.scenarios": _READS_PLANS | {"nest.accounts", "nest.whatif"},
    "nest.teaching": _READS_PLANS | {"nest.atomic", "nest.outcomes"},
    "nest.trial": _READS_PLANS | {"nest.outcomes", "nest.statistics"},
    "nest.drift": _READS_PLANS | {"nest.outcomes", "nest.teaching", "nest.trial"},
    "nest.cutplan": _READS_PLANS | {
        "nest.atomic", "nest.clock", "nest.limits", "nest.plainfile", "nest.planfile", "nest.text", "nest.sidebyside",
    },
    "nest.edits": _READS_BEGUN | {
        "nest.atomic", "nest.limits", "nest.text", "nest.plainfile", "nest.planfile", "nest.asjson", "nest.placement",
        "nest.planning", "nest.room", "nest.verify", "nest.accounts", "nest.scenarios", "nest.outcomes",
    },
    "nest.desk": _READS_PLANS | {
        "nest.accounts", "nest.begun", "nest.cutplan", "nest.edits", "nest.scenarios", "nest.limits", "nest.plainfile",
        "nest.asjson", "nest.report", "nest.verify", "nest.whatif",
    },
    "nest.registration": _READS_PLANS | {"nest.cutplan"},
    "nest.report": _READS_BEGUN | {
        "nest.outcomes", "nest.teaching", "nest.drift",
        "nest.atomic", "nest.text", "nest.limits", "nest.verify", "nest.accounts", "nest.cutplan", "nest.whatif",
        "nest.scenarios",
    },
    "nest.ledger": _READS_BEGUN | {
        "nest.limits", "nest.text", "nest.plainfile", "nest.clock", "nest.atomic", "nest.asjson", "nest.room",
        "nest.accounts", "nest.estimate", "nest.planning",
    },
    "nest.sheets": _READS_PLANS | {"nest.atomic", "nest.cutplan", "nest.report"},
    "nest.tickets": _READS_PLANS | {"nest.cutplan", "nest.outcomes", "nest.report", "nest.sheets", "nest.text"},
    "nest.timetable": _READS_PLANS | {
        "nest.cutplan", "nest.report", "nest.selection", "nest.sheets", "nest.text", "nest.tickets",
    },
    "nest.sidebyside": {"geometry"},
    "nest.planfiles": _READS_PLANS | {
        "nest.atomic", "nest.verify", "nest.accounts", "nest.cutplan", "nest.report", "nest.sheets", "nest.tickets",
    },
    "nest.output": _READS_PLANS | {
        "nest.atomic", "nest.planfile", "nest.verify", "nest.accounts", "nest.cutplan", "nest.report",
        "nest.planfiles", "nest.sheets", "nest.sidebyside", "nest.tickets",
    },
    "nest.piecefiles": _READS_PLANS | {"nest.atomic", "nest.cutplan", "nest.report", "nest.output"},
    "nest.trialfiles": _READS_PLANS | {"nest.atomic", "nest.report", "nest.piecefiles", "nest.trial"},
}
"""Who may import whom, beside itself. `nest.cli` and the public names in `nest` may import everything."""

PLACES = {
    "cv2": ("nest.digitise.vision",),
    "scipy": ("nest.digitise", "nest.drift", "nest.statistics", "nest.teaching"),
    "ezdxf": ("nest.job.dxf", "nest.job.dxf_entities", "nest.cutplan.dxf", "nest.cutplan.dxfread",
              "nest.digitise.write"),
    "matplotlib": ("nest.report", "nest.digitise.marksheet", "nest.sheets.page"),
    "reportlab": ("nest.sheets.page", "nest.sheets.code"),
    "ortools": ("nest.placement", "nest.selection"),
    "numba": ("geometry", "nest.placement", "nest.cutplan._route"),
    "pydantic": ("nest.job",),
    "pydantic_core": ("nest.job",),
    "openpyxl": ("nest.job.table", "nest.report"),
    "sqlalchemy": ("nest.ledger",),
    "dask": ("nest.cluster",),
    "distributed": ("nest.cluster",),
    "jinja2": ("nest.report.summary",),
    "starlette": ("nest.desk",),
    "uvicorn": ("nest.desk",),
    "typer": ("nest.cli",),
    "rich": ("nest.cli",),
    "numpy": ("geometry", "nest"),
    "shapely": ("geometry", "nest"),
}
"""Outside libraries, and the packages or modules that may import them."""

AGREED = {"README.md", "DEVELOPERS.md", "pyproject.toml", "nest", "geometry", "tests", "demo_data", "notebooks"}
"""What may stand at the top of the project, beside hidden files and what .gitignore names."""


@dataclass(frozen=True)
class Import:
    """One import: in which module, of which, and whether it waits: within a function, or for type checkers only."""

    module: str
    name: str
    local: bool

    def __str__(self) -> str:
        return f"{self.module} imports {self.name}"


def source_files() -> list[Path]:
    """Every Python file of the two packages."""
    return sorted([*(ROOT / "geometry").rglob("*.py"), *(ROOT / "nest").rglob("*.py")])


def module_name(path: Path) -> str:
    """The module in this file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_in(tree: ast.AST, module: str, local: bool = False) -> Iterator[Import]:
    """Every import; those for type checkers only count as local, for they load nothing."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            yield from (Import(module, alias.name, local) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module} has a relative import"
            for alias in node.names:
                # "from nest import verify" imports the package of that name.
                inner = f"{node.module}.{alias.name}" if node.module == "nest" else node.module
                yield Import(module, inner, local)
        within = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        within = within or (isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")
        yield from imports_in(node, module, local or within)


def part_of(name: str) -> str:
    """The part of the project a module belongs to: `geometry`, `nest.x`, or the outside library."""
    parts = name.split(".")
    return ".".join(parts[:2]) if parts[0] == "nest" else parts[0]


def lies_in(module: str, place: str) -> bool:
    """Whether `module` is `place` or lies within it."""
    return module == place or module.startswith(f"{place}.")


@pytest.fixture(scope="module")
def imports() -> list[Import]:
    """Every import of the project."""
    return [
        found for path in source_files()
        for found in imports_in(ast.parse(path.read_text(encoding="utf-8")), module_name(path))
    ]


def test_scan_sees_imports_of_every_kind():
    """The scan itself: plain, from, local and nested imports are found, and those for type checkers."""
    text = (
        "import a.b\nfrom c.d import e\nfrom nest import verify\nif TYPE_CHECKING:\n    import f\n"
        "def g():\n    if True:\n        import h\n"
    )
    found = [(one.name, one.local) for one in imports_in(ast.parse(text), "m")]
    assert found == [("a.b", False), ("c.d", False), ("nest.verify", False), ("f", True), ("h", True)]


def test_imports_run_downwards(imports):
    """Every part imports only what the table allows it, and every part stands in the table."""
    top = {"nest", "nest.cli"}
    wrong = []
    for one in imports:
        mine, other = part_of(one.module), part_of(one.name)
        if other.split(".")[0] not in ("nest", "geometry") or mine in top or mine == other:
            continue
        if other not in MAY_IMPORT.get(mine, set()):
            wrong.append(str(one))
    assert not wrong
    assert {part_of(module_name(path)) for path in source_files()} - top == MAY_IMPORT.keys()


def test_the_table_of_layers_has_no_circle():
    """The layers are layers: no part can import itself by way of others."""
    order = list(TopologicalSorter(MAY_IMPORT).static_order())
    assert order.index("geometry") < order.index("nest.placement") < order.index("nest.planning")
    assert not {"nest.placement", "nest.planning"} & MAY_IMPORT["nest.verify"]


def test_outside_libraries_keep_to_their_places(imports):
    """Each outside library is imported where the table says, and nowhere else; some only within functions."""
    wrong = []
    for one in imports:
        library = one.name.split(".")[0]
        if library in sys.stdlib_module_names or library in ("nest", "geometry"):
            continue
        fits = any(lies_in(one.module, place) for place in PLACES.get(library, ()))
        if not fits or (library in ("matplotlib", "cv2", "scipy") and not one.local):
            wrong.append(str(one))
    assert not wrong


def test_every_library_is_a_declared_dependency(imports):
    """What is imported is what pyproject.toml asks for, no more and no less."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = {line.split(">")[0].strip() for line in project["dependencies"]}
    used = {one.name.split(".")[0] for one in imports} - sys.stdlib_module_names - {"nest", "geometry"}
    optional = {"dask", "distributed", "cv2", "starlette", "uvicorn"}  # extras "cluster", "photo", "desk"
    assert used - {"pydantic_core"} - optional == declared


def test_shapely_functions_are_imported_by_module(imports):
    """`from shapely import geometry` would shadow our own package of that name."""
    wrong = []
    for path in source_files():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module == "shapely":
                wrong += [module_name(path) for alias in node.names if alias.name == "geometry"]
    assert not wrong


def test_import_alone_loads_nothing():
    """`import nest` loads no library; a public name loads what it needs when it is asked for."""
    code = (
        "import sys, nest\n"
        "heavy = {'numpy', 'shapely', 'numba', 'ortools', 'matplotlib', 'pydantic', 'ezdxf', 'typer', 'sqlalchemy'}\n"
        "assert not heavy & sys.modules.keys(), heavy & sys.modules.keys()\n"
        "nest.PlanProblem\n"
        "assert not heavy & sys.modules.keys()\n"
        "nest.read_plan\n"
        "assert 'shapely' in sys.modules and not {'ortools', 'matplotlib'} & sys.modules.keys()\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)


def test_top_of_the_project_is_as_agreed():
    """Nothing stands at the top but what was agreed, hidden files, and what .gitignore names."""
    ignored = [line.strip("/\n") for line in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()]
    found = {
        path.name for path in ROOT.iterdir()
        if not path.name.startswith(".") and not any(fnmatch.fnmatch(path.name, name) for name in ignored)
    }
    assert found <= AGREED
    assert found >= AGREED - {"notebooks"}
