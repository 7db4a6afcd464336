"""What a solved table is worth, as figures and in words."""

import numpy as np
import shapely

from nest.digitise.outline import REACHES_MM
from nest.digitise.raster import grid_over
from nest.digitise.refine import without_rigid
from nest.digitise.scene import ADVISED_MARKS, Scene

_STEP_MM = 150.0


def table_figures(scene: Scene) -> dict:
    """Camera, residuals and expected error over the ground between the marks, as plain data."""
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
        "tapes_mm": [round(float(one), 2) for one in solution.distance_residuals],
        "mm_per_pixel": round(view.mm_per_pixel(points.mean(axis=0)), 3),
        "tilt_deg": round(view.tilt_deg, 1),
        "print_scale": round(float(solution.values[6]), 5),
        "scale_within": round(1.96 * float(spread[6]), 5),
        "error_mm_mean": round(float(error.mean()), 3),
        "error_mm_most": round(float(error.max()), 3),
        "said": list(scene.said),
    }


def told(figures: dict, taped: bool) -> list[str]:
    """The same in sentences."""
    lines = [
        f"{len(figures['marks'])} marks in {figures['photographs']} photograph{'s' * (figures['photographs'] > 1)}; "
        f"camera tilted {figures['tilt_deg']:g}°, {figures['mm_per_pixel']:g} mm a pixel.",
        f"Focal length {figures['focal_pixels']:g} ± {figures['focal_within']:g} pixels, distortion "
        f"k1 {figures['k1']:g}, k2 {figures['k2']:g}; residual {figures['residual_pixels']:g} pixels; blur "
        f"{max(figures['blur_pixels']):g} pixels.",
        f"Expected error over the ground between the marks (one standard deviation): {figures['error_mm_mean']:.2f} mm "
        f"on the mean, {figures['error_mm_most']:.2f} mm at most.",
    ]
    if not taped:
        lines.append(
            "No distance was measured: the scale rests on the printer. Measure one from cross to cross (--distance)."
        )
    if len(figures["marks"]) < ADVISED_MARKS:
        lines.append(f"{ADVISED_MARKS} marks or more are better: the lens is known only as well as these few show it.")
    return [*lines, *(f"Note: {one}." for one in figures["said"])]
