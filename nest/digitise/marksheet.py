"""Mark sheets: one mark to an A4 page, with its number, its size, a cross to measure distances from, and a rule."""

from pathlib import Path

from nest.atomic import atomic_path
from nest.digitise.marks import CELLS, MOST_MARKS, USUAL_SIDE_MM, cells_of
from nest.errors import PlanProblem

A4_MM = (210.0, 297.0)
_MM_PER_POINT = 25.4 / 72.0
SIDES_MM = (40.0, 160.0)
"""Smallest and largest square: smaller ones are not seen from where a side is seen, larger ones leave no white rim."""

CROSS = (0.0, -0.66)
"""Place of the cross in the mark's frame, in sides of the square: below its middle."""

RULE_MM = 100.0
"""The printer is checked with it (ISO 216 gives the page)."""

MOST_SHEETS = 100

_WORDS = (
    "Print at actual size (100 %), on stiff matt paper. Measure the rule: it must be 100.0 mm, by 0.2 mm at most.",
    "Lay eight to sixteen sheets flat about the hide, on all four sides, 5 to 40 cm from its edge, each number once.",
    "The whole white rim must be seen. For the scale, measure by tape from cross to cross of two sheets far apart.",
)


def write_mark_sheets(path: str | Path, count: int = 12, first: int = 0, side_mm: float = USUAL_SIDE_MM) -> None:
    """Write `count` sheets, numbers from `first` on, as a PDF of vector drawings, atomically.

    Raises
    ------
    PlanProblem
        If the numbers or the size cannot be.
    """
    if not 1 <= count <= MOST_SHEETS or first < 0 or first + count > MOST_MARKS:
        raise PlanProblem(
            f"Mark sheets: expected 1 to {MOST_SHEETS} of numbers 0 to {MOST_MARKS - 1}, found {count} from {first} on."
        )
    if not SIDES_MM[0] <= side_mm <= SIDES_MM[1]:
        raise PlanProblem(f"Mark sheets: expected a side of {SIDES_MM[0]:g} to {SIDES_MM[1]:g} mm, found {side_mm:g}.")
    from matplotlib.backends.backend_pdf import PdfPages

    with atomic_path(path) as part, PdfPages(part, metadata={"CreationDate": None}) as pages:
        for number in range(first, first + count):
            pages.savefig(_page(number, side_mm))


def _page(number: int, side_mm: float):
    from matplotlib.backends.backend_pdf import FigureCanvasPdf
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle

    figure = Figure(figsize=(A4_MM[0] / 25.4, A4_MM[1] / 25.4))
    FigureCanvasPdf(figure)
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(0.0, A4_MM[0]), ylim=(0.0, A4_MM[1]))
    ax.set_axis_off()
    x, y = 0.5 * A4_MM[0], A4_MM[1] - 0.5 * A4_MM[0] - 5.0
    cell = side_mm / CELLS
    for row, columns in enumerate(cells_of(number)):
        start = None
        for column, white in enumerate([*columns, True]):
            if not white and start is None:
                start = column
            if white and start is not None:
                # Rows overlap by a hair: no viewer then shows a white line between them.
                below = y + 0.5 * side_mm - (row + 1) * cell
                hair = 0.05 if row + 1 < CELLS and not cells_of(number)[row + 1, start:column].any() else 0.0
                ax.add_patch(
                    Rectangle(
                        (x - 0.5 * side_mm + start * cell, below - hair), (column - start) * cell, cell + hair,
                        facecolor="black", edgecolor="none", linewidth=0.0, antialiased=False,
                    )
                )
                start = None
    _cross(ax, x + CROSS[0] * side_mm, y + CROSS[1] * side_mm)
    ax.text(12.0, y + CROSS[1] * side_mm - 4.0, f"{number}", fontsize=40, weight="bold", va="center")
    words = f"vampyield mark {number}, AprilTag 36h11, black square {side_mm:g} mm"
    ax.text(A4_MM[0] - 12.0, y + CROSS[1] * side_mm - 4.0, words, fontsize=8, ha="right", va="center")
    _rule(ax, 0.5 * (A4_MM[0] - RULE_MM), 38.0)
    for i, sentence in enumerate(_WORDS):
        ax.text(12.0, 24.0 - 5.0 * i, sentence, fontsize=7.5, va="center")
    return figure


def _cross(ax, x: float, y: float) -> None:
    for dx, dy in ((5.0, 0.0), (0.0, 5.0)):
        ax.plot((x - dx, x + dx), (y - dy, y + dy), color="black", linewidth=0.2 / _MM_PER_POINT, solid_capstyle="butt")


def _rule(ax, x: float, y: float) -> None:
    line = {"color": "black", "linewidth": 0.2 / _MM_PER_POINT, "solid_capstyle": "butt"}
    ax.plot((x, x + RULE_MM), (y, y), **line)
    for i in range(11):
        at = x + 10.0 * i
        ax.plot((at, at), (y, y + (5.0 if i in (0, 10) else 2.5)), **line)
    ax.text(x + 0.5 * RULE_MM, y - 4.0, f"{RULE_MM:g} mm", fontsize=8, ha="center", va="center")
