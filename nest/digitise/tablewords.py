"""What a solved table is worth, as figures and in words."""

from collections.abc import Sequence

import numpy as np
import shapely

from nest.digitise.outline import REACHES_MM
from nest.digitise.raster import grid_over
from nest.digitise.refine import without_rigid
from nest.digitise.scene import ADVISED_MARKS, Scene
from nest.digitise.solve import Distance

_STEP_MM = 150.0
_SIXTHS = (1.0, 3.0, 5.0)
"""Middles of the thirds of a picture, in sixths of its width or height."""


def table_figures(scene: Scene, distances: Sequence[Distance] = (), turns: int = 0) -> dict:
    """Camera, residuals and expected error over the ground between the marks, as plain data.

    distances : those that the scene was solved with.
    turns : quarter turns clockwise that show the first photograph upright.
    """
    solution = scene.solution
    layout = solution.layout
    view = scene.view()
    hull = shapely.convex_hull(shapely.MultiPoint(scene.places())).buffer(0.3 * REACHES_MM[0])
    grid = grid_over(hull.bounds, _STEP_MM)
    columns, rows = np.meshgrid(np.arange(grid.width), np.arange(grid.height))
    points = grid.points(np.column_stack((columns.ravel(), rows.ravel())))
    points = points[shapely.contains_xy(hull, points)]
    moves = without_rigid(scene.doubt_of(view.see(points)), points)
    error = np.sqrt((moves**2).sum(axis=(0, 2)))
    spread = np.sqrt((solution.spread**2).sum(axis=1))
    lens = view.lens
    return {
        "marks": list(layout.numbers),
        "left_out": list(scene.left_out),
        "photographs": layout.photographs,
        "focal_pixels": round(lens.focal, 1),
        "focal_within": round(1.96 * float(spread[0]), 1),
        "k1": round(lens.k1, 5),
        "k2": round(lens.k2, 5),
        "principal_point": [round(lens.cx, 1), round(lens.cy, 1)],
        "residual_pixels": round(solution.rms_pixels, 4),
        "blur_pixels": [round(one, 2) for one in scene.blur_pixels],
        "tapes_mm": [
            round(float(off) * one.spread_mm, 2)
            for off, one in zip(solution.distance_residuals, distances, strict=True)
        ],
        "mm_per_pixel": round(view.mm_per_pixel(points.mean(axis=0)), 3),
        "tilt_deg": round(view.tilt_deg, 1),
        "print_scale": round(float(solution.values[6]), 5),
        "scale_within": round(1.96 * float(spread[6]), 5),
        "error_mm_mean": round(float(error.mean()), 3),
        "error_mm_most": round(float(error.max()), 3),
        "error_mm_across": _across(scene, turns),
        "said": list(scene.said),
    }


def _across(scene: Scene, turns: int) -> list[list[float]]:
    """Expected error in the middle of each ninth of the first photograph, upper row first, as it is shown."""
    lens = scene.view().lens
    pixels = np.array([(x * lens.width / 6.0, y * lens.height / 6.0) for y in _SIXTHS for x in _SIXTHS])
    moves = without_rigid(scene.doubt_of(pixels), scene.view().on_plane(pixels))
    error = np.sqrt((moves**2).sum(axis=(0, 2)))
    return np.round(np.rot90(error.reshape(3, 3), -turns), 2).tolist()


def told(figures: dict) -> list[str]:
    """The same in sentences."""
    lines = [
        f"{len(figures['marks'])} marks in {figures['photographs']} photograph{'s' * (figures['photographs'] > 1)}; "
        f"camera tilted {figures['tilt_deg']:g}°, {figures['mm_per_pixel']:g} mm a pixel.",
        f"Focal length {figures['focal_pixels']:g} ± {figures['focal_within']:g} pixels, distortion "
        f"k1 {figures['k1']:g}, k2 {figures['k2']:g}; residual {figures['residual_pixels']:g} pixels; blur "
        f"{max(figures['blur_pixels']):g} pixels.",
        f"Expected error over the ground between the marks (one standard deviation): {figures['error_mm_mean']:.2f} mm "
        f"on the mean, {figures['error_mm_most']:.2f} mm at most.",
        "Across the picture, mm, from its upper left to its lower right: "
        + "; ".join(", ".join(f"{one:.2f}" for one in row) for row in figures["error_mm_across"])
        + ".",
    ]
    if figures["tapes_mm"]:
        lines.append(f"The distances are met within {max(map(abs, figures['tapes_mm'])):.1f} mm.")
    else:
        lines.append(
            "No distance was measured: the scale rests on the printer. Measure one from cross to cross (--distance)."
        )
    if len(figures["marks"]) < ADVISED_MARKS:
        lines.append(f"{ADVISED_MARKS} marks or more are better: the lens is known only as well as these few show it.")
    return [*lines, *(f"Note: {one}." for one in figures["said"])]
