"""The straightened photograph of a hide that lies beside its drawing, to be shown, pale, under a layout.

The drawing H17.dxf has it as H17-straight.pgm: grey, Netpbm's binary PGM, whose comment says where it lies:
"# mm x0 y0 x1 y1", the corners in the drawing's coordinates. A drawing may have none; for a damaged one
there is a warning.
"""

import base64
import re
import zlib
from pathlib import Path

from nest.job.findings import Findings
from nest.limits import LARGEST_BACKDROP_PIXELS, LARGEST_COORDINATE
from nest.plainfile import NotPlain, read_plain
from nest.stock.material import Backdrop

_HEAD = re.compile(rb"P5\n# mm((?: -?\d{1,7}(?:\.\d{1,3})?){4})\n(\d{1,5}) (\d{1,5})\n255\n")


def backdrop_path(drawing: Path) -> Path:
    """Where the picture of a drawing lies."""
    return drawing.with_name(f"{drawing.stem}-straight.pgm")


def read_backdrop(drawing: Path, findings: Findings) -> Backdrop | None:
    """The picture beside a drawing; None if there is none, or, with a warning, if it is damaged."""
    path = backdrop_path(drawing)
    try:
        data = read_plain(path, LARGEST_BACKDROP_PIXELS + 200)
    except NotPlain as found:
        if isinstance(found.__cause__, FileNotFoundError):
            return None
        data = b""
    match = _HEAD.match(data)
    if match:
        x0, y0, x1, y1 = (float(one) for one in match[1].split())
        width, height = int(match[2]), int(match[3])
        grey = data[match.end() :]
        fits = 0 < width * height <= LARGEST_BACKDROP_PIXELS and len(grey) == width * height
        if fits and x0 < x1 and y0 < y1 and max(map(abs, (x0, y0, x1, y1))) <= LARGEST_COORDINATE:
            packed = base64.b64encode(zlib.compress(grey, 9)).decode("ascii")
            return Backdrop(packed, width, height, x0, y0, x1, y1)
    findings.warn(path.name, "the photograph to be shown under the layout is damaged and was left out")
    return None
