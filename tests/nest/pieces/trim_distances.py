"""The trim allowance that an outline really gives, measured by shapely."""

from dataclasses import dataclass

import numpy as np
import shapely

from geometry.polygon import edge_lengths, polygon
from nest.pieces.piece import Part, Template
from nest.pieces.rough import along_template


@dataclass(frozen=True, slots=True)
class TrimDistance:
    """Distance from the template to an outline around it over one part, mm; the mean is by length of template."""

    least_mm: float
    mean_mm: float
    most_mm: float


def trim_distance_by_part(template: Template, rough: np.ndarray) -> dict[Part, TrimDistance]:
    """Measure the trim allowance that `rough` really gives, for each part the template has."""
    points, parts = along_template(template)
    lengths = edge_lengths(points)
    outline = polygon(rough).exterior
    shapely.prepare(outline)
    from_vertex = shapely.distance(shapely.points(points), outline)
    from_middle = shapely.distance(shapely.points(0.5 * (points + np.roll(points, -1, axis=0))), outline)
    measured = {}
    for part in Part:
        edges = np.array([i for i, other in enumerate(parts) if other is part], dtype=int)
        if len(edges):
            ends = from_vertex[edges], from_middle[edges], from_vertex[(edges + 1) % len(parts)]
            # Simpson's rule over each edge.
            mean = np.average((ends[0] + 4.0 * ends[1] + ends[2]) / 6.0, weights=lengths[edges])
            measured[part] = TrimDistance(float(np.min(ends)), float(mean), float(np.max(ends)))
    return measured
