"""Photographs of hides, several at once: each becomes a drawing, a check picture and a row, or one sentence."""

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

from geometry.precision import GeometryError
from nest.atomic import atomic_path
from nest.digitise.checkpicture import hide_picture, write_backdrop, write_picture
from nest.digitise.drawn import DrawnHide, draw_hide
from nest.digitise.hide import FoundHide, find_hide, pages_of
from nest.digitise.meanings import Meaning
from nest.digitise.picture import Photograph, read_photograph
from nest.digitise.scene import Scene, solve_scene
from nest.digitise.solve import Distance
from nest.digitise.strokes import find_strokes
from nest.digitise.table import place_camera, read_table
from nest.digitise.vision import PhotographProblem, opencv
from nest.digitise.write import write_hide_drawing
from nest.errors import InputProblems
from nest.job.backdrop import backdrop_path
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.hide_drawing import read_hide_shape
from nest.job.schema import LayersSection

AREA_DOUBT = 0.02
"""An area that leaves the tannery's measure by more is warned of."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of each photograph; the same for all.

    table : file of a fixed table; None where each photograph is solved by itself.
    background : photograph of the empty table, with the same marks in the same places.
    rest, stretch_deg : a zone for all ground without strokes, and the stretch of zones without an arrow.
    """

    side_mm: float
    distances: tuple[Distance, ...] = ()
    table: Path | None = None
    background: Path | None = None
    thickness_mm: float = 0.0
    meanings: tuple[Meaning, ...] = ()
    rest: str | None = None
    stretch_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Digitised:
    """What became of one photograph: figures and sentences, or the sentence that refuses it."""

    photograph: str
    drawing: Path
    area_mm2: float = 0.0
    area_within_mm2: float = 0.0
    within_mm: float = 0.0
    zones: int = 0
    flaws: int = 0
    holes: int = 0
    marks: int = 0
    tilt_deg: float = 0.0
    said: tuple[str, ...] = ()
    refused: str = ""


def digitise_all(
    jobs: Sequence[tuple[Path, Path, Path, float | None]], asked: Asked, workers: int = 1
) -> list[Digitised]:
    """Photographs side by side; one that is refused does not stop the others.

    `jobs`: (photograph, drawing to write, check picture to write, area by the tannery in mm² or None).
    """
    opencv()
    if workers <= 1 or len(jobs) == 1:
        return [_tried(*job, asked) for job in jobs]
    found: list[Digitised] = []
    with ProcessPoolExecutor(min(workers, len(jobs)), mp_context=get_context("spawn")) as pool:
        waiting = [pool.submit(_tried, *job, asked) for job in jobs]
        for job, one in zip(jobs, waiting, strict=True):
            try:
                found.append(one.result())
            except BrokenProcessPool:
                sentence = f"{job[0].name}: the work on it was ended from outside; try it alone."
                found.append(Digitised(job[0].name, job[1], refused=sentence))
    return found


def _tried(path: Path, drawing: Path, picture: Path, measured: float | None, asked: Asked) -> Digitised:
    try:
        return digitise(path, drawing, picture, measured, asked)
    except (PhotographProblem, InputProblems, GeometryError) as error:
        return Digitised(path.name, drawing, refused=str(error))


def digitise(path: Path, drawing: Path, picture: Path, measured: float | None, asked: Asked) -> Digitised:
    """One photograph: solved, found, drawn, read back as a job would, and only then in place.

    Raises
    ------
    PhotographProblem
        If the photograph cannot be used; nothing is written then.
    """
    opencv().setNumThreads(1)
    photograph = read_photograph(path)
    scene = scene_of(photograph, asked)
    empty = empty_view = None
    if asked.background is not None:
        empty = read_photograph(asked.background)
        if asked.table is None:
            raise PhotographProblem("A photograph of the empty table needs --table: both must show the same marks.")
        empty_view = scene_of(empty, asked).view()
    found = find_hide(photograph, scene, asked.thickness_mm, empty, empty_view)
    strokes, heard = find_strokes(
        photograph.light, found.view, found.outline, pages_of(scene), asked.meanings, asked.thickness_mm,
        photograph.name,
    )
    hide, left = draw_hide(
        found.outline, strokes, photograph.name, found.doubt.within_mm, asked.rest, asked.stretch_deg
    )
    said = [*found.said, *heard, *left]
    if measured is not None and abs(found.outline.area / measured - 1.0) > AREA_DOUBT:
        said.append(
            f"the area is {found.outline.area / 1e4:.1f} dm² here and {measured / 1e4:.1f} dm² by the tannery, "
            f"{found.outline.area / measured - 1.0:+.1%}; look at the check picture"
        )
    _write(photograph, scene, found, hide, drawing, picture, asked.thickness_mm)
    return Digitised(
        photograph.name, drawing, found.outline.area, found.doubt.area_mm2, found.doubt.within_mm, len(hide.zones),
        len(hide.flaws), len(found.outline.interiors), len(scene.seen[0]), found.view.tilt_deg, tuple(said),
    )


def scene_of(photograph: Photograph, asked: Asked) -> Scene:
    """The solved scene of one photograph, by the fixed table if there is one.

    Raises
    ------
    PhotographProblem
        If the photograph cannot be used, or distances are given beside a table, which has its own.
    """
    if asked.table is not None:
        if asked.distances:
            raise PhotographProblem(
                f"{photograph.name}: a fixed table has its own distances; leave out --distance, or solve the table "
                "anew with it."
            )
        return place_camera(photograph, read_table(asked.table))
    return solve_scene([photograph], asked.side_mm, asked.distances)


def _write(
    photograph: Photograph, scene: Scene, found: FoundHide, hide: DrawnHide, drawing: Path, picture: Path, height: float
) -> None:
    title = f"{photograph.name}  {found.outline.area / 1e4:.1f} dm2  outline within {found.doubt.within_mm:.1f} mm"
    marks = zip(scene.solution.layout.numbers, scene.places().tolist(), strict=True)
    drawn = hide_picture(
        photograph, found.view, found.outline, hide.zones, hide.flaws, marks, height=height, title=title)
    findings = Findings()
    with atomic_path(drawing) as part:
        write_hide_drawing(_readable(hide), part)
        if read_hide_shape(Source(part, drawing.name), LayersSection(), None, findings) is None:
            raise PhotographProblem(f"{photograph.name}: the drawing cannot be used: {findings.problems[0]}")
    write_backdrop(photograph, found.view, found.outline, height, backdrop_path(drawing))
    write_picture(drawn, picture)


def _readable(hide: DrawnHide) -> DrawnHide:
    """The drawing with a name that cannot be misread in it."""
    name = " ".join(hide.photograph.split())
    return replace(hide, photograph=name)


__all__ = ["AREA_DOUBT", "Asked", "Digitised", "digitise", "digitise_all", "scene_of"]
