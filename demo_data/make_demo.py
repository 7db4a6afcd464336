"""Writes every other file of this folder but README.md: an invented job, the same bytes at every run.

    python demo_data/make_demo.py [FOLDER]

FOLDER defaults to the folder of this script. Styles, hides, prices and the order are invented.
"""

import csv
import sys
import zipfile
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import ezdxf
import numpy as np
import openpyxl
import shapely

from nest.stock.distribution import SIDES
from nest.stock.material import Hide
from nest.stock.simulate import simulate_hides
from nest.units import MM2_PER_DM2, MM2_PER_FT2, MM2_PER_M2

SEED = 1915
HIDES = 12
HIDES_IN_FIRST_LOT = 7
SIZES = ("36", "37", "38", "39", "40", "41", "42")
ORDER = {"Linden boot": (5, 10, 16, 20, 17, 11, 5), "Alder derby": (4, 7, 11, 13, 10, 7, 4)}
LEATHER = "Black side"
R2000_MILLIMETRES = 4
WHEN = datetime(2024, 1, 1)

JOB = """\
# An invented job, for trying the program out: see README.md.

name = "Two styles in black"
order = "order.csv"
hides = "hides.csv"
unit = "mm"                     # for drawings that state no unit of their own

[settings]
seed = 1
seconds = 120
hide_gap_mm = 1.0               # knife
roll_gap_mm = 1.0
edge_margin_mm = 3.0
currency = "EUR"
dxf_version = "R2000"
reject_pairs = "pooled"         # pairs for rejects: of all sizes of a style together; else "by size", "none"

[costing]                       # invented values: put in those of your house
labour_per_hour = 34.00         # cutting table
setup_per_hide = 0.80
setup_per_lay = 1.50
press_per_hour = 29.00          # crimping press
press_s_per_pair = 70
scrap_per_m2 = 0.50
overhead_percent = 12
margin_percent = 18             # of the price

[[leather]]
name = "Black side"
price = 44.50
price_unit = "m2"
price_by_class = { 2 = 41.00, 3 = 36.50 }

[[leather]]                     # on offer; none in stock yet
name = "Brown side"
price = 4.85
price_unit = "ft2"

[[roll]]
name = "Knit 90"
width_mm = 1400
selvedge_mm = 12
length_m = 40
stretch = "width"
weight_g_m2 = 90
price_per_m = 4.20
adhesive_one_side = true

[[roll]]
name = "Knit 120"
width_mm = 1100
selvedge_mm = 10
length_m = 30
stretch = "width"
weight_g_m2 = 120
price_per_m = 4.60
adhesive_one_side = true

[[weight_table]]                # reinforcement for uppers up to this thickness
upper_to_mm = 1.2
least_g_m2 = 110
most_g_m2 = 160

[[weight_table]]
upper_to_mm = 1.7
least_g_m2 = 80
most_g_m2 = 130

[[weight_table]]
upper_to_mm = 2.4
least_g_m2 = 50
most_g_m2 = 100

[[style]]
name = "Linden boot"            # ankle boot; the vamp is its own mirror image
leather = "Black side"
roll = "Knit 90"
template = "linden-39.dxf"
thickness_mm = 1.5
widening_percent = 2.0
reinforcement_inset_mm = 10
reject_percent = 3
notes = [
    "Mull the vamps before crimping; see the supplier's sheet for the softening spray.",
    "Hot plates as the press's own manual says; hands clear, two-hand control.",
]

[style.grading]
system = "paris"
base_size = "39"
length_step_mm = 4.4
width_step_mm = 4.0

[style.allowances]
toe_mm = 14
side_mm = 13
back_mm = 11
least_toe_mm = 10
least_side_mm = 9
least_back_mm = 8

[style.rules]
tolerance_deg = 10
net_quality = 2
trim_quality = 4

[[style]]
name = "Alder derby"            # vamp with a tongue; left and right differ
leather = "Black side"
roll = "Knit 120"
template = "alder-39.dxf"
thickness_mm = 1.5
widening_percent = 1.5
reinforcement_inset_mm = 10
reject_percent = 3
notes = ["Skive the tongue before crimping."]

[style.grading]
system = "paris"
base_size = "39"
length_step_mm = 4.6
width_step_mm = 3.8

[style.allowances]
toe_mm = 13
side_mm = 12
back_mm = 10
least_toe_mm = 10
least_side_mm = 9
least_back_mm = 8

[style.rules]
tolerance_deg = 10
bias_leave = true
net_quality = 2
trim_quality = 4

[crimping]                      # invented values: put in those of your house, its adhesive, spray and press
batch_pairs = 40
bond_celsius = 130
bond_bar = 4
bond_s = 12
spray = "softening spray A"
spray_side = "flesh"
bag_least_h = 8
bag_most_h = 20
plate_by_heel_mm = { 30 = "plate 2", 60 = "plate 5" }
crimp_celsius = 90
crimp_bar = 5
crimp_s = 40
check_mm = 1.0
wait_h = 16
check_later_mm = 1.5
trim_leave_mm = 2.0

[crimping.by_style."Linden boot"]
heel_mm = 45

[crimping.by_style."Alder derby"]
heel_mm = 25
"""

SCENARIOS = """\
# Invented choices for `vampyield scenarios`: the job as it is belongs to every list.

[[leathers]]
instead = { "Black side" = "Brown side" }

[[rolls]]
instead = { "Knit 90" = "Knit 120" }

[[allowances]]
style = "Linden boot"
toe_more_mm = -2

[[allowances]]
name = "2 mm less all round"
toe_more_mm = -2
side_more_mm = -2
back_more_mm = -2

[[quantities]]
pairs = 500

[[rules]]
tolerance_deg = 5
"""


def main(folder: Path) -> None:
    """Write the demo into `folder`."""
    ezdxf.options.write_fixed_meta_data_for_testing = True  # no time stamps: the same bytes at every run
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "hides").mkdir(exist_ok=True)
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "scenarios.toml").write_text(SCENARIOS, encoding="utf-8")
    write_linden(folder / "linden-39.dxf")
    write_alder(folder / "alder-39.dxf")
    rows = [("style", "size", "pairs")]
    rows += [(style, size, n) for style, pairs in ORDER.items() for size, n in zip(SIZES, pairs, strict=True)]
    write_csv(folder / "order.csv", rows)
    write_workbook(folder / "order.xlsx", rows)
    hides = demo_hides()
    for hide in hides:
        write_hide(folder / "hides" / f"{hide.hide_id}.dxf", hide)
    write_csv(folder / "hides.csv", index_rows(hides))


def demo_hides() -> list[Hide]:
    """Twelve sides of two lots."""
    supply = replace(SIDES, area_mean_mm2=2.25 * MM2_PER_M2)
    hides = simulate_hides(supply, HIDES, seed=SEED, leather=LEATHER)
    lots = ["T-217"] * HIDES_IN_FIRST_LOT + ["G-040"] * (HIDES - HIDES_IN_FIRST_LOT)
    ids = [f"H{i + 1:02d}" for i in range(HIDES)]
    return [replace(hide, hide_id=name, lot=lot) for hide, name, lot in zip(hides, ids, lots, strict=True)]


def index_rows(hides: list[Hide]) -> list[tuple]:
    """The hide index. The second tannery sells by the quarter of a square foot: 21/3 is 21¾ ft²."""
    rows = [("id", "file", "leather", "lot", "class", "thickness_mm", "area", "unit", "price", "price_unit")]
    for i, hide in enumerate(hides):
        if i < HIDES_IN_FIRST_LOT:
            area, unit = f"{hide.measured_area_mm2 / MM2_PER_DM2:.1f}", "dm2"
        else:
            feet, quarters = divmod(round(4.0 * hide.measured_area_mm2 / MM2_PER_FT2), 4)
            area, unit = f"{feet}/{quarters}", "ft2"
        # One side was bought with a rebate.
        price = Decimal("39.00") if i == HIDES - 2 else ""
        rows.append((
            hide.hide_id, f"hides/{hide.hide_id}.dxf", hide.leather, hide.lot, hide.quality, hide.thickness_mm,
            area, unit, price, "m2" if price else "",
        ))
    return rows


def write_csv(path: Path, rows: list[tuple]) -> None:
    """A table, commas between its columns."""
    with open(path, "w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


def write_workbook(path: Path, rows: list[tuple]) -> None:
    """The same table as the first sheet of a workbook, without time stamps."""
    book = openpyxl.Workbook()
    book.properties.created = book.properties.modified = WHEN
    for row in rows:
        book.active.append(row)
    written = BytesIO()
    book.save(written)
    with zipfile.ZipFile(written) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                start, end = data.index(b"<dcterms:modified"), data.index(b"</dcterms:modified>")
                data = data[: data.index(b">", start) + 1] + WHEN.isoformat().encode() + b"Z" + data[end:]
            new.writestr(zipfile.ZipInfo(name, WHEN.timetuple()[:6]), data, zipfile.ZIP_DEFLATED)


# --- templates -----------------------------------------------------------------------------------


def new_drawing(*layers: str):
    """An empty R2000 drawing in millimetres."""
    document = ezdxf.new("R2000", units=R2000_MILLIMETRES)
    for colour, layer in enumerate(layers, start=1):
        document.layers.add(layer, color=colour)
    return document


def write_template_marks(space, heel: tuple, toe: tuple, limits: list[tuple], names: list[tuple]) -> None:
    """Axis, limits of the parts, and their names."""
    space.add_line(heel, toe, dxfattribs={"layer": "AXIS"})
    for limit in limits:
        space.add_point(limit, dxfattribs={"layer": "PARTS"})
    for name, at in names:
        space.add_text(name, height=5.0, dxfattribs={"layer": "PARTS"}).set_placement(at)


def bulge_through(start: tuple, middle: tuple, end: tuple) -> float:
    """Bulge of the arc from start to end through a middle point; the angle at the middle tells it.

    By the inscribed angle theorem the angle at the middle is 180° less half the included angle.
    """
    a, b = np.subtract(start, middle), np.subtract(end, middle)
    half_included = np.pi - np.arctan2(abs(a[0] * b[1] - a[1] * b[0]), np.dot(a, b))
    left = np.cross(np.append(np.subtract(end, start), 0.0), np.append(np.subtract(middle, start), 0.0))[2] > 0.0
    return float(np.tan(0.5 * half_included) * (-1.0 if left else 1.0))


def write_linden(path: Path) -> None:
    """Vamp of an ankle boot, size 39: a closed polyline of arcs, its own mirror image."""
    half = [  # from the toe along one side to the throat; every second point lies within an arc
        (160.0, 38.0), (146.0, 55.0), (120.0, 65.0), (75.0, 76.5), (20.0, 98.5), (6.0, 98.5), (0.0, 87.0),
        (2.0, 68.0), (10.0, 50.0), (18.0, 34.0), (22.0, 19.0),
    ]
    mirrored = [(x, -y) for x, y in half[::-1]]
    around = [(172.0, 0.0), *half, (24.0, 0.0), *mirrored]
    vertices = [
        (*start, bulge_through(start, middle, end))
        for start, middle, end in zip(around[1::2], around[2::2], [*around[3::2], around[1]], strict=False)
    ]
    vertices.append((*around[-1], bulge_through(around[-1], around[0], around[1])))
    document = new_drawing("TEMPLATE", "AXIS", "PARTS")
    space = document.modelspace()
    space.add_lwpolyline(vertices, format="xyb", close=True, dxfattribs={"layer": "TEMPLATE"})
    write_template_marks(
        space, heel=(-20.0, 0.0), toe=(190.0, 0.0),
        limits=[(146.0, 55.0), (0.0, 87.0), (0.0, -87.0), (146.0, -55.0)],
        names=[("toe", (176.0, 3.0)), ("side", (90.0, 75.0)), ("back", (8.0, 6.0)), ("side", (90.0, -80.0))],
    )
    document.saveas(path)


def write_alder(path: Path) -> None:
    """Vamp of a derby with a tongue, size 39, the left one: splines, lines and an arc that follow each other."""
    document = new_drawing("TEMPLATE", "AXIS", "PARTS")
    space = document.modelspace()
    on_template = {"layer": "TEMPLATE"}

    def curve(*points):
        space.add_open_spline(points, degree=3, dxfattribs=on_template)

    # Outer side, from the toe to the wing; the pattern lies turned on its sheet, as they do.
    curve((172.0, -1.0), (172.0, 26.0), (166.0, 48.0), (142.0, 62.0), (108.0, 70.0), (72.0, 80.0), (38.0, 102.0))
    curve((38.0, 102.0), (30.0, 107.0), (19.0, 105.0), (16.0, 95.0), (20.0, 74.0), (34.0, 56.0), (38.0, 38.0))
    space.add_line((38.0, 38.0), (-8.0, 30.0), dxfattribs=on_template)
    # The end of the tongue: half a circle.
    space.add_arc((-8.0, 0.0), 30.0, 90.0, 270.0, dxfattribs=on_template)
    space.add_line((-8.0, -30.0), (40.0, -37.0), dxfattribs=on_template)
    # Inner side: the wing is shorter and further forward.
    curve((40.0, -37.0), (38.0, -54.0), (31.0, -68.0), (27.0, -86.0), (30.0, -96.0), (39.0, -97.0), (47.0, -92.0))
    curve((47.0, -92.0), (80.0, -76.0), (112.0, -69.0), (146.0, -63.0), (168.0, -48.0), (172.0, -26.0), (172.0, -1.0))
    write_template_marks(
        space, heel=(-50.0, 0.0), toe=(190.0, 0.0),
        limits=[(149.0, 55.0), (23.0, 101.5), (33.0, -94.0), (151.0, -57.5)],
        names=[("toe", (175.0, 3.0)), ("side", (90.0, 80.0)), ("back", (-44.0, 6.0)), ("side", (90.0, -85.0))],
    )
    turn = ezdxf.math.Matrix44.z_rotate(np.radians(28.0)) @ ezdxf.math.Matrix44.translate(310.0, 120.0, 0.0)
    for entity in space:
        entity.transform(turn)
    document.saveas(path)


# --- hides ---------------------------------------------------------------------------------------


def write_hide(path: Path, hide: Hide) -> None:
    """One hide: its outline, its zones and its flaws, each with a text."""
    document = new_drawing("HIDE", "ZONES", "FLAWS")
    space = document.modelspace()

    def outline(ring, layer: str) -> None:
        points = [(round(x, 1), round(y, 1)) for x, y in list(ring.coords)[:-1]]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})

    def text(words: str, at, layer: str, height: float) -> None:
        place = (round(at.x, 1), round(at.y, 1))
        space.add_text(words, height=height, dxfattribs={"layer": layer}).set_placement(place)

    outline(hide.outline.exterior, "HIDE")
    for zone in hide.zones:
        for part in shapely.get_parts(zone.outline):
            outline(part.exterior, "ZONES")
            words = f"{zone.zone_id} class {zone.quality} stretch {zone.stretch_deg:g}"
            text(words, shapely.point_on_surface(part), "ZONES", 25.0)
    for flaw in hide.flaws:
        outline(flaw.outline.exterior, "FLAWS")
        words = f"{flaw.kind} severity {flaw.severity}"
        words += " tears" * flaw.tears + " coverable" * flaw.coverable
        text(words, shapely.point_on_surface(flaw.outline), "FLAWS", 6.0)
    document.saveas(path)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
