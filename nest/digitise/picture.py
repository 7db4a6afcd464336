"""A photograph or scan, read within bounds."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from nest.digitise.decode import decoded
from nest.digitise.header import read_header
from nest.digitise.vision import PhotographProblem, opencv
from nest.limits import LARGEST_PHOTOGRAPH_BYTES
from nest.plainfile import NotPlain, read_plain

LEAST_PIXELS = 600
"""On the shorter side; below it no square of a mark can be told."""


@dataclass(frozen=True, eq=False)
class Photograph:
    """A picture as the sensor saw it.

    name : the file's name.
    pixels : (h, w, 3) uint8, blue, green, red, not turned.
    turns : quarter turns clockwise that show it upright.
    """

    name: str
    pixels: np.ndarray
    turns: int = 0

    @property
    def size(self) -> tuple[int, int]:
        """Width and height as stored, pixels."""
        return self.pixels.shape[1], self.pixels.shape[0]

    @cached_property
    def light(self) -> np.ndarray:
        """Linear light, (h, w, 3) uint16: sRGB decoded (IEC 61966-2-1). Sub-pixel edges need it: blur adds light."""
        return opencv().LUT(self.pixels, _LINEAR)


def _linear() -> np.ndarray:
    value = np.arange(256) / 255.0
    light = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.round(light * 65535.0).astype(np.uint16)


_LINEAR = _linear()


def to_srgb(light: np.ndarray) -> np.ndarray:
    """Linear light in 0..1 as sRGB values in 0..255, uint8 (IEC 61966-2-1)."""
    light = np.clip(light, 0.0, 1.0)
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)
    return np.round(value * 255.0).astype(np.uint8)


def read_photograph(path: str | Path) -> Photograph:
    """Read a JPEG or PNG.

    Raises
    ------
    PhotographProblem
        If the file is missing, too large, damaged, or no such picture.
    """
    path = Path(path)
    opencv()  # without it nothing else of the file matters
    try:
        data = read_plain(path, LARGEST_PHOTOGRAPH_BYTES)
    except NotPlain as found:
        raise PhotographProblem(f"{path}: expected a photograph, found {found}; correct the path.") from found
    header = read_header(data, path.name)
    if min(header.width, header.height) < LEAST_PIXELS:
        raise PhotographProblem(
            f"{path.name}: expected at least {LEAST_PIXELS} pixels a side, found {header.width} × {header.height}; "
            "photograph at full resolution."
        )
    _refuse_cut_short(data, header.begins, path.name)
    pixels = decoded(data)
    if pixels is None or pixels.shape[:2] != (header.height, header.width):
        raise PhotographProblem(f"{path.name}: the picture is damaged; copy it from the camera again, or save it anew.")
    return Photograph(path.name, pixels, header.turns)


def _refuse_cut_short(data: bytes, begins: int, name: str) -> None:
    """A decoder fills what is missing with grey and says nothing: the end of the picture must be there.

    Neither mark of an end can stand within a picture: JPEG writes another byte between, and PNG's is a chunk's name at
    the end of the file.
    """
    png = data.startswith(b"\x89PNG")
    if data.find(b"IEND" if png else b"\xff\xd9", max(begins, len(data) - 65536) if png else begins) < 0:
        raise PhotographProblem(f"{name}: the picture is cut short; copy it from the camera again.")
