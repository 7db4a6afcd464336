"""A page of paper: lines, shapes and texts on a PDF canvas, every text with its box, so that none lies on another.

Lengths are points (72 to the inch), y runs downwards from the page's upper edge. The typeface is DejaVu Sans, which
matplotlib ships: it has Latin, Greek and Cyrillic letters, and is embedded in the file.
"""

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from io import BytesIO
from pathlib import Path

import numpy as np
import shapely
from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from nest.cutplan.stamp import EPOCH

MM = 72.0 / 25.4
"""Points in a millimetre."""

PAPER = 210.0 * MM, 297.0 * MM
"""A4 upright (ISO 216)."""

LEAST_SIZE = 7.0
"""No text is smaller than this, points."""

INK, QUIET, ALARM = "#1b1b1b", "#555555", "#b3261e"

PITCH = 1.22
"""From line to line, in sizes of the text."""

_ASCENT = 0.77
"""A text's box reaches this far above its base line, in sizes of the text, and the rest of one size below it."""

rl_config.useA85 = 0
"""Streams stay binary: written as letters (ASCII85) they take a third of the time of a sheet, and more room."""

_NAMES = {False: "DejaVuSans", True: "DejaVuSans-Bold"}
_HATCH_APART, _HALO = 2.6, 1.8
_MANY, _UNSEEN = 30, 0.05
"""A line of this many points is thinned, by no more than a fiftieth of a millimetre on paper."""


@dataclass(frozen=True, slots=True)
class Box:
    """Where a text stands: left, top, right, bottom, and its size."""

    x0: float
    y0: float
    x1: float
    y1: float
    size: float = 0.0
    text: str = ""

    def meets(self, other: "Box", apart: float = 0.0) -> bool:
        """Whether the two boxes lie nearer than this in both directions."""
        return (
            self.x0 < other.x1 + apart and other.x0 < self.x1 + apart
            and self.y0 < other.y1 + apart and other.y0 < self.y1 + apart
        )


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide a text is."""
    return size * _width_of_one(text, bold)


@lru_cache(maxsize=10_000)
def _width_of_one(text: str, bold: bool) -> float:
    _load()
    return pdfmetrics.stringWidth(text, _NAMES[bold], 1.0)


def wrapped(text: str, room: float, size: float, bold: bool = False) -> list[str]:
    """A text in lines no wider than `room`; a word that is wider by itself is broken."""
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if width(longer, size, bold) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        while width(word, size, bold) > room and len(word) > 1:
            cut = next(n for n in range(len(word) - 1, 0, -1) if n == 1 or width(word[:n], size, bold) <= room)
            lines.append(word[:cut])
            word = word[cut:]
        line = word
    return [*lines, line] if line or not lines else lines


def clipped(text: str, room: float, size: float, bold: bool = False) -> str:
    """The text, or as much of it as fits, with an ellipsis."""
    if width(text, size, bold) <= room:
        return text
    cut = next((n for n in range(len(text), 0, -1) if width(text[:n] + "…", size, bold) <= room), 0)
    return text[:cut] + "…"


def as_many(names: Sequence[str], room: float, size: float) -> str:
    """Names in a row, as many as fit, and how many more there are."""
    for count in range(len(names), 0, -1):
        more = f" and {len(names) - count} more" if count < len(names) else ""
        if width(said := ", ".join(names[:count]) + more, size) <= room:
            return said
    return clipped(", ".join(names), room, size)


_colour = cache(HexColor)


class Page:
    """What is drawn on one page, one thing after another, to be put into any file; `boxes` are those of its texts.

    Everything is written out as it is drawn, so that a page can be sent to another process, and into several files.
    """

    def __init__(self, size: tuple[float, float] = PAPER):
        self.size = size
        self.boxes: list[Box] = []
        self._drawn: list[Callable[[Canvas], None]] = []

    def put(self, canvas: Canvas, anchor: str = "", title: str = "") -> None:
        """Add the page to a file, with a name to jump to and a line among the bookmarks if they are given."""
        _load()
        canvas.setPageSize(self.size)
        if anchor:
            canvas.bookmarkPage(anchor)
            canvas.addOutlineEntry(title, anchor, 0)
        for draw in self._drawn:
            draw(canvas)
        canvas.showPage()

    def add(self, other: "Page") -> None:
        """Draw what is drawn on another page, above what is here."""
        self.boxes += other.boxes
        self._drawn += other._drawn

    def text(
        self, x: float, y: float, text: str, size: float = 8.0, *, bold: bool = False, colour: str = INK,
        align: str = "left", halo: bool = False,
    ) -> Box:
        """Write a line with its upper left corner here (upper right, or upper middle, by `align`); returns its box.

        With `halo` white surrounds its letters, so that they stand out from lines below.
        """
        wide = width(text, size, bold)
        left = x - {"left": 0.0, "middle": 0.5, "right": 1.0}[align] * wide
        at = left, self.size[1] - y - _ASCENT * size
        self._drawn.append(partial(_put_text, at, text, size, bold, colour, halo))
        box = Box(left, y, left + wide, y + size, size, text)
        self.boxes.append(box)
        return box

    def line(self, points, *, colour: str = INK, thick: float = 0.6, dashes: Sequence[float] = ()) -> None:
        """A line through points (n, 2)."""
        self._shape([points], False, None, colour, thick, dashes)

    def rings(
        self, rings: Iterable, *, fill: str | None = None, colour: str | None = INK, thick: float = 0.6,
        dashes: Sequence[float] = (), hatch: str | None = None,
    ) -> None:
        """Closed rings (n, 2) as one shape: filled where an odd number of them enclose, hatched with a colour."""
        rings = list(rings)
        if fill:
            self._shape(rings, True, fill, None, 0.0, ())
        if hatch:
            self._hatched(rings, hatch)
        if colour:
            self._shape(rings, True, None, colour, thick, dashes)

    def rectangle(self, x: float, y: float, wide: float, high: float, **look) -> None:
        """A rectangle with its upper left corner here."""
        self.rings([np.array(((x, y), (x + wide, y), (x + wide, y + high), (x, y + high)))], **look)

    def picture(self, grey: np.ndarray, to_page: np.ndarray, clip: Iterable) -> None:
        """A grey picture (h, w), its unit square moved by the (2, 3) map `to_page`, within rings."""
        (a, b, x), (c, d, y) = to_page
        packed = b"P5 %d %d 255\n" % grey.shape[::-1] + grey.astype(np.uint8).tobytes()  # PGM (netpbm)
        clip = _path(clip, True, self.size[1])
        self._drawn.append(partial(_put_picture, packed, clip, (a, -c, b, -d, x, self.size[1] - y)))

    def link(self, anchor: str, box: Box) -> None:
        """Jump to a page of this name from here."""
        high = self.size[1]
        self._drawn.append(partial(_put_link, anchor, (box.x0, high - box.y1, box.x1, high - box.y0)))

    def _shape(self, lines, closed: bool, fill: str | None, colour: str | None, thick: float, dashes) -> None:
        path = _path([_thinned(np.array(points, dtype=np.float64)) for points in lines], closed, self.size[1])
        self._drawn.append(partial(_put_shape, path, fill, colour, thick, tuple(dashes)))

    def _hatched(self, rings, colour: str) -> None:
        (x0, y0), (x1, y1) = np.vstack(rings).min(axis=0), np.vstack(rings).max(axis=0)
        tall, high = y1 - y0, self.size[1]
        strokes = [np.array(((x, y1), (x + tall, y0))) for x in np.arange(x0 - tall, x1, _HATCH_APART)]
        self._drawn.append(partial(_put_hatch, _path(rings, True, high), _path(strokes, False, high), colour))


def _put_text(at, text: str, size: float, bold: bool, colour: str, halo: bool, canvas: Canvas) -> None:
    canvas.setFont(_NAMES[bold], size)
    canvas.setFillColor(_colour(colour))
    if halo:
        canvas.setStrokeColor(_colour("#ffffff"))
        canvas.setDash()
        canvas.setLineWidth(_HALO)
        canvas.setLineJoin(1)
        canvas.drawString(*at, text, mode=1)
    canvas.drawString(*at, text, mode=0)


def _put_shape(path: str, fill: str | None, colour: str | None, thick: float, dashes, canvas: Canvas) -> None:
    canvas.setDash(*dashes) if dashes else canvas.setDash()
    canvas.setLineWidth(thick)
    if fill:
        canvas.setFillColor(_colour(fill))
    if colour:
        canvas.setStrokeColor(_colour(colour))
    canvas.drawPath(PDFPathObject([path]), stroke=bool(colour), fill=bool(fill), fillMode=0)


def _put_hatch(clip: str, strokes: str, colour: str, canvas: Canvas) -> None:
    canvas.saveState()
    canvas.clipPath(PDFPathObject([clip]), stroke=0, fill=0, fillMode=0)
    canvas.setLineWidth(0.5)
    canvas.setStrokeColor(_colour(colour))
    canvas.drawPath(PDFPathObject([strokes]), stroke=1, fill=0)
    canvas.restoreState()


def _put_picture(packed: bytes, clip: str, to_page: tuple[float, ...], canvas: Canvas) -> None:
    canvas.saveState()
    canvas.clipPath(PDFPathObject([clip]), stroke=0, fill=0)
    canvas.transform(*to_page)
    canvas.drawImage(ImageReader(BytesIO(packed)), 0, 0, 1, 1)
    canvas.restoreState()


def _put_link(anchor: str, place: tuple[float, ...], canvas: Canvas) -> None:
    canvas.linkRect("", anchor, place, Border="[0 0 0]")


def _thinned(points: np.ndarray) -> np.ndarray:
    """A line without the points that nobody sees on paper."""
    if len(points) < _MANY:
        return points
    return shapely.get_coordinates(shapely.simplify(shapely.linestrings(points), _UNSEEN, preserve_topology=False))


def _path(lines: Iterable[np.ndarray], closed: bool, high: float) -> str:
    """Lines as operators of a path (PDF 1.7, ISO 32000-1, 8.5.2).

    The library's own moveTo and lineTo format each number by itself, which takes half of the time of a sheet.
    """
    code = ["n"]
    for points in lines:
        (x, y), *rest = points.tolist()
        code.append(f"{x:.2f} {high - y:.2f} m")
        code += [f"{x:.2f} {high - y:.2f} l" for x, y in rest]
        code += ["h"] if closed else []
    return " ".join(code)


def new_canvas(path: Path, title: str) -> Canvas:
    """A PDF file to draw pages on; the same pages give the same file."""
    # A time of writing in the environment would get into one file and not into another, and be read unchecked.
    stated = os.environ.pop(EPOCH, None)
    try:
        canvas = Canvas(str(path), pagesize=PAPER, invariant=1, pageCompression=1)
    finally:
        if stated is not None:
            os.environ[EPOCH] = stated
    canvas.setTitle(title)
    canvas.setCreator("vampyield")
    return canvas


@cache
def _load() -> None:
    from matplotlib import get_data_path

    for name in _NAMES.values():
        pdfmetrics.registerFont(TTFont(name, str(Path(get_data_path(), "fonts", "ttf", f"{name}.ttf"))))
