"""What a run has placed is kept on disk as it goes, so that one that was killed goes on where it was.

Every layout the engine finds is kept in a folder beside the results, in a file named by a digest of the question: the
problem, the seed and the passes. A later run that asks the same gets the same answer at once, and what changed in the
meantime is placed anew. With a limit on passes the engine is deterministic, so that the plan is the very one an
undisturbed run makes. Files appear whole or not at all (`nest.atomic`); what cannot be read is placed again, and a
folder that cannot be written costs the memory, not the run.

The folder is known by a file in it. One of that name that somebody else made, a file or a link is left alone, and of
the program's own only files it wrote itself are ever removed.
"""

import hashlib
import json
import math
import os
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from geometry.pose import Pose
from nest.atomic import atomic_path
from nest.errors import PlanProblem
from nest.placement.budget import Budget
from nest.placement.problem import Item, Layout, RegionProblem, StripProblem
from nest.placement.solve import warm_up
from nest.planning.run import Engine

_VERSION = 7
"""Changes with the files' form, and with what the engine answers."""

MARKER = "kept-layouts.txt"
"""The file by which the program knows a folder for its own."""

_MARKED = "Layouts of a run that has not come to its end. They are removed once its results are written.\n"
_SUFFIX = ".layouts.json"
_OURS = re.compile(rf"{re.escape(MARKER)}|[0-9a-f]{{64}}{re.escape(_SUFFIX)}|\..{{1,50}}\.[0-9a-f]{{8}}\.part\.json")
"""Names of files that are written here, half-written ones too."""

_PROBES = 5


def unfinished_folder(out: Path) -> Path:
    """Where a run that writes to `out` keeps what it has placed."""
    if out.name in ("", ".."):
        out = Path(os.path.abspath(out))
    return out.with_name(f"{out.name}.unfinished")


def why_left_alone(folder: Path) -> str:
    """Why nothing can be kept in this folder, in words that follow its name; "" where it is free or the program's."""
    # The functions of os.path take a name that the disk does not allow for one that is not there.
    if os.path.islink(folder):
        return "is a link"
    if not os.path.lexists(folder):
        return ""
    if not folder.is_dir():
        return "is a file"
    try:
        if (folder / MARKER).is_file() or all(_OURS.fullmatch(path.name) for path in folder.iterdir()):
            return ""
    except OSError:
        return "cannot be read"
    return "holds files that no earlier run left there"


def keeper_for(out: Path, engine: Engine | None = None) -> "Keeper":
    """The memory of a run that writes to `out`, by default with the real engine; compiled."""
    warm_up()
    return Keeper(unfinished_folder(out), engine or Engine.fresh())


@dataclass(slots=True)
class Keeper:
    """Keeps what `engine` finds in `folder`; counts what was `reused` from an earlier run."""

    folder: Path
    engine: Engine
    reused: int = 0

    def keeping(self) -> Engine:
        """The engine, with this memory."""

        def region(problem: RegionProblem, budget: Budget, *, seed: int, **more) -> tuple[Layout, ...]:
            solve = self.engine.solve_region
            return self._answer(problem, budget, seed, lambda: solve(problem, budget, seed=seed, **more))

        def strip(problem: StripProblem, budget: Budget, *, seed: int, **more) -> Layout:
            solve = self.engine.solve_strip
            return self._answer(problem, budget, seed, lambda: (solve(problem, budget, seed=seed, **more),))[0]

        return replace(self.engine, solve_region=region, solve_strip=strip)

    @property
    def left_alone(self) -> str:
        """A sentence for the user where nothing can be kept, "" where it can."""
        why = why_left_alone(self.folder)
        return why and f"{self.folder} {why}: it is left alone, and a run that is killed would begin again."

    def forget(self) -> None:
        """Remove what is kept, the results being in their place; and the folder, unless somebody else put a file in."""
        with suppress(OSError):
            if not why_left_alone(self.folder):
                for path in self.folder.iterdir():
                    if _OURS.fullmatch(path.name):
                        path.unlink()
                self.folder.rmdir()

    def _answer(
        self, problem, budget: Budget, seed: int, solve: Callable[[], tuple[Layout, ...]]
    ) -> tuple[Layout, ...]:
        path = self.folder / f"{digest(problem, seed, budget.passes)}{_SUFFIX}"
        kept = None if why_left_alone(self.folder) else read_layouts(path, len(problem.kinds))
        if kept is not None:
            self.reused += 1
            return kept
        layouts = solve()
        # What was cut off by the user is no answer to the question.
        if not budget.cancelled():
            with suppress(OSError, PlanProblem):
                self._make_folder()
                write_layouts(path, layouts)
        return layouts

    def _make_folder(self) -> None:
        """Make the folder and mark it, where that is not done; PlanProblem where it is somebody else's."""
        if why := why_left_alone(self.folder):
            raise PlanProblem(f"{self.folder} {why}")
        self.folder.mkdir(parents=True, exist_ok=True)
        if not (self.folder / MARKER).exists():
            (self.folder / MARKER).write_text(_MARKED, encoding="utf-8")


def write_layouts(path: Path, layouts: Iterable[Layout]) -> None:
    """Write layouts to `path`, whole or not at all."""
    data = [
        {"length_mm": layout.length_mm,
         "items": [[item.kind, item.pose.x, item.pose.y, item.pose.heading_deg] for item in layout.items]}
        for layout in layouts
    ]
    with atomic_path(path) as part:
        part.write_text(json.dumps({"version": _VERSION, "layouts": data}), encoding="utf-8")


def read_layouts(path: Path, kinds: int) -> tuple[Layout, ...] | None:
    """The layouts in the file, of this many kinds; None if there are none that can be used."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["version"] != _VERSION:
            return None
        layouts = tuple(
            Layout(tuple(_item(row, kinds) for row in one["items"]), _finite(one["length_mm"]))
            for one in data["layouts"]
        )
        return layouts or None
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _item(row, kinds: int) -> Item:
    kind, x, y, heading = row
    if type(kind) is not int or not 0 <= kind < kinds:
        raise ValueError("no such kind")
    return Item(kind, Pose(*map(_finite, (x, y, heading))))


def _finite(value) -> float:
    if type(value) not in (int, float) or not math.isfinite(value):
        raise ValueError("no number")
    return float(value)


def digest(problem: RegionProblem | StripProblem, seed: int, passes: int | None) -> str:
    """Changes with anything that may change the engine's answer, but for the time it has."""
    found = hashlib.sha256(f"{type(problem).__name__} {_VERSION} {seed} {passes}".encode())
    for part in _parts(problem):
        found.update(len(part).to_bytes(8, "little"))
        found.update(part)
    return found.hexdigest()


def _parts(problem: RegionProblem | StripProblem) -> Iterator[bytes]:
    yield repr(problem.gap_mm).encode()
    for kind in problem.kinds:
        yield repr((kind.name, kind.headings_deg, kind.limit, kind.family, kind.side, kind.worth)).encode()
        yield np.ascontiguousarray(kind.outline, dtype=np.float64).tobytes()
        yield np.ascontiguousarray(kind.core, dtype=np.float64).tobytes()
    if isinstance(problem, StripProblem):
        yield repr(problem.width_mm).encode()
        return
    yield repr(problem.begin_from).encode()
    known: dict[int, bytes] = {}
    for k, ground in enumerate(problem.grounds):
        if id(ground) not in known:
            known[id(ground)] = b"".join(shapely.to_wkb([ground.outline, *ground.core, *ground.better]))
        yield known[id(ground)]
        if problem.level is not None:
            # Classes of ground are a function: it is asked at a grid of places.
            x0, y0, x1, y1 = ground.outline.bounds if not ground.outline.is_empty else (0.0, 0.0, 1.0, 1.0)
            heading = problem.kinds[k].headings_deg[0]
            spots = [(x, y) for x in np.linspace(x0, x1, _PROBES) for y in np.linspace(y0, y1, _PROBES)]
            yield repr([problem.level(k, Pose(float(x), float(y), heading)) for x, y in spots]).encode()
