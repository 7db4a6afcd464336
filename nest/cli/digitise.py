"""The commands `digitise marks`, `table`, `hide`, `template` and `check`: from photographs to drawings."""

from pathlib import Path
from typing import Annotated

import typer

from nest.cli import options
from nest.cli.helpgroup import group_of
from nest.cli.screen import Screen
from nest.text import count_words

Photographs = Annotated[list[Path], typer.Argument(metavar="PHOTO...", help="Photographs, JPEG or PNG.")]
OutFile = Annotated[Path, typer.Option("--out", "-o", metavar="FILE", help="File to write.")]
MarkMm = Annotated[float, typer.Option("--mark-mm", min=20.0, max=1000.0, help="Side of the marks' black square.")]
Distances = Annotated[list[str] | None, typer.Option("--distance", metavar="'A B MM'",
                                                     help="Distance by tape between the crosses of marks A and B; may "
                                                          "be repeated.")]
TableFile = Annotated[Path | None, typer.Option("--table", metavar="TABLE", help="A fixed table, solved before.")]
Thickness = Annotated[float, typer.Option("--thickness", min=0.0, max=10.0, metavar="MM",
                                          help="Thickness of the leather: its edge is seen that far above the table.")]


def marks(
    out: OutFile,
    count: Annotated[int, typer.Option(min=1, max=100, help="How many sheets.")] = 12,
    first: Annotated[int, typer.Option(min=0, max=586, help="Number of the first.")] = 0,
    side: Annotated[float, typer.Option("--mark-mm", min=40.0, max=160.0, help="Side of the black square.")] = 160.0,
    quiet: options.Quiet = False,
) -> None:
    """Write mark sheets to print on A4 and lay about the hide."""
    from nest.digitise.marksheet import write_mark_sheets
    from nest.digitise.vision import opencv

    opencv()
    write_mark_sheets(out, count, first, side)
    them = "it" if count == 1 else "them"
    Screen(quiet).say(f"{count_words(count, 'mark sheet')} written to {out}: print {them} at actual size and measure "
                      "the rule, 100.0 mm.")


def table(
    photographs: Photographs,
    out: OutFile,
    distance: Distances = None,
    mark_mm: MarkMm = 160.0,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Solve camera and marks of a fixed place once, from one or more photographs of its marks."""
    from nest.digitise.picture import read_photograph
    from nest.digitise.scene import solve_scene
    from nest.digitise.table import fixed_table, write_table
    from nest.digitise.tablewords import table_figures, told

    asked = read_distances(distance)
    refuse_many(photographs)
    read = [read_photograph(path) for path in photographs]
    scene = solve_scene(read, mark_mm, asked)
    write_table(fixed_table(scene), out)
    figures = table_figures(scene, asked, read[0].turns)
    Screen(quiet, as_json).result(figures, *told(figures), f"Written: {out}.")


def hide(
    photographs: Photographs,
    *,
    out: Annotated[Path, typer.Option("--out", "-o", metavar="OUT",
                                      help="Drawing to write (.dxf or .geojson), or a folder for several "
                                           "photographs.")],
    table: TableFile = None,
    distance: Distances = None,
    mark_mm: MarkMm = 160.0,
    stroke: Annotated[list[str] | None, typer.Option("--stroke", metavar="'COLOUR=WORDS'",
                                                     help="What closed strokes of a colour are: 'red=scar severity 2 "
                                                          "tears', 'yellow=belly class 3'; an arrow in a zone is its "
                                                          "stretch.")] = None,
    rest: Annotated[str | None, typer.Option(metavar="WORDS",
                                             help="Zone of all other ground: 'butt class 1'; needs --stretch.")] = None,
    stretch: Annotated[float | None, typer.Option(min=-360.0, max=360.0, metavar="DEG",
                                                  help="Direction of most stretch where no arrow says it.")] = None,
    background: Annotated[Path | None, typer.Option(metavar="PHOTO",
                                                    help="The empty table, where it is not plain; with "
                                                         "--table.")] = None,
    thickness: Thickness = 1.5,
    index: Annotated[Path | None, typer.Option(metavar="CSV",
                                               help="Hide index with the tannery's areas: rows by id, the drawing's "
                                                    "name without suffix.")] = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Turn photographs of hides into drawings with flaws and zones, each with a check picture and an index row."""
    from nest.cli.digitised_hides import digitise_hides

    screen = Screen(quiet, as_json)
    refuse_many(photographs)
    code = digitise_hides(
        screen, photographs, out, table=table, distances=read_distances(distance), mark_mm=mark_mm,
        strokes=stroke or [], rest=rest, stretch=stretch, background=background, thickness=thickness, index=index,
    )
    raise typer.Exit(code)


def template(
    scan: Annotated[Path, typer.Argument(metavar="SCAN", help="Scan, or photograph with marks.")],
    *,
    out: OutFile,
    dpi: Annotated[float | None, typer.Option(min=100.0, max=1200.0,
                                              help="Of a scan; without it marks are looked for.")] = None,
    toe: Annotated[str | None, typer.Option(metavar="SIDE",
                                            help="Where the toe points in the picture: left, right, up, down.")] = None,
    distance: Distances = None,
    mark_mm: MarkMm = 160.0,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Turn a card template into a drawing that is ready to run: outline, axis, and parts to be looked over."""
    from nest.digitise.template import digitise_template

    picture = out.with_name(f"{out.stem}-check.png")
    figures, said = digitise_template(scan, out, picture, dpi, toe, mark_mm, read_distances(distance))
    Screen(quiet, as_json).result(figures, *said, f"Written: {out}; look at {picture}.")


def check(
    drawing: Annotated[Path, typer.Argument(metavar="DRAWING", help="DXF or GeoJSON.")],
    *,
    over: Annotated[Path, typer.Option("--over", metavar="PHOTO", help="Photograph of the hide.")],
    out: OutFile,
    table: TableFile = None,
    distance: Distances = None,
    mark_mm: MarkMm = 160.0,
    thickness: Thickness = 1.5,
    as_it_lies: Annotated[
        bool, typer.Option("--as-it-lies", help="Take the drawing's coordinates for the table's; do not fit it.")
    ] = False,
    unit: Annotated[str | None, typer.Option(help="Of a drawing that states none.")] = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Lay a drawing over a photograph of its hide, and say how far the outlines lie apart."""
    from nest.digitise.over import lay_over

    figures, said = lay_over(
        drawing, over, out, table=table, distances=read_distances(distance), mark_mm=mark_mm, thickness_mm=thickness,
        as_it_lies=as_it_lies, unit=unit,
    )
    Screen(quiet, as_json).result(figures, *said, f"Written: {out}.")


def read_distances(texts: list[str] | None):
    """The distances of the command line, "A B MM" each."""
    from nest.digitise.solve import Distance
    from nest.errors import PlanProblem

    found = []
    for text in texts or []:
        try:
            first, second, length = text.replace(",", " ").split()
            one = Distance(int(first), int(second), float(length))
        except ValueError:
            one = None
        if one is None or one.first == one.second or not 50.0 <= one.length_mm <= 1e5:
            raise PlanProblem(f"--distance: expected two marks and the mm between them, '3 9 2314', found {text!r}.")
        found.append(one)
    return tuple(found)


def refuse_many(photographs: list[Path]) -> None:
    """Refuse more photographs than any lot has hides."""
    from nest.errors import PlanProblem
    from nest.limits import MOST_PHOTOGRAPHS

    if len(photographs) > MOST_PHOTOGRAPHS:
        raise PlanProblem(f"Expected at most {MOST_PHOTOGRAPHS} photographs at once, found {len(photographs)}.")


group = group_of("digitise", "Hides and templates digitised from photographs and scans.", {
    "marks": (marks, "-o marks.pdf"),
    "table": (table, "a.jpg b.jpg --distance '3 9 2314' -o table.json"),
    "hide": (hide, "H17.jpg --table table.json -o H17.dxf"),
    "template": (template, "scan.png --dpi 300 -o vamp-39.dxf"),
    "check": (check, "H17.dxf --over H17.jpg -o check.png"),
})
