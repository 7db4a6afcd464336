"""A fixed table: camera and marks solved once, kept in a file, and used for every later photograph.

The file holds the answer and how sure it is. A later photograph solves for its own place of the camera, with all of
that as known before; the focal length may change a little, as it does when a camera focuses.
"""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nest.atomic import atomic_path
from nest.digitise.camera import Lens
from nest.digitise.marks import SeenMark, each_once, find_marks
from nest.digitise.marksheet import CROSS
from nest.digitise.picture import Photograph
from nest.digitise.scene import EDGE_ERROR_PIXELS, Frame, Scene, measured_mark, refuse_blur
from nest.digitise.solve import LENS, SCALE, SHARED, TONE, TONE_SPREAD_PIXELS, Known, Layout, edges_observed, solve
from nest.digitise.start import corners_at, view_by_points
from nest.digitise.vision import PhotographProblem, opencv
from nest.limits import LARGEST_FILE_BYTES, MOST_DRAWING_VALUES
from nest.plainfile import NotPlain, parsed_json, read_plain

FORMAT = "vampyield digitising table"
FOCUS_SPREAD = 0.002
"""Standard deviation of the focal length from one photograph to the next, as a share: cameras breathe as they focus."""

LEAST_MARKS = 3
MOVED_PIXELS = 2.0
"""A mark missed by more lies elsewhere than when the table was solved."""


@dataclass(frozen=True, slots=True, eq=False)
class FixedTable:
    """What is kept of a solved table.

    values : lens, tone, scale (SHARED of them), then x, y, angle of each mark.
    spread : (n, n), makes of unit noise the doubt about them.
    """

    numbers: tuple[int, ...]
    width: int
    height: int
    side_mm: float
    values: np.ndarray
    spread: np.ndarray
    frame: Frame


def fixed_table(scene: Scene) -> FixedTable:
    """What to keep of a solved scene: all but where the camera was."""
    solution = scene.solution
    layout = solution.layout
    kept = [*range(SHARED), *range(SHARED + 6 * layout.photographs, layout.unknowns)]
    axes, level, _ = np.linalg.svd(solution.spread[kept], full_matrices=False)
    return FixedTable(
        layout.numbers, layout.width, layout.height, layout.side_mm, solution.values[kept], axes * level, scene.frame
    )


def write_table(table: FixedTable, path: str | Path) -> None:
    """Write the table as JSON, atomically."""
    data = {
        "format": FORMAT,
        "version": 1,
        "unit": "mm",
        "picture": [table.width, table.height],
        "side": table.side_mm,
        "frame": [table.frame.turn_deg, *table.frame.shift],
        "marks": list(table.numbers),
        "values": table.values.tolist(),
        "spread": table.spread.tolist(),
    }
    with atomic_path(path) as part:
        part.write_text(json.dumps(data, separators=(",", ":")) + "\n", encoding="utf-8", newline="\n")


def read_table(path: str | Path) -> FixedTable:
    """Read what `write_table` wrote.

    Raises
    ------
    PhotographProblem
        If the file is missing or is no such table.
    """
    path = Path(path)
    try:
        data = parsed_json(read_plain(path, LARGEST_FILE_BYTES).decode("utf-8"), MOST_DRAWING_VALUES)
        assert isinstance(data, dict) and data["format"] == FORMAT and data["version"] == 1
        numbers = tuple(int(one) for one in data["marks"])
        values, spread = np.array(data["values"], dtype=np.float64), np.array(data["spread"], dtype=np.float64)
        count = SHARED + 3 * len(numbers)
        assert values.shape == (count,) and spread.shape == (count, count)
        assert (
            np.isfinite(values).all() and np.isfinite(spread).all() and len(set(numbers)) == len(numbers) >= LEAST_MARKS
        )
        turn, x, y = (float(one) for one in data["frame"])
        width, height = (int(one) for one in data["picture"])
        side = float(data["side"])
        assert values[0] > 0.0 and side > 0.0 and np.isfinite((turn, x, y, side)).all()
    except NotPlain as found:
        raise PhotographProblem(f"{path}: the table cannot be read ({found}); correct the path.") from found
    except (ValueError, KeyError, TypeError, AssertionError, RecursionError, OverflowError) as error:
        raise PhotographProblem(
            f"{path}: expected a table that vampyield digitise table wrote, found something else; solve the table anew."
        ) from error
    return FixedTable(numbers, width, height, side, values, spread, Frame(turn, (x, y)))


def place_camera(photograph: Photograph, table: FixedTable) -> Scene:
    """The scene of one later photograph of a fixed table.

    Raises
    ------
    PhotographProblem
        If it is of another size, shows too few of the table's marks, or is blurred.
    """
    if photograph.size != (table.width, table.height):
        raise PhotographProblem(
            f"{photograph.name}: expected {table.width} × {table.height} pixels as the table was photographed, found "
            f"{photograph.size[0]} × {photograph.size[1]}; use the same camera, held the same way."
        )
    seen, said = each_once([one for one in find_marks(photograph) if one.number in table.numbers])
    seen, moved, pose = _still(photograph, table, seen)
    index = [table.numbers.index(one.number) for one in seen]
    columns = [*range(SHARED), *(SHARED + 3 * i + k for i in index for k in range(3))]
    layout = Layout(tuple(one.number for one in seen), table.width, table.height, table.side_mm, 1, CROSS)
    own = table.values[columns]
    values = np.concatenate((own[:SHARED], pose, own[SHARED:]))
    values[TONE] = 0.0
    known = _known(table.spread[columns], own, layout)
    light = photograph.light[:, :, 1]
    for _ in range(2):
        edges = {one.number: measured_mark(light, layout, values, 0, one.number) for one in seen}
        solution = solve(layout, [edges_observed(layout, edges)], values, known, EDGE_ERROR_PIXELS)
        values = solution.values
    blur = float(np.median([one.blur for one in edges.values()]))
    refuse_blur(photograph, solution, 0, blur)
    said += [f"mark {number} has moved since the table was solved and was left out" for number in moved]
    around = table.values[SHARED:].reshape(-1, 3)[:, :2]
    return Scene(solution, table.frame, (tuple(seen),), tuple(moved), (blur,), tuple(said), around)


def _still(photograph: Photograph, table: FixedTable, seen: list[SeenMark]):
    """Marks that lie where they lay, the numbers of those that do not, and the place of the camera."""
    lens = Lens.of(table.values[LENS], table.width, table.height)
    side = table.side_mm * float(table.values[SCALE])
    moved: list[int] = []
    while len(seen) >= LEAST_MARKS:
        view, off = _posed(table, lens, seen, side)
        if view is not None and off.max() <= MOVED_PIXELS:
            pose = np.concatenate((opencv().Rodrigues(view.turn)[0].ravel(), view.shift))
            return seen, sorted(moved), pose
        # The one without which the others fit best has moved.
        rest = [[one for one in seen if one is not left] for left in seen]
        worst = [
            _posed(table, lens, others, side)[1].max() if len(others) >= LEAST_MARKS else np.inf for others in rest
        ]
        if not np.isfinite(worst).any():
            break
        moved.append(seen[int(np.argmin(worst))].number)
        seen = rest[int(np.argmin(worst))]
    raise PhotographProblem(
        f"{photograph.name}: expected at least {LEAST_MARKS} marks where the table has them, found fewer; uncover "
        "them, or solve the table anew if they were moved."
    )


def _posed(table: FixedTable, lens: Lens, seen: list[SeenMark], side: float):
    """The place of the camera by these marks, and by how many pixels each is missed; infinite if there is none."""
    points = np.concatenate([_corners(table, one.number, side) for one in seen])
    pixels = np.concatenate([one.corners for one in seen])
    view = view_by_points(lens, points, pixels)
    if view is None:
        return None, np.full(len(seen), np.inf)
    return view, np.hypot(*(view.see(points) - pixels).T).reshape(-1, 4).mean(axis=1)


def _corners(table: FixedTable, number: int, side: float) -> np.ndarray:
    at = SHARED + 3 * table.numbers.index(number)
    return corners_at(table.values[at : at + 3], side)


def _known(spread: np.ndarray, mean: np.ndarray, layout: Layout) -> Known:
    """What the table tells beforehand of a photograph's unknowns; nothing of where the camera is."""
    breath, tone = np.zeros((len(mean), 1)), np.zeros((len(mean), 1))
    breath[0], tone[TONE] = FOCUS_SPREAD * mean[0], TONE_SPREAD_PIXELS
    size = np.sqrt((np.hstack((spread, breath, tone)) ** 2).sum(axis=1))
    axes, level, _ = np.linalg.svd(np.hstack((spread, breath, tone)) / size[:, None], full_matrices=False)
    root = (axes / np.maximum(level, 1e-7 * level[0])).T / size
    full = np.zeros((len(root), layout.unknowns))
    full[:, :SHARED], full[:, SHARED + 6 :] = root[:, :SHARED], root[:, SHARED:]
    return Known(np.concatenate((mean[:SHARED], np.zeros(6), mean[SHARED:])), full)
