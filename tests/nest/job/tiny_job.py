"""A job of one style, one hide and one roll, and ways to spoil it."""

from pathlib import Path

import ezdxf

JOB = """\
name = "tiny"
order = "order.csv"
hides = "hides.csv"

[settings]
seconds = 5

[[leather]]
name = "calf"
price = 44.50
price_unit = "m2"

[[roll]]
name = "knit"
width_mm = 900
selvedge_mm = 10
length_m = 20
weight_g_m2 = 90
price_per_m = 4.20

[[weight_table]]
upper_to_mm = 1.2
least_g_m2 = 100
most_g_m2 = 150

[[weight_table]]
upper_to_mm = 1.8
least_g_m2 = 70
most_g_m2 = 110

[[style]]
name = "plain"
leather = "calf"
roll = "knit"
template = "plain.dxf"
thickness_mm = 1.4
reject_percent = 3

[style.grading]
system = "paris"
base_size = "38"

[style.allowances]
toe_mm = 12
side_mm = 12
back_mm = 10

[style.rules]
tolerance_deg = 10
net_quality = 2
"""

ORDER = "size,pairs\n37,4\n38,6\n39,3\n"

HIDES = "id,file,leather,class,thickness_mm,area,unit\nA1,a1.dxf,calf,1,1.4,59.9,dm2\n"

TEMPLATE = [(0.0, -60.0), (120.0, -50.0), (160.0, 0.0), (120.0, 50.0), (0.0, 60.0), (20.0, 0.0)]
LIMITS = [(120.0, -50.0), (120.0, 50.0), (0.0, 60.0), (0.0, -60.0)]
NAMES = [("toe", (165.0, 0.0)), ("side", (60.0, 60.0)), ("side", (60.0, -60.0)), ("back", (10.0, 5.0))]
HIDE = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 600.0), (0.0, 600.0)]
ZONES = [("butt class 1 stretch 90", (0.0, 600.0)), ("belly class 2 stretch 80", (600.0, 1000.0))]
FLAW = [(100.0, 100.0), (120.0, 100.0), (120.0, 104.0), (100.0, 104.0)]


def write(folder: Path) -> None:
    """Write the sound job."""
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "order.csv").write_text(ORDER, encoding="utf-8")
    (folder / "hides.csv").write_text(HIDES, encoding="utf-8")
    template = ezdxf.new("R2000", units=4)
    space = template.modelspace()
    space.add_lwpolyline(TEMPLATE, close=True, dxfattribs={"layer": "TEMPLATE"})
    space.add_line((-10.0, 0.0), (170.0, 0.0), dxfattribs={"layer": "AXIS"})
    for limit in LIMITS:
        space.add_point(limit, dxfattribs={"layer": "PARTS"})
    for name, at in NAMES:
        space.add_text(name, dxfattribs={"layer": "PARTS"}).set_placement(at)
    template.saveas(folder / "plain.dxf")
    hide = ezdxf.new("R2000", units=4)
    space = hide.modelspace()
    space.add_lwpolyline(HIDE, close=True, dxfattribs={"layer": "HIDE"})
    for text, (left, right) in ZONES:
        space.add_lwpolyline(box(left, 0.0, right, 600.0), close=True, dxfattribs={"layer": "ZONES"})
        space.add_text(text, dxfattribs={"layer": "ZONES"}).set_placement((left + 50.0, 300.0))
    space.add_lwpolyline(FLAW, close=True, dxfattribs={"layer": "FLAWS"})
    space.add_text("scratch severity 2 coverable", dxfattribs={"layer": "FLAWS"}).set_placement((105.0, 102.0))
    hide.saveas(folder / "a1.dxf")


def box(left: float, low: float, right: float, high: float) -> list[tuple[float, float]]:
    """Corners of a rectangle."""
    return [(left, low), (right, low), (right, high), (left, high)]


def replace_in(name: str, old: str, new: str):
    """A way to spoil a text file: one piece of text for another."""

    def spoil(folder: Path) -> None:
        text = (folder / name).read_text(encoding="utf-8")
        assert old in text, f"{old!r} is not in {name}"
        (folder / name).write_text(text.replace(old, new, 1), encoding="utf-8")

    return spoil


def redraw(name: str, change):
    """A way to spoil a drawing: `change` gets the document and its model space."""

    def spoil(folder: Path) -> None:
        document = ezdxf.readfile(folder / name)
        change(document, document.modelspace())
        document.saveas(folder / name)

    return spoil


def on(space, layer: str, kind: str = "*"):
    """Entities of a kind on a layer."""
    return space.query(f'{kind}[layer=="{layer}"]')


def put_points(layer: str, points, index: int = 0):
    """A change of a drawing: other points for a polyline on the layer."""
    return lambda document, space: on(space, layer, "LWPOLYLINE")[index].set_points(points)


def put_text(layer: str, old: str, new: str):
    """A change of a drawing: another text."""

    def change(document, space):
        next(text for text in on(space, layer, "TEXT") if text.dxf.text == old).dxf.text = new

    return change


def remove(layer: str, kind: str = "*", text: str | None = None):
    """A change of a drawing: entities taken away."""

    def change(document, space):
        for entity in on(space, layer, kind):
            if text is None or entity.dxf.text == text:
                space.delete_entity(entity)

    return change


def with_more(folder, text):
    """The job file of a folder, with more at its end."""
    with open(folder / "job.toml", "a", encoding="utf-8") as file:
        file.write(text)
    return folder / "job.toml"
