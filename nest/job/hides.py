"""The hide index: one row a hide, with its drawing and what was measured, classed and paid.

Columns: id, file, leather, class, thickness_mm, area, unit; and if wanted lot, price (where it differs from the
leather's own), price_unit (m2, dm2 or ft2; without it a price is for the leather's price unit) and stretch_deg (for a
hide whose drawing has no zones: the whole hide is then one zone of the hide's class). Of a hide that was photographed,
area_within says how sure the area is; it is kept for the reader of the table.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from nest.job.backdrop import read_backdrop
from nest.job.files import Folder, Source, source_within
from nest.job.findings import Findings, meant
from nest.job.hide_drawing import HideShape, read_hide_shape
from nest.job.schema import LayersSection, LeatherSection
from nest.job.table import Row, read_table
from nest.job.values import (
    AREA_DOUBT,
    AREA_REFUSAL,
    ValueFault,
    area_mm2,
    checked_name,
    decimal,
    money,
    positive,
    two_readings,
    whole,
)
from nest.stock.material import UNKNOWN, Hide, Zone
from nest.units import MM2_PER_AREA_UNIT

NEEDED = ("id", "file", "leather", "class", "thickness_mm", "area", "unit")
OPTIONAL = ("lot", "price", "price_unit", "stretch_deg", "area_within")

LEAST_PRICE_SHARE = Decimal("0.1")
"""A price such as 1.250 that is less than this share of its leather's own may have been meant as 1250."""


def read_hides(
    source: Source, folder: Folder, leathers: Mapping[str, LeatherSection | None], layers: LayersSection,
    unit: str | None, findings: Findings,
) -> tuple[Hide, ...]:
    """Read the index and every drawing it names; hides with problems are left out.

    `leathers` holds the section of each leather by name, None where that was refused. `folder` is the job's folder,
    against which the names of drawings are resolved.
    """
    rows = read_table(source, NEEDED, OPTIONAL, findings)
    if rows is None:
        return ()
    if not rows:
        findings.refuse(source.name, "at least one hide", "none", "list the hides, or leave hides out of the job file")
        return ()
    hides = []
    place_of_id: dict[str, str] = {}
    place_of_file: dict[str, str] = {}
    for row in rows:
        hide_id = row["id"]
        if hide_id in place_of_id:
            findings.refuse(row.where, "an id of its own", f"{hide_id!r} again", f"see {place_of_id[hide_id]}")
        elif hide_id:
            place_of_id[hide_id] = row.where
        if row["file"] in place_of_file:
            findings.warn(row.where, f"the drawing {row['file']!r} is that of {place_of_file[row['file']]} too")
        elif row["file"]:
            place_of_file[row["file"]] = row.where
        hide = _hide(row, folder, leathers, layers, unit, findings)
        if hide is not None:
            hides.append(hide)
    _say_price_units(rows, leathers, findings)
    return tuple(hides)


def _hide(
    row: Row, folder: Folder, leathers: Mapping[str, LeatherSection | None], layers: LayersSection, unit: str | None,
    findings: Findings,
) -> Hide | None:
    """One hide from its row and its drawing."""
    before = findings.refused
    hide_id = row.value("id", checked_name, findings)
    if row["leather"] not in leathers:
        row.refuse("leather", "a leather of the job file", meant(row["leather"], leathers), findings)
    quality = row.value("class", lambda text: whole(text, "a class", least=1), findings)
    thickness = row.value("thickness_mm", lambda text: positive(text, "a thickness"), findings)
    measured = row.value("area", lambda text: area_mm2(text, row["unit"].casefold()), findings)
    price_unit = _price_unit(row, findings) if row["price"] else ""
    usual = _usual(leathers.get(row["leather"]), price_unit)
    price = row.value("price", lambda text: _price(text, usual), findings) if row["price"] else None
    stretch = row.value("stretch_deg", _stretch, findings) if row["stretch_deg"] else None
    drawing = source_within(folder, row["file"], f"{row.where}, file", findings)
    shape = None if drawing is None else read_hide_shape(drawing, layers, unit, findings)
    if drawing is not None and shape is not None:
        if not shape.zones and not row["stretch_deg"]:
            findings.refuse(
                f"{drawing.name}, layer {layers.hide_zones}", "the zones of the hide", "none",
                "draw them, or give stretch_deg in the index",
            )
        if measured is not None:
            _compare_areas(row, drawing, shape, measured, findings)
    if hide_id is None or quality is None or thickness is None or measured is None or drawing is None or shape is None:
        return None
    if findings.refused > before:
        return None
    zones = shape.zones or (Zone("whole", quality, stretch, shape.outline),)
    return Hide(
        hide_id, row["leather"], row["lot"], quality, thickness, measured, shape.outline, zones, shape.flaws, price,
        price_unit, shape.photograph, shape.within_mm,
        read_backdrop(drawing.path, findings) if shape.photograph else None,
    )


def _stretch(text: str) -> float | None:
    """A direction of stretch; None where the list says it is unknown."""
    return None if text.casefold() == UNKNOWN else float(decimal(text, f"an angle, or {UNKNOWN}")) % 180.0


def _price(text: str, usual: Decimal | None) -> Decimal:
    """The price of a hide; one that may be read two ways must come near the leather's own as it stands."""
    price = money(text, "a price")
    readings = two_readings(text)
    if readings and usual and LEAST_PRICE_SHARE * usual > price:
        small, large = readings
        raise ValueFault(f"a price about the {usual} of its leather", f"{text!r}, which may mean {small} or {large}",
                         "write one of both")
    return price


def _usual(leather: LeatherSection | None, unit: str) -> Decimal | None:
    """The price of a leather per area unit, "" for its own; None if it was refused."""
    if leather is None or unit not in ("", *MM2_PER_AREA_UNIT):
        return None
    factor = MM2_PER_AREA_UNIT[unit or leather.price_unit] / MM2_PER_AREA_UNIT[leather.price_unit]
    return leather.price * round(Decimal(factor), 9) if unit else leather.price


def _price_unit(row: Row, findings: Findings) -> str:
    """Unit of area that the row's price is for, "" for that of its leather."""
    given = row["price_unit"].casefold()
    if given and given not in MM2_PER_AREA_UNIT:
        row.refuse("price_unit", f"one of {', '.join(MM2_PER_AREA_UNIT)}", "correct the unit", findings)
    return given


def _say_price_units(rows: Iterable[Row], leathers: Mapping[str, LeatherSection | None], findings: Findings) -> None:
    """Say once a leather which unit its prices are taken to be for, where the hides are measured in another."""
    silent: dict[tuple[str, str, str], list[Row]] = {}
    for row in rows:
        section, measured = leathers.get(row["leather"]), row["unit"].casefold().split(" ")[0]
        own = section and section.price_unit
        if row["price"] and not row["price_unit"] and own and measured != own:
            silent.setdefault((row["leather"], own, measured), []).append(row)
    for (leather, own, measured), mine in silent.items():
        more = f" and of {len(mine) - 1} more" if len(mine) > 1 else ""
        findings.warn(
            f"{mine[0].where}, price", f"{mine[0]['price']}{more} taken per {own}, the price unit of {leather}, though "
            f"areas are in {measured}; a column price_unit may say otherwise",
        )


def _compare_areas(row: Row, drawing: Source, shape: HideShape, measured: float, findings: Findings) -> None:
    """Hold the measured area against the drawn one: a wrong unit shows here."""
    drawn = shape.outline.area
    share = measured / drawn - 1.0
    said = f"{measured / 1e4:.1f} dm² measured, {drawn / 1e4:.1f} dm² drawn in {drawing.name}"
    if abs(share) > AREA_REFUSAL:
        findings.refuse(
            f"{row.where}, area", f"an area within {AREA_REFUSAL:.0%} of the drawing's", said,
            "check the unit of the area and of the drawing",
        )
    elif abs(share) > AREA_DOUBT:
        findings.warn(f"{row.where}, area", f"{said}; check the drawing")
