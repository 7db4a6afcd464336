"""What a picture file says about itself before anything in it is decoded.

JPEG: ITU-T T.81 annex B (markers, frame header), Exif 2.32 for the orientation. PNG: ISO/IEC 15948 (IHDR, and acTL of
animated files). No other kind is read.
"""

import struct
from dataclasses import dataclass

from nest.digitise.vision import PhotographProblem
from nest.limits import LARGEST_PHOTOGRAPH_BYTES, MOST_PIXELS, MOST_SCANS

_PNG = b"\x89PNG\r\n\x1a\n"
_FRAMES = frozenset((*range(0xC0, 0xC4), *range(0xC5, 0xC8), *range(0xC9, 0xCC), *range(0xCD, 0xD0)))
"""Markers that begin a frame header, SOF0 to SOF15 without the tables between them."""

_ALONE = frozenset((0x01, *range(0xD0, 0xD9)))
"""Markers without a length."""

_OTHERS = (
    (b"GIF8", "a GIF"),
    (b"II*\0", "a TIFF"),
    (b"MM\0*", "a TIFF"),
    (b"BM", "a BMP"),
    (b"%PDF", "a PDF"),
    (b"RIFF", "a WebP or another RIFF file"),
    (b"\0\0\0\x0cJXL ", "a JPEG XL"),
    (b"\0\0\0\x0cjP", "a JPEG 2000"),
)

_TURNS = {6: 1, 3: 2, 8: 3}
"""Quarter turns clockwise that show the picture as it is meant, by Exif orientation; none for all others."""


@dataclass(frozen=True, slots=True)
class Header:
    """What a file says of its picture.

    width, height : as stored, in pixels.
    turns : quarter turns clockwise that show the picture upright.
    begins : where in the file the picture begins, behind any small one that is kept beside it.
    """

    width: int
    height: int
    turns: int
    begins: int


def read_header(data: bytes, name: str) -> Header:
    """Look at the beginning of a picture file.

    Raises
    ------
    PhotographProblem
        If it is no JPEG or PNG of one picture in grey or colour, or has more pixels than can be worked with.
    """
    if len(data) > LARGEST_PHOTOGRAPH_BYTES:
        raise PhotographProblem(
            f"{name}: expected a photograph of at most {LARGEST_PHOTOGRAPH_BYTES / 1e6:g} MB, found "
            f"{len(data) / 1e6:.0f} MB; save it as a JPEG."
        )
    if data.startswith(b"\xff\xd8\xff"):
        header = _jpeg(data, name)
    elif data.startswith(_PNG):
        header = _png(data, name)
    else:
        raise PhotographProblem(f"{name}: expected a JPEG or PNG, found {_kind(data)}; save it as a JPEG.")
    if header.width * header.height > MOST_PIXELS:
        raise PhotographProblem(
            f"{name}: expected at most {MOST_PIXELS / 1e6:g} megapixels, found "
            f"{header.width * header.height / 1e6:.0f}; save it smaller."
        )
    return header


def _kind(data: bytes) -> str:
    if not data:
        return "an empty file"
    if data[4:8] == b"ftyp":
        return "a HEIC, AVIF or film"
    return next((word for start, word in _OTHERS if data.startswith(start)), "something else")


def _damaged(name: str) -> PhotographProblem:
    return PhotographProblem(f"{name}: the picture is damaged or cut short; copy it from the camera again.")


def _png(data: bytes, name: str) -> Header:
    if len(data) < 33 or data[12:16] != b"IHDR":
        raise _damaged(name)
    width, height = struct.unpack(">II", data[16:24])
    if not width or not height:
        raise _damaged(name)
    at = 8
    while at + 8 <= len(data):
        (length,), kind = struct.unpack(">I", data[at : at + 4]), data[at + 4 : at + 8]
        if kind == b"acTL":
            raise PhotographProblem(f"{name}: expected one picture, found an animated one; save one picture of it.")
        if kind == b"IDAT":
            return Header(width, height, 0, at)
        at += length + 12
    raise _damaged(name)


def _jpeg(data: bytes, name: str) -> Header:
    turns, at = 0, 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            raise _damaged(name)
        marker = data[at + 1]
        if marker == 0xFF or marker in _ALONE:
            at += 1 if marker == 0xFF else 2
            continue
        (length,) = struct.unpack(">H", data[at + 2 : at + 4])
        body = data[at + 4 : at + 2 + length]
        if length < 2 or marker in (0xD9, 0xDA):
            raise _damaged(name)
        if marker == 0xE1 and body.startswith(b"Exif\0\0"):
            turns = _orientation(body[6:], name)
        if marker in _FRAMES:
            if len(body) < 6:
                raise _damaged(name)
            height, width, parts = struct.unpack(">HHB", body[1:6])
            if not width or not height:
                raise _damaged(name)
            if parts not in (1, 3):
                raise PhotographProblem(f"{name}: expected grey or RGB, found {parts} colours (CMYK); save it as RGB.")
            # Every scan of a progressive file goes over all pixels again.
            if data.count(b"\xff\xda") > MOST_SCANS:
                raise PhotographProblem(f"{name}: expected at most {MOST_SCANS} scans, found more; save it anew.")
            return Header(width, height, turns, at)
        at += 2 + length
    raise _damaged(name)


def _orientation(tiff: bytes, name: str) -> int:
    """Quarter turns clockwise by the Exif tag 0x0112; none if there is no such tag."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None or len(tiff) < 8:
        return 0
    (at,) = struct.unpack(f"{order}I", tiff[4:8])
    if at + 2 > len(tiff):
        return 0
    (count,) = struct.unpack(f"{order}H", tiff[at : at + 2])
    for entry in range(at + 2, len(tiff) - 11, 12)[:count]:
        tag, _, _, value = struct.unpack(f"{order}HHIH", tiff[entry : entry + 10])
        if tag == 0x0112:
            if value in (2, 4, 5, 7):
                raise PhotographProblem(f"{name}: the picture is mirrored; photograph with the main camera.")
            return _TURNS.get(value, 0)
    return 0
