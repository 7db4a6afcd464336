"""Drawings and pattern files made for tests of the readers. Most hold a closed outline of 200 × 100 mm."""

import ezdxf

from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.schema import ASTM, LayersSection
from nest.job.template import read_template

CORNERS = [(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)]
ON = {"layer": "1"}
AREA = 200.0 * 100.0


def document(version="R2000", units=4):
    """A drawing without anything; R12 has no unit."""
    made = ezdxf.document.Drawing.new(version)
    if version != "R12":
        made.units = units
    return made


def drawn(draw, version="R2000", units=4):
    """A way to make a drawing."""

    def make(path):
        made = document(version, units)
        draw(made.modelspace())
        made.saveas(path)

    return make


def outline(space, scale=1.0):
    """The outline as one light polyline (POLYLINE in R12)."""
    points = [(x * scale, y * scale) for x, y in CORNERS]
    if space.doc.dxfversion == "AC1009":
        space.add_polyline2d(points, close=True, dxfattribs=ON)
    else:
        space.add_lwpolyline(points, close=True, dxfattribs=ON)


# Pattern files by ASTM D6673.

VAMP = [(0.0, -60.0), (120.0, -50.0), (160.0, 0.0), (120.0, 50.0), (0.0, 60.0), (20.0, 0.0)]
NOTCHES = [(120.0, -50.0), (120.0, 50.0), (0.0, 60.0), (0.0, -60.0)]
NAMES = [("TOE", (165.0, 0.0)), ("Side", (60.0, 60.0)), ("side", (60.0, -60.0)), ("back", (10.0, 5.0))]


def pattern_file(path, sizes=("38", "39"), back_to_front=False, more=lambda block: None, version="R12", unit="METRIC"):
    """A pattern file: one block a piece; boundary on 1, notches on 4, grain line on 7, annotation on 15."""
    made = document(version, units=0)
    scale = {"METRIC": 1.0, "ENGLISH": 1 / 25.4}[unit]
    made.modelspace().add_text(f"UNITS: {unit}")
    for i, size in enumerate(sizes):
        block = made.blocks.new(f"VAMP-{size}")
        grown = scale * (1.0 + 0.02 * i)
        block.add_polyline2d([(x * grown, y * grown) for x, y in VAMP], close=True, dxfattribs={"layer": "1"})
        ends = [(-10.0 * grown, 0.0), (170.0 * grown, 0.0)]
        block.add_line(*(ends[::-1] if back_to_front else ends), dxfattribs={"layer": "7"})
        for x, y in NOTCHES:
            block.add_point((x * grown, y * grown), dxfattribs={"layer": "4"})
        for x, y in VAMP:
            block.add_point((x * grown, y * grown), dxfattribs={"layer": "2"})
        for text, (x, y) in (*NAMES, ("PIECE NAME: VAMP", (50.0, 0.0)), (f"SIZE: {size}", (50.0, 9.0))):
            block.add_text(text, dxfattribs={"layer": "15"}).set_placement((x * grown, y * grown))
        more(block)
        made.modelspace().add_blockref(block.name, (1000.0 * i * scale, 0.0), dxfattribs={"layer": "1"})
    made.saveas(path)


def read_pattern(path, block="VAMP-38", **layers):
    """The template in a block, and what was found."""
    findings = Findings()
    chosen = LayersSection.model_validate({"template_standard": ASTM, **layers})
    return read_template(Source(path, path.name), chosen, "plain", "38", None, findings, block), findings
