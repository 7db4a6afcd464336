"""Pictures that cannot be used end in one sentence, within bounds, before anything of them is worked on."""

import io
import resource
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from nest.digitise.picture import read_photograph
from nest.digitise.vision import PhotographProblem


def picture(kind: str, size=(900, 700), mode: str = "RGB", **options) -> bytes:
    """A noisy picture in a format."""
    rng = np.random.default_rng(1)
    made = Image.fromarray(rng.integers(0, 255, (size[1], size[0], 3), dtype=np.uint8)).convert(mode)
    out = io.BytesIO()
    made.save(out, kind, **options)
    return out.getvalue()


def chunk(kind: bytes, body: bytes) -> bytes:
    """A chunk of a PNG."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width: int, height: int, data: bytes = b"") -> bytes:
    """A PNG that says it is so large."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def jpeg_of(width: int, height: int, parts: int = 3) -> bytes:
    """The beginning of a JPEG that says it is so large."""
    frame = struct.pack(">BHHB", 8, height, width, parts) + b"\1\x11\0" * parts
    return b"\xff\xd8\xff\xc0" + struct.pack(">H", len(frame) + 2) + frame + b"\xff\xda\0\2" + b"\xff\xd9"


def exif(orientation: int) -> bytes:
    """An Exif block with one tag."""
    return b"Exif\0\0II*\0\x08\0\0\0\1\0" + struct.pack("<HHIHH", 0x0112, 3, 1, orientation, 0) + b"\0\0\0\0"


GOOD, PNG = picture("JPEG"), picture("PNG")
CUTS = [round(len(GOOD) * share) for share in np.linspace(0.001, 0.97, 34)]
PNG_CUTS = [round(len(PNG) * share) for share in np.linspace(0.001, 0.97, 20)]
BAD = {
    **{f"jpeg cut at {n}": GOOD[:n] for n in CUTS},
    **{f"png cut at {n}": PNG[:n] for n in PNG_CUTS},
    "empty": b"",
    "text": b"hello, this is no picture",
    "zeros": bytes(5000),
    "ones": b"\xff" * 5000,
    "gif": picture("GIF"),
    "tiff": picture("TIFF"),
    "bmp": picture("BMP"),
    "webp": picture("WEBP"),
    "pdf": b"%PDF-1.7\n",
    "heic": b"\0\0\0\x18ftypheic" + bytes(100),
    "jpeg xl": b"\0\0\0\x0cJXL \r\n\x87\n",
    "one pixel png": picture("PNG", (1, 1)),
    "one pixel jpeg": picture("JPEG", (1, 1)),
    "thin": picture("PNG", (4000, 3)),
    "400 megapixels png": png(20000, 20000),
    "400 megapixels jpeg": jpeg_of(20000, 20000),
    "no size png": png(0, 4000),
    "no size jpeg": jpeg_of(0, 4000),
    "largest png": png(2**31 - 1, 2**31 - 1),
    "largest jpeg": jpeg_of(65535, 65535),
    "five colours": jpeg_of(1000, 1000, 5),
    "bomb": png(7999, 8000, zlib.compress(bytes(200_000_000), 9)[:4000]),
    "short of rows": png(2000, 2000, zlib.compress(bytes(6001 * 10), 9)),
    "cmyk": picture("JPEG", mode="CMYK"),
    "many scans": jpeg_of(1000, 1000) + b"\xff\xda\0\2" * 5000 + b"\xff\xd9",
    "animated": b"\x89PNG\r\n\x1a\n"
    + chunk(b"IHDR", struct.pack(">IIBBBBB", 900, 700, 8, 2, 0, 0, 0))
    + chunk(b"acTL", struct.pack(">II", 5, 0))
    + PNG[33:],
    "frame cut short": b"\xff\xd8\xff\xc0\0\4\0\0",
    "length of nothing": b"\xff\xd8\xff\xe0\0\0" + GOOD[20:],
    "markers alone": b"\xff\xd8\xff" + b"\xff" * 4000,
    **{
        f"mirrored {n}": GOOD[:2] + b"\xff\xe1" + struct.pack(">H", len(exif(n)) + 2) + exif(n) + GOOD[2:]
        for n in (2, 4, 5, 7)
    },
    **{f"header flipped at {n}": GOOD[:n] + bytes([GOOD[n] ^ 0xFF]) + GOOD[n + 1 :] for n in (0, 1, 2)},
    **{f"png header flipped at {n}": PNG[:n] + bytes([PNG[n] ^ 0xFF]) + PNG[n + 1 :] for n in (0, 3, 7, 12, 13)},
}


def test_bad_pictures_end_in_one_sentence(tmp_path):
    """A hundred bad files: each is refused in one line that names it, and memory stays within 400 MB."""
    assert len(BAD) >= 90
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    path = tmp_path / "H17.jpg"
    for name, data in BAD.items():
        path.write_bytes(data)
        with pytest.raises(PhotographProblem) as caught:
            read_photograph(path)
        assert str(caught.value).startswith("H17.jpg:") and "\n" not in str(caught.value), name
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 400_000
    for other in (tmp_path, tmp_path / "none.jpg"):
        with pytest.raises(PhotographProblem):
            read_photograph(other)


def test_turned_pictures_are_read_as_the_sensor_saw_them(tmp_path):
    """Exif orientation turns nothing but says how the picture is shown; grey pictures are read too."""
    path = tmp_path / "H17.jpg"
    for orientation, turns in ((1, 0), (6, 1), (3, 2), (8, 3)):
        block = exif(orientation)
        path.write_bytes(GOOD[:2] + b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block + GOOD[2:])
        found = read_photograph(path)
        assert found.size == (900, 700) and found.turns == turns
    path.write_bytes(picture("JPEG", mode="L"))
    assert read_photograph(path).pixels.shape == (700, 900, 3)
