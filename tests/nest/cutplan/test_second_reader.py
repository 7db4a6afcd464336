"""A second independent reader, LibreCAD's own, sees the same closed outlines; skipped where it is not installed."""

import os
import re
import shutil
import subprocess
import zlib

import numpy as np
import pytest
import shapely
from table_jobs import TABLES, on_table
from vamp_plans import vamp_plan

from nest.cutplan.compose import hide_drawing
from nest.cutplan.drawing import Drawing
from nest.cutplan.dxf import VERSIONS, write_dxf

LIBRECAD = shutil.which("librecad")
DOTS_PER_IN = 1200
STEP_MM = 25.4 / DOTS_PER_IN
PAGE = 400.0, 280.0
"""LibreCAD prints on A3 whatever is asked for, and leaves out arcs that lie off its page."""


def printed(path, folder, scale=1.0):
    """Every stroke that LibreCAD prints of a drawing, as lines in mm of its page, moved as it likes, y down."""
    home = {"QT_QPA_PLATFORM": "offscreen", "HOME": str(folder), "XDG_RUNTIME_DIR": str(folder)}
    command = [LIBRECAD, "dxf2pdf", "-c", "-s", f"{scale:.6f}", "-r", str(DOTS_PER_IN), path.name]
    subprocess.run(command, env=os.environ | home, cwd=folder, capture_output=True, timeout=60, check=True)
    strokes = []
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", path.with_suffix(".pdf").read_bytes(), re.DOTALL):
        try:
            code = zlib.decompress(stream).decode("latin-1")
        except zlib.error:
            continue
        # a line is a stroke of its own, of an arc the chords hang together
        for way in re.findall(r"[-\d]+ [-\d]+ m\n(?:[-\d]+ [-\d]+ l\n)+(?=S)", code):
            strokes.append(np.array([line.split()[:2] for line in way.splitlines()], dtype=float) * STEP_MM)
    return [shapely.linestrings(stroke) for stroke in strokes]


@pytest.mark.skipif(LIBRECAD is None, reason="LibreCAD is not installed")
@pytest.mark.parametrize("version", VERSIONS)
def test_librecad_sees_the_same_closed_outlines(tmp_path, version):
    """Its strokes close to as many outlines, of the same areas in the same places, to what its own dots allow."""
    plan = on_table(vamp_plan(1), TABLES["plain"])
    drawing = hide_drawing(plan, plan.layouts[0])
    cuts = drawing.outlines("cut")
    write_dxf(Drawing(cuts), tmp_path / "cut.dxf", version)
    seen = shapely.get_parts(shapely.polygonize(printed(tmp_path / "cut.dxf", tmp_path)))
    wanted = np.array([shapely.Polygon(cut.points * (1.0, -1.0)) for cut in cuts])
    assert len(seen) == len(wanted)
    # Its own rounding of dots to the mm may stretch the whole print by a thousandth.
    here, there = shapely.total_bounds(seen), shapely.total_bounds(wanted)
    scale = (there[2:] - there[:2]) / (here[2:] - here[:2])
    assert scale == pytest.approx((1.0, 1.0), abs=1e-3) and scale[0] == pytest.approx(scale[1], abs=1e-4)
    left = list(wanted)
    for shape in seen:
        moved = shapely.transform(shape, lambda points: (points - here[:2]) * scale + there[:2])
        twin = min(left, key=lambda other: other.centroid.distance(moved.centroid))
        left.remove(twin)
        assert shapely.hausdorff_distance(moved.boundary, twin.boundary) < 4.0 * STEP_MM
        assert moved.area == pytest.approx(twin.area, abs=2.0 * STEP_MM * twin.length)
