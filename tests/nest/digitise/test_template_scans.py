"""Card templates from scans: true to a tenth of a millimetre or two, corners kept, read back as a job reads them."""

import cv2
import numpy as np
import pytest
import shapely
from scans import picture_of, scan

from geometry.polygon import mirror_distance
from nest.digitise.card import find_card
from nest.digitise.curvefit import corners_of, even, fitted, outline_of
from nest.digitise.raster import Grid
from nest.digitise.template import digitise_template
from nest.digitise.vision import PhotographProblem
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.schema import LayersSection
from nest.job.template import read_template

HALF = [(120.0, 0.0), (118.0, 20.0), (108.0, 38.0), (90.0, 48.0), (60.0, 52.0), (30.0, 60.0), (5.0, 66.0)]


def vamp():
    """An invented vamp that is its own mirror image: a smooth toe, corners at the wings, a hollow throat."""
    upper = fitted_through(HALF)
    throat = [(20.0, 40.0), (34.0, 18.0), (38.0, 0.0)]
    back = fitted_through([(5.0, 66.0), *throat])
    half = np.concatenate((upper, back[1:]))
    return np.concatenate((half[:-1], half[:0:-1] * (1.0, -1.0)))


def fitted_through(points):
    """A smooth line through points, square to the axis at an end that lies on it."""
    from scipy.interpolate import CubicSpline

    points = np.array(points)
    run = np.concatenate(((0.0,), np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    ends = [
        ((1, (0.0, 1.0)) if points[0][1] == 0 else (2, (0.0, 0.0))),
        ((1, (0.0, -1.0)) if points[-1][1] == 0 else (2, (0.0, 0.0))),
    ]
    return CubicSpline(run, points, bc_type=ends)(np.linspace(0, run[-1], 200))


def read(path):
    """The drawing as a job reads it."""
    findings = Findings()
    found = read_template(Source(path, path.name), LayersSection(), "style", "39", None, findings)
    assert found is not None, findings.problems
    return found


def furthest(found: np.ndarray, true: np.ndarray) -> float:
    """Largest distance between two outlines whose x axes are the same line."""
    a, b = shapely.LinearRing(found + np.array((true[:, 0].max() - found[:, 0].max(), 0.0))), shapely.LinearRing(true)
    return float(shapely.hausdorff_distance(a, b, densify=0.01))


@pytest.mark.parametrize("axis", ["holes", "line"])
def test_template_from_a_scan(tmp_path, axis):
    """The outline is met within 0.15 mm and the axis within 0.2°; a symmetric one comes out exactly so."""
    true = vamp()
    holes = ((50.0, 0.0), (105.0, 0.0)) if axis == "holes" else ()
    line = None if holes else ((44.0, 0.0), (116.0, 0.0))
    pixels = scan(true, 17.0, (60.0, 90.0), holes=holes, line=line, dpi=200.0, page=(200.0, 190.0))
    cv2.imwrite(str(tmp_path / "card.png"), pixels)
    figures, said = digitise_template(
        tmp_path / "card.png", tmp_path / "card.dxf", tmp_path / "check.png", 200.0, None, 160.0, ()
    )
    assert abs(figures["axis_deg_in_picture"] - 17.0) <= 0.2
    found = read(tmp_path / "card.dxf")
    assert furthest(np.asarray(found.outline), true) <= 0.15
    assert figures["symmetric"] and mirror_distance(np.asarray(found.outline)) < 1e-3
    assert (tmp_path / "check.png").is_file() and any("proposed" in one for one in said)
    wing = np.hypot(*(np.asarray(found.outline) - (np.asarray(found.outline)[:, 0].max() - 115.0, 66.0)).T)
    assert wing.min() < 0.2


def test_a4_page_is_210_by_297():
    """A page of ISO 216 comes out true to 0.1 mm, as four lines with four corners."""
    page = np.array(((0.0, 0.0), (297.0, 0.0), (297.0, 210.0), (0.0, 210.0)))
    pixels = scan(page, 3.0, (25.0, 15.0), holes=((40.0, 105.0), (250.0, 105.0)), page=(345.0, 260.0))
    step = 25.4 / 150.0
    height, width = pixels.shape[:2]
    card = find_card(picture_of(pixels).light, Grid(0.0, height * step, step, width, height), None, "page")
    ring = even(card.ring)
    curves = fitted(ring)
    assert len(corners_of(ring)) == 4 and [one.kind for one in curves] == ["line"] * 4
    sides = sorted(np.hypot(*(one.points[1] - one.points[0])) for one in curves)
    assert sides == pytest.approx([210.0, 210.0, 297.0, 297.0], abs=0.1)
    assert np.hypot(*(card.axis[1] - card.axis[0])) == pytest.approx(210.0, abs=0.05)


def test_curves_keep_arcs_and_corners():
    """A slot of two lines and two half circles gives arcs and lines that touch, within the tolerance."""
    t = np.linspace(-90, 90, 200)
    right = np.column_stack((100 + 20 * np.cos(np.radians(t)), 20 * np.sin(np.radians(t))))
    ring = even(np.concatenate((right, -right + (100.0, 0.0))))
    rough = ring + np.random.default_rng(2).normal(0, 0.01, ring.shape)
    got = outline_of(fitted(rough))
    assert shapely.LinearRing(ring).hausdorff_distance(shapely.LinearRing(got)) < 0.15


def test_card_without_axis_or_off_the_glass_is_refused(tmp_path):
    """No axis, or a card that leaves the picture: one sentence, nothing written."""
    for shift, words in (((60.0, 90.0), "no axis"), ((-30.0, 90.0), "leaves the picture")):
        pixels = scan(vamp(), 0.0, shift, dpi=110.0, page=(200.0, 190.0))
        cv2.imwrite(str(tmp_path / "card.png"), pixels)
        with pytest.raises(PhotographProblem, match=words):
            digitise_template(tmp_path / "card.png", tmp_path / "c.dxf", tmp_path / "c.png", 110.0, None, 160.0, ())
        assert not (tmp_path / "c.dxf").exists() and not (tmp_path / "c.png").exists()
