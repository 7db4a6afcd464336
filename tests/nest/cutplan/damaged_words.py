"""Damages of a drawing: words, layers and the header say something else."""

from drawing_changes import damage, layer, mm, on, pick, texts
from ezdxf.math import Matrix44


@damage
def labels_swapped(document, rng, written):
    """The texts of two pieces exchanged, but for their numbers half of the time."""
    labels = texts(document, written, "labels")
    if len(labels) < 2:
        return False
    one, other = (labels[i] for i in rng.permutation(len(labels))[:2])
    before = a, b = one.dxf.text, other.dxf.text
    if rng.integers(2):
        (words, _, number), (others, _, another) = a.rpartition("no."), b.rpartition("no.")
        a, b = f"{words}no.{another}", f"{others}no.{number}"
    one.dxf.text, other.dxf.text = b, a
    return (b, a) != before


@damage
def size_relabelled(document, rng, written):
    """Another size on a label."""
    found = pick(rng, texts(document, written, "labels"))
    size = next(size for size in ("38", "39", "40", "41", "42", "36", "37") if f" {size}" in found.dxf.text)
    found.dxf.text = found.dxf.text.replace(f" {size}", f" {int(size) + 1}", 1)


@damage
def label_moved(document, rng, written):
    """A label where another piece is, or a little aside."""
    found = pick(rng, texts(document, written, "labels"))
    found.transform(Matrix44.translate(mm(written) * pick(rng, [1.0, 250.0]), 0.0, 0.0))


@damage
def legend_changed(document, rng, written):
    """One letter or digit of one line of the legend, the check sums too."""
    found = pick(rng, texts(document, written, "legend"))
    text = found.dxf.text
    at = pick(rng, [i for i, letter in enumerate(text) if letter.isalnum() and letter.isascii()])
    new = pick(rng, [one for one in ("7", "3", "q") if one != text[at]])
    found.dxf.text = text[:at] + new + text[at + 1 :]


@damage
def legend_line_deleted(document, rng, written):
    """One line of the legend."""
    document.modelspace().delete_entity(pick(rng, texts(document, written, "legend")))


@damage
def check_sums_deleted(document, rng, written):
    """All lines of check sums, with a piece's marks."""
    for one in texts(document, written, "legend"):
        if one.dxf.text.startswith("Check sum"):
            document.modelspace().delete_entity(one)


@damage
def reference_text_changed(document, rng, written):
    """The class or the stretch of a zone, the severity of a flaw, the name of a registration point."""
    found = pick(rng, texts(document, written, "zones", "flaws", "points"))
    text = found.dxf.text
    digits = [i for i, letter in enumerate(text) if letter.isdigit()]
    at = pick(rng, digits) if digits else 0
    found.dxf.text = text[:at] + pick(rng, [one for one in "159" if one != text[at]]) + text[at + 1 :]


@damage
def tool_radius_restated(document, rng, written):
    """Another radius of the tool in the legend."""
    for one in texts(document, written, "legend"):
        if "tool's radius" in one.dxf.text:
            one.dxf.text = one.dxf.text.replace("radius, 0.", "radius, 1.")
            return True
    return False


@damage
def on_another_layer(document, rng, written):
    """An entity of one layer on another."""
    uses = ["cut", "axis", "size", "net", "heading", "material", "labels", "lead"]
    one, other = (uses[i] for i in rng.permutation(len(uses))[:2])
    found = pick(rng, on(document, written, one))
    if found is None:
        return False
    found.dxf.layer = layer(written, other)


@damage
def unit_of_the_header(document, rng, written):
    """$INSUNITS says another unit, or none."""
    if written.version == "R12":
        return False
    right = {"mm": 4, "cm": 5, "in": 1}[written.table.unit]
    document.header["$INSUNITS"] = int(pick(rng, [code for code in (0, 1, 2, 4, 5, 6) if code != right]))


@damage
def measurement_of_the_header(document, rng, written):
    """$MEASUREMENT says the other system."""
    if written.version == "R12":
        return False
    document.header["$MEASUREMENT"] = 1 - document.header["$MEASUREMENT"]
