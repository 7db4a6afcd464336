"""Cutting drawings, read back with the library that wrote them and with an independent one."""

from collections import Counter
from dataclasses import replace

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
import shapely.affinity
from ezdxf.colors import aci2rgb
from ezdxf.entities.lwpolyline import LWPolylinePoints
from hypothesis import example, given, settings
from hypothesis import strategies as st
from table_jobs import TABLES, on_table
from tiny_plans import box_plan, hide, slant_plan
from vamp_plans import side_hide, vamp_pieces, vamp_plan

from geometry.pose import Pose
from nest.cutplan.compose import hide_drawing, registration_points
from nest.cutplan.drawing import Label
from nest.cutplan.dxf import VERSIONS, _Points, plain_text, write_hide_dxf, write_lay_dxf, write_piece_dxf
from nest.cutplan.layers import NAMED, Layer, Layers, layers_of
from nest.cutplan.stamp import Stamp
from nest.errors import PlanProblem
from nest.job.cutting_table import PLAIN_TABLE
from nest.plan import HideLayout, Placed

PLAN = vamp_plan(1)
LAYOUT, LAY = PLAN.layouts[0], PLAN.lays[0]

NUMBERED = layers_of(replace(PLAIN_TABLE, layer_numbers=True))
"""The numbers 1, 2, 3 ... as names, for tables that read layer numbers."""


@pytest.fixture(scope="module", params=VERSIONS)
def written(request, tmp_path_factory):
    """A hide, a lay and a piece drawing in one DXF version."""
    folder = tmp_path_factory.mktemp(request.param)
    write_hide_dxf(PLAN, LAYOUT, folder / "hide.dxf", request.param)
    write_lay_dxf(PLAN, LAY, folder / "lay.dxf", request.param)
    write_piece_dxf(PLAN.pieces[0], folder / "piece.dxf", request.param)
    return request.param, folder


def rings(path, layer="CUT"):
    """Vertices of the polylines on a layer in entity order, by ezdxf."""
    found = []
    for entity in ezdxf.readfile(path).modelspace().query(f'LWPOLYLINE POLYLINE[layer=="{layer}"]'):
        points = entity.get_points("xy") if entity.dxftype() == "LWPOLYLINE" else [
            vertex.dxf.location.vec2 for vertex in entity.vertices
        ]
        found.append(np.array([tuple(point)[:2] for point in points]))
    return found


def placed_polygons(plan, placed):
    """Cut outlines at their poses, by shapely's own affine transform."""
    polygons = []
    for p in placed:
        polygon = shapely.polygons(plan.piece(p.piece_id).cut_outline)
        turned = shapely.affinity.rotate(polygon, p.pose.heading_deg, origin=(0.0, 0.0))
        polygons.append(shapely.affinity.translate(turned, p.pose.x, p.pose.y))
    return polygons


def assert_same_outlines(found, wanted):
    """Each wanted polygon is found once: same area to 1e-6, same line to two grid steps."""
    assert len(found) == len(wanted)
    left = list(wanted)
    for polygon in found:
        twin = min(left, key=lambda other: other.centroid.distance(polygon.centroid))
        left.remove(twin)
        assert polygon.area == pytest.approx(twin.area, rel=1e-6)
        assert polygon.boundary.hausdorff_distance(twin.boundary) < 2e-4


@pytest.mark.parametrize("name", ["hide", "lay", "piece"])
def test_audit_finds_nothing(written, name):
    """The library's audit has neither errors nor fixes."""
    version, folder = written
    document = ezdxf.readfile(folder / f"{name}.dxf")
    auditor = document.audit()
    assert not auditor.errors and not auditor.fixes
    assert document.dxfversion == {"R2000": "AC1015", "R12": "AC1009"}[version]


def tags(path):
    """Group codes and values as they stand in the file, read without any library."""
    lines = path.read_text(encoding="cp1252").splitlines()
    return list(zip(map(int, lines[::2]), map(str.strip, lines[1::2]), strict=True))


def header(path):
    """Header variables and their first value."""
    found = tags(path)
    return {found[i][1]: found[i + 1][1] for i in range(len(found) - 1) if found[i][0] == 9}


def test_header_facts(written):
    """DXF reference (public): AC1015 with $INSUNITS 4 and $MEASUREMENT 1, or AC1009 without them; extents in both."""
    version, folder = written
    values = header(folder / "hide.dxf")
    if version == "R2000":
        assert (values["$ACADVER"], values["$INSUNITS"], values["$MEASUREMENT"]) == ("AC1015", "4", "1")
    else:
        assert values["$ACADVER"] == "AC1009" and "$INSUNITS" not in values and "$MEASUREMENT" not in values
    texts = [t.dxf.text for t in ezdxf.readfile(folder / "hide.dxf").modelspace().query("TEXT")]
    assert any("millimetres (mm)" in text for text in texts)
    document = ezdxf.readfile(folder / "hide.dxf")
    low, high = document.header["$EXTMIN"], document.header["$EXTMAX"]
    everything = np.vstack([ring for use in ("CUT", "REF_MATERIAL") for ring in rings(folder / "hide.dxf", use)])
    assert (everything >= np.array(low)[:2]).all() and (everything <= np.array(high)[:2]).all()


def test_polyline_codes(written):
    """DXF reference (public): LWPOLYLINE 90 counts the vertices, 70 bit 1 is closed; R12 POLYLINE 70 bit 1, SEQEND."""
    version, folder = written
    found = tags(folder / "piece.dxf")
    kind = "LWPOLYLINE" if version == "R2000" else "POLYLINE"
    at = [i for i, tag in enumerate(found) if tag == (0, kind)]
    assert len(at) == 3 and all(tag[1] != ("POLYLINE" if version == "R2000" else "LWPOLYLINE") for tag in found)
    for i in at:
        stop = next(j for j in range(i + 1, len(found)) if found[j][0] == 0)
        entity = dict(reversed(found[i:stop]))
        # Closed are the cut and the net outline, and not the axis with its arrowhead.
        assert bool(int(entity.get(70, 0)) & 1) is (entity[8] != "REF_HEADING")
        if version == "R2000":
            assert int(entity[90]) == sum(code == 10 for code, _ in found[i:stop])
        else:
            last = next(j for j in range(stop, len(found)) if found[j] != (0, "VERTEX") and found[j][0] == 0)
            assert found[last] == (0, "SEQEND")


def test_no_number_needs_an_exponent(written):
    """Coordinates have at most four decimals and no exponent, which old readers cannot read."""
    _, folder = written
    for code, value in tags(folder / "hide.dxf"):
        if code in (10, 20, 11, 21) and "1e+20" not in value:
            assert "e" not in value.lower() and len(value.partition(".")[2]) <= 4


@pytest.mark.parametrize("name", ["hide", "lay"])
def test_read_back_gives_the_same_pieces(written, name):
    """Each placed piece is on the cut layer once, with nothing doubled."""
    _, folder = written
    placed = LAYOUT.placed if name == "hide" else LAY.placed
    found = rings(folder / f"{name}.dxf")
    assert_same_outlines([shapely.polygons(ring) for ring in found], placed_polygons(PLAN, placed))
    for ring in found:
        steps = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
        assert steps.min() > 1e-4
        assert shapely.is_ccw(shapely.linearrings(ring))


@pytest.mark.parametrize("name", ["hide", "lay"])
def test_independent_reader_finds_the_same_outlines(written, name):
    """GDAL's DXF driver (pyogrio) finds the same closed outlines and areas on the cut layer."""
    _, folder = written
    placed = LAYOUT.placed if name == "hide" else LAY.placed
    _, _, geometry, values = pyogrio.raw.read(folder / f"{name}.dxf", columns=["Layer"])
    lines = shapely.from_wkb(geometry)[values[0] == "CUT"]
    assert all(line.coords[0] == line.coords[-1] for line in map(shapely.force_2d, lines))
    found = [shapely.polygons(shapely.get_coordinates(line)) for line in lines]
    assert_same_outlines(found, placed_polygons(PLAN, placed))


def test_cut_layer_holds_outlines_only(written):
    """Only closed polylines are on the cut layer; everything else is on mark or reference layers, none on 0."""
    version, folder = written
    kind = "LWPOLYLINE" if version == "R2000" else "POLYLINE"
    for name in ("hide", "lay", "piece"):
        space = ezdxf.readfile(folder / f"{name}.dxf").modelspace()
        assert {e.dxftype() for e in space.query('*[layer=="CUT"]')} == {kind}
        assert all(e.is_closed for e in space.query('*[layer=="CUT"]'))
        others = {e.dxf.layer for e in space} - {"CUT"}
        assert others and all(layer.startswith(("MARK_", "REF_")) for layer in others)


def test_marks_never_touch_a_net_area(written):
    """Ticks and nicks, as written, lie inside a cut outline and clear of every net outline."""
    _, folder = written
    cuts = shapely.union_all([shapely.polygons(ring) for ring in rings(folder / "hide.dxf")])
    nets = shapely.union_all([shapely.polygons(ring) for ring in rings(folder / "hide.dxf", "REF_NET")])
    marks = ezdxf.readfile(folder / "hide.dxf").modelspace().query('LINE[layer=="MARK_AXIS" | layer=="MARK_SIZE"]')
    assert len(marks) > 4 * len(LAYOUT.placed)
    for mark in marks:
        line = shapely.linestrings((tuple(mark.dxf.start)[:2], tuple(mark.dxf.end)[:2]))
        assert cuts.covers(line)
        assert nets.distance(line) > 0.9


def test_pieces_follow_each_other_in_a_short_way(written):
    """The outlines stand in cut order: the way through them is far shorter than in the order of the plan."""
    _, folder = written
    found = [shapely.polygons(ring).centroid.coords[0] for ring in rings(folder / "hide.dxf")]
    planned = [polygon.centroid.coords[0] for polygon in placed_polygons(PLAN, LAYOUT.placed)]
    way = [np.hypot(*np.diff(np.array(points), axis=0).T).sum() for points in (found, planned)]
    assert way[0] < 0.8 * way[1]


def test_labels_and_legend_are_there():
    """Style, size and pair of each piece; cautions, registration points and size codes in the legend."""
    drawing = hide_drawing(PLAN, LAYOUT, "NOT VERIFIED: do not cut")
    texts = Counter(e.text for e in drawing.entities if hasattr(e, "text"))
    for number, placed in enumerate(LAYOUT.placed, start=1):
        piece = PLAN.piece(placed.piece_id)
        assert texts[f"{piece.style} {piece.size} pair {placed.pair} no. {number}"] == 1
    legend = [e.text for e in drawing.entities if getattr(e, "use", "") == "legend"]
    assert legend[0] == "NOT VERIFIED: do not cut"
    cautions = ("manual, local codes", "hands clear", "hot plates", "ventilate")
    for words in (*cautions, "Registration points", "38 = 1-3 (|_|||)"):
        assert any(words in line for line in legend)


def test_registration_points_are_tips_of_the_hide():
    """The rectangle of 1000 x 500: its corners, opposite ones first; a triangle: three; on any hide on its outline."""
    points = registration_points(hide())
    assert np.hypot(*(points[1] - points[0])) == pytest.approx(np.hypot(1000.0, 500.0))
    assert len(points) == 4 and {tuple(p) for p in points} == {(0.0, 0.0), (1000.0, 0.0), (0.0, 500.0), (1000.0, 500.0)}
    three = replace(hide(), outline=shapely.Polygon([(0, 0), (900, 0), (200, 300)]))
    assert len(registration_points(three)) == 3
    side = side_hide()
    assert shapely.distance(shapely.points(registration_points(side)), side.outline.boundary).max() < 1e-9


@settings(max_examples=15, deadline=None)
@example([(12, 0.0, 0.0, 0.0), (20, 0.0, 0.0, 0.0)], "R2000")
@given(
    st.lists(
        st.tuples(st.sampled_from(range(28)), st.floats(-3000, 3000), st.floats(-3000, 3000), st.floats(-720, 720)),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from(VERSIONS),
)
def test_any_pose_is_cut_where_it_lies(tmp_path_factory, poses, version):
    """Pieces at random poses are read back with the same outlines, counter-clockwise, areas to 1e-6."""
    pieces = vamp_pieces(lean=6.0)
    placed = tuple(Placed(pieces[i].piece_id, Pose(x, y, turn)) for i, x, y, turn in poses)
    plan = box_plan(pieces=pieces, layouts=(HideLayout("H1", placed),))
    path = tmp_path_factory.mktemp("poses") / "a.dxf"
    write_hide_dxf(plan, plan.layouts[0], path, version)
    found = rings(path)
    wanted = placed_polygons(plan, placed)
    assert sum(shapely.polygons(r).area for r in found) == pytest.approx(sum(w.area for w in wanted), rel=1e-6)
    for ring in found:
        polygon = shapely.polygons(ring)
        assert min(polygon.boundary.hausdorff_distance(w.boundary) for w in wanted) < 2e-4
        assert shapely.is_ccw(shapely.linearrings(ring))


def test_layers_can_be_numbered_and_renamed(tmp_path):
    """With numbers the cut layer is 1 and no two uses share a name; a renamed layer is used."""
    plan = slant_plan()
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "n.dxf", layers=NUMBERED)
    assert len(rings(tmp_path / "n.dxf", "1")) == 4 and not rings(tmp_path / "n.dxf", "CUT")
    for table in (NAMED, NUMBERED):
        names = [getattr(table, use).name for use in Layers.__dataclass_fields__]
        assert len(set(names)) == len(names)
    write_hide_dxf(plan, plan.layouts[0], tmp_path / "k.dxf", layers=Layers(cut=Layer("KNIFE", 7)))
    assert len(rings(tmp_path / "k.dxf", "KNIFE")) == 4


def test_colours_stand_out_from_dark_and_light_ground():
    """Contrast of at least 3 : 1 with white and with black (WCAG 2.1, 1.4.11); 7 changes with the ground itself."""

    def luminance(rgb):
        parts = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in rgb]
        return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]

    for use in Layers.__dataclass_fields__:
        colour = getattr(NAMED, use).colour
        if colour != 7:
            light = luminance(aci2rgb(colour))
            assert min(1.05 / (light + 0.05), (light + 0.05) / 0.05) >= 3.0


def test_bad_names_cannot_break_the_file(tmp_path):
    """Line breaks, control codes and letters beyond ASCII in ids leave a file that reads and audits clean."""
    nasty = "S\n0\nEOF\x00 %%u ^J Ölé ½ 皮"
    plan = box_plan(hides=(hide(nasty),), layouts=(HideLayout(nasty, box_plan().layouts[0].placed),))
    for version in VERSIONS:
        # No such plan can be saved, so it has no id.
        stamp = Stamp("00000000", "2026-03-02T05:50:00Z")
        write_hide_dxf(plan, plan.layouts[0], tmp_path / "a.dxf", version, stamp=stamp)
        document = ezdxf.readfile(tmp_path / "a.dxf")
        assert not document.audit().errors
        assert len(rings(tmp_path / "a.dxf")) == 4
        assert any("S 0 EOF" in text.dxf.text for text in document.modelspace().query("TEXT"))
    assert plain_text("Ölé ½ 皮", ascii_only=True) == "Ole 1/2 ?"


def test_unknown_version_hide_and_piece_are_said(tmp_path):
    """Each is one sentence, and nothing is written."""
    plan = box_plan()
    with pytest.raises(PlanProblem, match="R2018"):
        write_hide_dxf(plan, plan.layouts[0], tmp_path / "a.dxf", "R2018")
    with pytest.raises(PlanProblem, match="H9"):
        write_hide_dxf(plan, HideLayout("H9", ()), tmp_path / "a.dxf")
    with pytest.raises(PlanProblem, match="X1"):
        write_hide_dxf(plan, HideLayout("H1", (Placed("X1", Pose(0, 0, 0)),)), tmp_path / "a.dxf")
    assert not list(tmp_path.iterdir())


def test_empty_hide_and_lay_are_drawn_without_cuts(tmp_path):
    """A hide with nothing on it is drawn with its outline and no cut."""
    plan = box_plan()
    write_hide_dxf(plan, HideLayout("H1", ()), tmp_path / "a.dxf")
    assert not rings(tmp_path / "a.dxf") and len(rings(tmp_path / "a.dxf", "REF_MATERIAL")) == 1


@pytest.mark.parametrize("table", TABLES)
def test_no_label_is_struck_through_and_axes_have_heads(table):
    """The axis of each piece is an arrow whose tip is the toe, and no label touches any axis."""
    plan = on_table(vamp_plan(1), TABLES[table])
    drawing = hide_drawing(plan, plan.layouts[0])
    arrows = drawing.outlines("heading")
    labels = [one for one in drawing.entities if isinstance(one, Label) and one.use == "labels"]
    assert len(arrows) == len(labels) == len(plan.layouts[0].placed)
    for arrow in arrows:
        back, toe, *head = arrow.points
        assert len(head) == 3 and (head[1] == toe).all()
        barbs = [np.degrees(np.arccos((back - toe) @ (one - toe) / np.hypot(*(back - toe)) / np.hypot(*(one - toe))))
                 for one in (head[0], head[2])]
        assert barbs == pytest.approx([21.8, 21.8], abs=0.1)
    lines = shapely.union_all([shapely.LineString(arrow.points[:2]) for arrow in arrows])
    for label in labels:
        half = np.array((0.5 * 0.7 * label.height_mm * len(label.text), 0.5 * label.height_mm))
        box = shapely.affinity.rotate(shapely.box(*-half, *half), label.turn_deg, origin=(0.0, 0.0))
        assert not shapely.affinity.translate(box, *label.at).intersects(lines)


def test_points_are_written_as_the_library_writes_them():
    """Letter for letter, straight and bulging, and numbers that print with an exponent."""
    rows = [[0.0, 1e-07, 0.0, 0.0, 0.0], [100.25, -3.5, 0.0, 0.0, 0.414213562], [1e16, 7.0, 0.0, 0.0, -1.0]]
    ours, theirs = _Points(rows), LWPolylinePoints(rows)
    assert "".join(tag.dxfstr() for tag in ours.dxftags()) == "".join(tag.dxfstr() for tag in theirs.dxftags())
