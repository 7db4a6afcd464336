"""A sound job is read as it is written: units, money, defaults, frames, warnings."""

from decimal import Decimal

import ezdxf
import numpy as np
import openpyxl
import pytest
import shapely
from tiny_job import LIMITS, TEMPLATE, box, on, put_points, put_text, redraw, remove, replace_in

from geometry.polygon import area
from nest.errors import InputProblems
from nest.job.checks import least_width
from nest.job.job import Settings
from nest.job.jobfile import key_lines
from nest.job.read import read_job
from nest.pieces.piece import Part
from nest.pieces.quantities import RejectPairs
from nest.pieces.style import Grading, OrderLine
from nest.rules import Rules
from nest.stock.material import RollStretch


def test_values(sound_job):
    """Values, units and defaults of the sound job."""
    job = read_job(sound_job / "job.toml")
    style, roll, hide = job.styles[0], job.rolls[0], job.hides[0]
    assert job.order == (OrderLine("plain", "37", 4), OrderLine("plain", "38", 6), OrderLine("plain", "39", 3))
    assert job.settings == Settings(seconds=5)
    assert job.leathers[0].price == Decimal("44.5") and job.leathers[0].price_unit == "m2"
    assert (roll.width_mm, roll.length_mm, roll.stretch) == (900.0, 20000.0, RollStretch.WIDTH)
    assert roll.price_per_m == Decimal("4.2") and roll.usable_width_mm == 880.0
    assert style.rules == Rules(tolerance_deg=10, net_quality=2)
    assert style.reinforcement_inset_mm == 10.0 and style.reject_percent == 3
    assert hide.measured_area_mm2 == pytest.approx(599000.0) and hide.outline.area == pytest.approx(600000.0)
    assert [(zone.zone_id, zone.quality, zone.stretch_deg) for zone in hide.zones] == [
        ("butt", 1, 90.0), ("belly", 2, 80.0),
    ]
    flaw = hide.flaws[0]
    assert (flaw.kind, flaw.severity, flaw.tears, flaw.coverable) == ("scratch", 2, False, True)


def test_grading_steps_are_derived_when_not_given(sound_job):
    """Without steps, length grows as the last does: 1/38 of the template's length from size 38 to 39.

    The Paris point counts from nil, so one size is 1/38 of size 38 (ISO/TS 19407).
    """
    style = read_job(sound_job / "job.toml").styles[0]
    assert style.grading.length_step_mm == pytest.approx(160.0 / 38.0)
    assert 0.0 < style.grading.width_step_mm < style.grading.length_step_mm


def test_template_frame_and_parts(sound_job):
    """The axis lies on y = 0 from its heel end; every edge has the part of its stretch."""
    template = read_job(sound_job / "job.toml").styles[0].templates[0]
    assert template.size == "38" and len(template.parts) == len(template.outline) == len(TEMPLATE)
    parts = dict(zip(map(tuple, template.outline), template.parts, strict=True))
    assert parts[130.0, -50.0] is Part.TOE and parts[170.0, 0.0] is Part.TOE  # drawn at 120 and 160, heel at -10
    assert parts[10.0, -60.0] is Part.SIDE and parts[130.0, 50.0] is Part.SIDE
    assert parts[10.0, 60.0] is Part.BACK and parts[30.0, 0.0] is Part.BACK


def test_template_is_the_same_however_it_lies(sound_job, job_folder):
    """Moved and turned on its sheet, a template has the same outline and parts in its own frame."""

    def turn(document, space):
        for entity in space:
            entity.transform(ezdxf.math.Matrix44.z_rotate(2.0) @ ezdxf.math.Matrix44.translate(500, -70, 0))

    redraw("plain.dxf", turn)(job_folder)
    still = read_job(sound_job / "job.toml").styles[0].templates[0]
    turned = read_job(job_folder / "job.toml").styles[0].templates[0]
    assert np.allclose(still.outline, turned.outline, atol=2e-4)
    assert still.parts == turned.parts


def test_limits_between_vertices_become_vertices(job_folder):
    """A limit on the middle of an edge divides it, and so does a short line across the outline."""

    def move(document, space):
        marks = on(space, "PARTS", "POINT")
        marks[2].dxf.location = (60.0, 57.0)  # a little off the edge from (120, 50) to (0, 60)
        space.delete_entity(marks[3])
        space.add_line((60.0, -50.0), (60.0, -60.0), dxfattribs={"layer": "PARTS"})
        for text, at in zip([t for t in on(space, "PARTS", "TEXT") if t.dxf.text == "side"],
                            [(90.0, 60.0), (90.0, -60.0)], strict=True):
            text.set_placement(at)

    redraw("plain.dxf", move)(job_folder)
    template = read_job(job_folder / "job.toml").styles[0].templates[0]
    assert len(template.outline) == len(TEMPLATE) + 2
    back = [point for point, part in zip(template.outline, template.parts, strict=True) if part is Part.BACK]
    assert len(back) == 4 and max(point[0] for point in back) == pytest.approx(70.0, abs=0.5)
    assert area(template.outline) == pytest.approx(shapely.Polygon(TEMPLATE).area, rel=1e-6)
    assert len(LIMITS) == 4


def test_templates_for_each_size(job_folder):
    """A drawing for each size: sizes get one spelling, and the order's spelling finds them."""
    drawings = 'templates = { "38" = "plain.dxf", "38 1/2" = "wide.dxf" }'
    replace_in("job.toml", 'template = "plain.dxf"', drawings)(job_folder)
    (job_folder / "wide.dxf").write_bytes((job_folder / "plain.dxf").read_bytes())
    replace_in("order.csv", "39,3", "38½,3\n38.5,1")(job_folder)
    job = read_job(job_folder / "job.toml")
    assert [template.size for template in job.styles[0].templates] == ["38", "38.5"]
    assert job.order[-1] == OrderLine("plain", "38.5", 4)
    assert job.warnings == (
        "order.csv, line 5: style plain, size 38.5 is ordered more than once; the pairs are added up.",
    )


def test_layers_may_have_other_names(job_folder):
    """The job file says which layer holds what, so that drawings from elsewhere can be read."""

    def rename(document, space):
        for entity in space:
            if entity.dxf.layer == "TEMPLATE":
                entity.dxf.layer = "1"

    redraw("plain.dxf", rename)(job_folder)
    replace_in("job.toml", "[settings]", '[layers]\ntemplate_outline = "1"\n\n[settings]')(job_folder)
    assert read_job(job_folder / "job.toml").styles[0].templates[0].size == "38"


def test_drawing_with_the_layers_of_pattern_exchange(sound_job, job_folder):
    """One block a piece, in R12, boundary on layer 1, grain line on 7, annotation on 15: the same template.

    Layers of ASTM D6673-10 (from a secondary copy).
    """
    numbers = {"TEMPLATE": "1", "AXIS": "7", "PARTS": "15"}
    document = ezdxf.document.Drawing.new("R12")
    block = document.blocks.new("plain-38")
    for entity in ezdxf.readfile(sound_job / "plain.dxf").modelspace():
        on_layer = {"layer": numbers[entity.dxf.layer]}
        if entity.dxftype() == "LWPOLYLINE":
            block.add_polyline2d([point[:2] for point in entity.get_points()], close=True, dxfattribs=on_layer)
        elif entity.dxftype() == "LINE":
            block.add_line(entity.dxf.start, entity.dxf.end, dxfattribs=on_layer)
        elif entity.dxftype() == "POINT":
            block.add_point(entity.dxf.location, dxfattribs=on_layer)
        else:
            block.add_text(entity.dxf.text, dxfattribs=on_layer).set_placement(entity.dxf.insert)
    document.modelspace().add_blockref("plain-38", (400, 250), dxfattribs={"rotation": 90})
    document.saveas(job_folder / "plain.dxf")
    layers = 'unit = "mm"\n[layers]\ntemplate_outline = "1"\ntemplate_axis = "7"\ntemplate_parts = "15"\n\n[settings]'
    replace_in("job.toml", "[settings]", layers)(job_folder)
    exchanged = read_job(job_folder / "job.toml").styles[0].templates[0]
    drawn = read_job(sound_job / "job.toml").styles[0].templates[0]
    assert np.allclose(exchanged.outline, drawn.outline, atol=2e-4) and exchanged.parts == drawn.parts


def test_hide_with_a_hole_and_a_line_for_a_flaw(job_folder):
    """An outline within the hide's is a hole; a line and a point with a width are flaws of that width."""

    def change(document, space):
        space.add_circle((800, 100), 30, dxfattribs={"layer": "HIDE"})
        space.add_line((300, 300), (400, 300), dxfattribs={"layer": "FLAWS"})
        space.add_text("vein severity 1 width 4", dxfattribs={"layer": "FLAWS"}).set_placement((350, 301))
        space.add_point((500, 500), dxfattribs={"layer": "FLAWS"})
        space.add_text("pinhole severity 1 tears width 2", dxfattribs={"layer": "FLAWS"}).set_placement((501, 501))

    redraw("a1.dxf", change)(job_folder)
    hide = read_job(job_folder / "job.toml").hides[0]
    assert len(hide.outline.interiors) == 1
    assert hide.outline.area == pytest.approx(600000 - np.pi * 900, abs=0.05 * 60 * np.pi)
    vein, pinhole = (next(f for f in hide.flaws if f.kind == kind) for kind in ("vein", "pinhole"))
    assert vein.outline.area == pytest.approx(400 + np.pi * 4, rel=1e-3)
    assert vein.outline.bounds == pytest.approx((298, 298, 402, 302))
    assert pinhole.tears and pinhole.outline.area == pytest.approx(np.pi, rel=0.01)


def test_hide_without_zones_takes_the_index(job_folder):
    """A hide whose drawing has no zones is one zone of its class, with the stretch of the index."""
    redraw("a1.dxf", remove("ZONES"))(job_folder)
    (job_folder / "hides.csv").write_text(
        "id;file;leather;lot;class;thickness_mm;area;unit;price;stretch_deg\n"
        "A1;a1.dxf;calf;L 7;2;1,4;6/1;ft2 quarters;38,20;270\n"
    )
    hide = read_job(job_folder / "job.toml").hides[0]
    (zone,) = hide.zones
    assert (zone.quality, zone.stretch_deg, zone.outline.area) == (2, 90.0, hide.outline.area)
    assert (hide.lot, hide.thickness_mm, hide.price) == ("L 7", 1.4, Decimal("38.20"))
    assert hide.measured_area_mm2 == pytest.approx(25 * 232.2576e2)


def test_stretch_that_is_unknown(job_folder):
    """By a zone's text, or in the index for a hide without zones."""
    redraw("a1.dxf", put_text("ZONES", "belly class 2 stretch 80", "belly class 2 Stretch unknown"))(job_folder)
    assert [zone.stretch_deg for zone in read_job(job_folder / "job.toml").hides[0].zones] == [90.0, None]
    redraw("a1.dxf", remove("ZONES"))(job_folder)
    (job_folder / "hides.csv").write_text(
        "id;file;leather;lot;class;thickness_mm;area;unit;price;stretch_deg\n"
        "A1;a1.dxf;calf;L 7;2;1,4;6/1;ft2 quarters;38,20;Unknown\n"
    )
    assert read_job(job_folder / "job.toml").hides[0].zones[0].stretch_deg is None


def test_zones_of_one_name_are_numbered(job_folder):
    """Two zones of one name get ids of their own."""
    redraw("a1.dxf", put_text("ZONES", "belly class 2 stretch 80", "butt class 2 stretch 80"))(job_folder)
    assert [zone.zone_id for zone in read_job(job_folder / "job.toml").hides[0].zones] == ["butt", "butt 2"]


def test_zones_may_touch_and_stick_out_a_little(job_folder):
    """A zone a millimetre over the hide's edge and a millimetre into its neighbour is the digitiser's hand."""
    redraw("a1.dxf", put_points("ZONES", box(599.0, -1.0, 1001.0, 601.0), 1))(job_folder)
    assert len(read_job(job_folder / "job.toml").hides[0].zones) == 2


def test_measured_area_a_little_off_is_said(job_folder):
    """A measured area a tenth off its drawing is a warning."""
    replace_in("hides.csv", "59.9", "66.0")(job_folder)
    assert read_job(job_folder / "job.toml").warnings == (
        "hides.csv, line 2, area: 66.0 dm² measured, 60.0 dm² drawn in a1.dxf; check the drawing.",
    )


def test_a_job_without_hides(job_folder):
    """Costing needs no leather in stock: a job without hides is read, and it is said."""
    replace_in("job.toml", 'hides = "hides.csv"\n', "")(job_folder)
    job = read_job(job_folder / "job.toml")
    assert job.hides == ()
    assert job.warnings == ("job.toml, line 30, style.1: there is no hide of leather calf; style plain cannot be cut.",)


def test_price_as_text_and_by_class(job_folder):
    """Prices may be text, and differ by class; money never passes through binary fractions."""
    replace_in("job.toml", "price = 44.50", 'price = "44.10"\nprice_by_class = { 2 = 40.05, 3 = "36" }')(job_folder)
    leather = read_job(job_folder / "job.toml").leathers[0]
    assert leather.price == Decimal("44.10")
    assert leather.price_by_quality == ((2, Decimal("40.05")), (3, Decimal("36")))


def test_given_steps_are_kept(job_folder):
    """Steps per size that the job gives are used as they are."""
    steps = 'base_size = "38"\nlength_step_mm = 4.4\nwidth_step_mm = 3.9'
    replace_in("job.toml", 'base_size = "38"', steps)(job_folder)
    assert read_job(job_folder / "job.toml").styles[0].grading == Grading("paris", "38", 4.4, 3.9)


def test_lines_of_keys():
    """Every key has its line, through repeated sections, sub-sections, dotted and quoted keys."""
    text = 'a = 1\n[[b]]\nc = 2\n[b.d]\n"e f" = 3\n[[b]]\ng.h = 4 # i = 5\n'
    assert key_lines(text) == {
        ("a",): 1, ("b",): 2, ("b", 0): 2, ("b", 0, "c"): 3, ("b", 0, "d"): 4, ("b", 0, "d", "e f"): 5, ("b", 1): 6,
        ("b", 1, "g", "h"): 7,
    }


def test_least_width():
    """A rectangle's least width is its short side however it lies; an equilateral triangle's is its height."""
    angle = np.radians(33.0)
    turn = np.array(((np.cos(angle), -np.sin(angle)), (np.sin(angle), np.cos(angle))))
    assert least_width(np.array(box(0, 0, 90, 40)) @ turn.T) == pytest.approx(40.0)
    triangle = np.array([(0, 0), (10, 0), (5, 5 * np.sqrt(3))])
    assert least_width(triangle) == pytest.approx(5 * np.sqrt(3))


@pytest.mark.parametrize(
    ("price", "outcome"),
    [("44.500", Decimal("44.5")), ("1.250", "'1.250', which may mean 1.25 or 1250"), ("1.25", Decimal("1.25"))],
)
def test_the_price_of_a_hide_that_can_be_read_two_ways(job_folder, price, outcome):
    """Three decimals are a price where they come near the leather's own, 44.50; 1.250 is as well 1250, and refused."""
    index = (job_folder / "hides.csv").read_text(encoding="utf-8").splitlines()
    (job_folder / "hides.csv").write_text(f"{index[0]},price\n{index[1]},{price}\n", encoding="utf-8")
    if isinstance(outcome, Decimal):
        assert read_job(job_folder / "job.toml").hides[0].price == outcome
        return
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    assert f"hides.csv, line 2, price: expected a price about the 44.5 of its leather, found {outcome}" in str(
        caught.value
    )


@pytest.mark.parametrize("name", ["order.csv", "semicolons", "workbook"])
def test_pairs_that_can_be_read_two_ways(job_folder, name):
    """1.000 in CSV, 1,000 between semicolons, and 1.000 as text of a workbook are refused; 1000 as a number is read."""
    if name == "order.csv":
        (job_folder / name).write_text("size,pairs\n38,1.000\n", encoding="utf-8")
    elif name == "semicolons":
        (job_folder / "order.csv").write_text("size;pairs\n38;1,000\n", encoding="utf-8")
    else:
        book = openpyxl.Workbook()
        for row in (("size", "pairs"), (38, "1.000"), (39, 1000.0)):
            book.active.append(row)
        book.save(job_folder / "order.xlsx")
        replace_in("job.toml", "order.csv", "order.xlsx")(job_folder)
    with pytest.raises(InputProblems) as caught:
        read_job(job_folder / "job.toml")
    assert len(caught.value.problems) == 1
    words = "pairs: expected a number of pairs that is whole, found '1.000', which may mean 1 or 1000"
    assert words in str(caught.value)


def test_the_job_chooses_how_rejects_are_rounded(job_folder):
    """Pooled unless the settings say otherwise; another word is refused, with what may stand there."""
    assert read_job(job_folder / "job.toml").settings.reject_pairs is RejectPairs.POOLED
    replace_in("job.toml", "[settings]", '[settings]\nreject_pairs = "by size"')(job_folder)
    assert read_job(job_folder / "job.toml").settings.reject_pairs is RejectPairs.BY_SIZE
    replace_in("job.toml", '"by size"', '"sometimes"')(job_folder)
    with pytest.raises(InputProblems, match="reject_pairs: expected pooled, by size or none, found 'sometimes'"):
        read_job(job_folder / "job.toml")
