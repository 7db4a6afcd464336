"""Invented cards, and how far a drawing lies from one."""

from pathlib import Path

import numpy as np
import shapely
from scipy.interpolate import CubicSpline

from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.schema import LayersSection
from nest.job.template import read_template

DEMO = Path(__file__).parents[3] / "demo_data"
HALF = [(120.0, 0.0), (118.0, 20.0), (108.0, 38.0), (90.0, 48.0), (60.0, 52.0), (30.0, 60.0), (5.0, 66.0)]


def vamp() -> np.ndarray:
    """An invented vamp that is its own mirror image: a smooth toe, corners at the wings, a hollow throat."""
    upper = fitted_through(HALF)
    throat = [(20.0, 40.0), (34.0, 18.0), (38.0, 0.0)]
    back = fitted_through([(5.0, 66.0), *throat])
    half = np.concatenate((upper, back[1:]))
    return np.concatenate((half[:-1], half[:0:-1] * (1.0, -1.0)))


def fitted_through(points) -> np.ndarray:
    """A smooth line through points, square to the axis at an end that lies on it."""
    points = np.array(points)
    run = np.concatenate(((0.0,), np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    ends = [
        ((1, (0.0, 1.0)) if points[0][1] == 0 else (2, (0.0, 0.0))),
        ((1, (0.0, -1.0)) if points[-1][1] == 0 else (2, (0.0, 0.0))),
    ]
    return CubicSpline(run, points, bc_type=ends)(np.linspace(0, run[-1], 200))


def bent(ring: np.ndarray, by: float) -> np.ndarray:
    """The ring as for one foot: its upper side fuller, `by` of its width at most; the axis stays."""
    x, y = ring.T
    share = (x - x.min()) / np.ptp(x)
    return np.column_stack((x, np.where(y > 0.0, y * (1.0 + 2.0 * by * np.sin(np.pi * share)), y)))


def demo_card(name: str) -> np.ndarray:
    """Outline of a template of the demo."""
    return np.asarray(read_card(DEMO / f"{name}.dxf").outline)


def read_card(path: Path):
    """A template's drawing as a job reads it."""
    findings = Findings()
    found = read_template(Source(path, path.name), LayersSection(), "style", "39", None, findings)
    assert found is not None, findings.problems
    return found


def furthest(found: np.ndarray, true: np.ndarray) -> float:
    """Largest distance between two outlines whose x axes are the same line; where x begins is nobody's concern."""
    along = shapely.Polygon(true).centroid.x - shapely.Polygon(found).centroid.x
    a, b = shapely.LinearRing(found + np.array((along, 0.0))), shapely.LinearRing(true)
    return float(shapely.hausdorff_distance(a, b, densify=0.01))
