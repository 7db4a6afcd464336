"""What `digitise hide` does with its photographs: names, index rows, and the words at the end."""

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from nest.cli.codes import Exit
from nest.cli.screen import Screen
from nest.text import count_words

if TYPE_CHECKING:
    from nest.digitise.shop import Digitised
    from nest.digitise.write import IndexRow

DRAWINGS = (".dxf", ".geojson", ".json")


def digitise_hides(
    screen: Screen, photographs: list[Path], out: Path, *, table, distances, mark_mm, strokes, rest, stretch,
    background, thickness, index,
) -> Exit:
    """Digitise all, write what was found, say the rest; bad input if any photograph was refused."""
    from geometry.processors import processor_cores
    from nest.digitise.meanings import read_meaning, read_rest
    from nest.digitise.shop import Asked, digitise_all
    from nest.digitise.vision import opencv
    from nest.digitise.write import earlier_rows, write_index
    from nest.errors import PlanProblem

    opencv()
    meanings = tuple(read_meaning(*_parted(text)) for text in strokes)
    if rest is not None and stretch is None:
        raise PlanProblem("--rest needs --stretch: the direction of most stretch of that ground, degrees.")
    asked = Asked(
        mark_mm, distances, table, background, thickness, meanings, None if rest is None else read_rest(rest), stretch
    )
    known = {} if index is None else _known_rows(index)
    one_file = out.suffix.casefold() in DRAWINGS
    if one_file and len(photographs) > 1:
        raise PlanProblem(f"{out}: several photographs need a folder; name one without a suffix.")
    folder = out.parent if one_file else out
    names = [out.stem] if one_file else _names(photographs)
    written = out.with_name(f"{out.stem}-index.csv") if one_file else folder / "hides.csv"
    kept = earlier_rows(written, names)
    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    jobs = []
    for photograph, name in zip(photographs, names, strict=True):
        drawing = out if one_file else folder / f"{name}.dxf"
        measured = known[name][1] if name in known else None
        jobs.append((photograph, drawing, drawing.with_name(f"{drawing.stem}-check.png"), measured))
    found = digitise_all(jobs, asked, processor_cores())
    good = [one for one in found if not one.refused]
    if not good and made and not one_file:
        shutil.rmtree(folder, ignore_errors=True)
    rows = [
        _row(one, name, known.get(name), thickness, stretch)
        for one, name in zip(found, names, strict=True)
        if not one.refused
    ]
    if rows:
        write_index([*kept, *rows], written)
    for one in found:
        if one.refused:
            screen.complain(one.refused)
    screen.result(
        {"hides": [_data(one) for one in found]},
        *(_told(one) for one in good),
        *(
            [f"Index row{'s' * (len(rows) > 1)}: {written}; look at the check pictures before anything is cut."]
            if rows
            else []
        ),
    )
    for one, name in zip(found, names, strict=True):
        if index is not None and name not in known and not one.refused:
            screen.say(f"{one.photograph}: no row of {index} has the id {name}; its area was compared with nothing.")
        screen.say(*(f"{one.photograph}: {sentence}." for sentence in one.said))
    return Exit.DONE if len(good) == len(found) else Exit.BAD_INPUT


def _parted(text: str) -> tuple[str, str]:
    colour, _, words = text.partition("=")
    return colour, words


def _names(photographs: list[Path]) -> list[str]:
    """Ids of the hides in a folder: the photographs' names without suffix, each once."""
    from nest.errors import PlanProblem

    names = [path.stem for path in photographs]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise PlanProblem(f"Two photographs are named {twice[0]}; name each after its hide.")
    return names


def _known_rows(index: Path) -> "dict[str, tuple[IndexRow, float]]":
    """Rows of a hide index by id, with their areas in mm²."""
    from functools import partial

    from nest.digitise.write import INDEX_COLUMNS, IndexRow
    from nest.job.findings import Findings
    from nest.job.hides import NEEDED, OPTIONAL
    from nest.job.table import read_table_at
    from nest.job.values import area_mm2

    findings = Findings()
    needed = tuple(name for name in NEEDED if name != "file")
    rows = read_table_at(index, needed, (*OPTIONAL, "file"), findings)
    found: dict[str, tuple[IndexRow, float]] = {}
    for row in rows or ():
        area = row.value("area", partial(area_mm2, unit=row["unit"].casefold()), findings)
        if area is not None:
            kept = INDEX_COLUMNS[: INDEX_COLUMNS.index("area_within")]
            found[row["id"]] = (IndexRow(*(row[column] for column in kept)), area)
    findings.raise_problems()
    return found


def _row(one: "Digitised", name: str, known, thickness: float, stretch: float | None) -> "IndexRow":
    """The index row: what the tannery's row says, else what the photograph says; the area's ± always."""
    from dataclasses import replace

    from nest.digitise.write import IndexRow
    from nest.units import MM2_PER_AREA_UNIT

    direction = "" if one.zones or stretch is None else f"{stretch:g}"
    if known is not None:
        row = replace(known[0], file=one.drawing.name, stretch_deg=known[0].stretch_deg or direction)
    else:
        row = IndexRow(
            name, one.drawing.name, thickness_mm=f"{thickness:g}", area=f"{one.area_mm2 / 1e4:.2f}",
            stretch_deg=direction,
        )
    unit = MM2_PER_AREA_UNIT[row.unit.casefold()]
    return replace(row, area_within=f"{one.area_within_mm2 / unit:.3g}")


def _told(one: "Digitised") -> str:
    return (
        f"{one.photograph}: {one.area_mm2 / 1e4:.1f} ± {one.area_within_mm2 / 1e4:.2f} dm², outline within "
        f"{one.within_mm:.1f} mm (95 %), {count_words(one.holes, 'hole')}, {count_words(one.zones, 'zone')}, "
        f"{count_words(one.flaws, 'flaw')}, {count_words(one.marks, 'mark')}, "
        f"camera tilted {one.tilt_deg:.0f}°: {one.drawing}"
    )


def _data(one: "Digitised") -> dict:
    return {
        "photograph": one.photograph,
        "refused": one.refused or None,
        "drawing": None if one.refused else str(one.drawing),
        "area_mm2": round(one.area_mm2, 1),
        "area_within_mm2": round(one.area_within_mm2, 1),
        "outline_within_mm": round(one.within_mm, 3),
        "holes": one.holes,
        "zones": one.zones,
        "flaws": one.flaws,
        "marks": one.marks,
        "tilt_deg": round(one.tilt_deg, 2),
        "said": list(one.said),
    }
