"""One photograph of a hide, from pixels to an outline with its uncertainty."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from nest.digitise.camera import View
from nest.digitise.edges import sampled
from nest.digitise.outline import (
    LEAST_HOLE_MM,
    REACHES_MM,
    STEP_MM,
    BeyondMarks,
    LeatherOnGrid,
    find_leather,
    is_table,
    rings_of_mask,
    sheet_corners,
)
from nest.digitise.picture import Photograph
from nest.digitise.raster import grid_over, straightened
from nest.digitise.refine import Doubt, doubt_about, measure_ring, most_soft, outline_polygon, refuse_doubt
from nest.digitise.scene import Scene


def pages_of(scene: Scene) -> list[np.ndarray]:
    """Corners of the mark sheets' pages, in the frame of drawings."""
    turns = scene.solution.layout.places(scene.solution.values)[:, 2] + np.radians(scene.frame.turn_deg)
    return sheet_corners(scene.places(), turns, scene.solution.layout.side_mm)


@dataclass(frozen=True, slots=True, eq=False)
class FoundHide:
    """What a photograph shows of a hide; mm in the scene's frame.

    photograph : the file's name.
    view : where the camera was.
    ground : leather and table on a coarse grid.
    said : what the user must know.
    """

    photograph: str
    outline: Polygon
    doubt: Doubt
    view: View
    ground: LeatherOnGrid
    said: tuple[str, ...]


def find_hide(
    photograph: Photograph, scene: Scene, thickness_mm: float = 0.0, empty: Photograph | None = None,
    empty_view: View | None = None, number: int = 0,
) -> FoundHide:
    """Find the outline of the hide in a photograph of a solved scene.

    Raises
    ------
    PhotographProblem
        If the leather is not found beyond doubt.
    """
    view = scene.view(number)

    def ground_within(reach_mm: float) -> LeatherOnGrid:
        reach = scene.hull().buffer(reach_mm)
        grid = grid_over(reach.buffer(4.0 * STEP_MM).bounds, STEP_MM)
        picture, shown = straightened(photograph.light, view, grid, thickness_mm)
        other = None if empty is None else straightened(empty.light, empty_view or view, grid, thickness_mm)[0]
        return find_leather(
            picture, shown, grid, pages_of(scene), reach, photograph.name, where=scene.where, empty=other)

    try:
        ground = ground_within(REACHES_MM[0])
    except BeyondMarks:
        ground = ground_within(REACHES_MM[1])
    grid = ground.grid
    outer, holes = rings_of_mask(ground.leather, grid, LEAST_HOLE_MM)
    table = None
    if empty is not None:

        def table(pixels: np.ndarray) -> np.ndarray:
            return sampled(empty.light, (empty_view or view).see(view.on_plane(pixels)))

    edge = measure_ring(photograph.light, view, outer, thickness_mm, table=table)
    refuse_doubt(edge, photograph.name, scene.where)
    gaps = [measure_ring(photograph.light, view, ring, thickness_mm, hole=True, table=table) for ring in holes]
    # Glare may have the table's colour, but ends softly.
    inner = [
        gap for gap, ring in zip(gaps, holes, strict=True)
        if is_table(ground, ring) and gap.soft_mm < most_soft(edge.soft_mm)
    ]
    outline = outline_polygon(edge, inner, photograph.name)
    pixels = np.concatenate([one.pixels for one in (edge, *inner)])
    pixel_mm = view.mm_per_pixel(np.mean(edge.points, axis=0))
    points = np.concatenate([one.points for one in (edge, *inner)])
    beyond = shapely.distance(scene.hull(), shapely.points(points))
    doubt = doubt_about([edge, *inner], scene.doubt_of(pixels, thickness_mm, number), pixel_mm, beyond)
    said = [*scene.said, *ground.said]
    if beyond.max() > REACHES_MM[0]:
        x, y = points[np.argmax(beyond)]
        said.append(
            f"the leather reaches {beyond.max():.0f} mm beyond the marks near {scene.where(x, y)}, where the lens is "
            "less known: lay marks further out for a smaller ±"
        )
    for gap in gaps:
        if gap in inner:
            continue
        x, y = gap.points.mean(axis=0)
        said.append(
            f"a patch near {scene.where(x, y)}, is neither leather nor table (glare, chalk?); no hole was drawn"
        )
    for length, (x, y) in edge.odd:
        said.append(f"the light changes over {length:.0f} mm of the edge near {scene.where(x, y)}; look there")
    for length, (x, y) in edge.faint:
        said.append(
            f"the table beside the edge is lighter or darker over {length:.0f} mm near {scene.where(x, y)}; "
            "look there for something of nearly its colour, or a shadow"
        )
    for length, (x, y) in edge.doubt:
        said.append(f"the edge is not clear over {length:.0f} mm near {scene.where(x, y)}, and was bridged")
    return FoundHide(photograph.name, outline, doubt, view, ground, tuple(said))
