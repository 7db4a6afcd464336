"""Pictures that cannot be used end in one sentence, within bounds, before anything of them is worked on."""

import io
import json
import os
import struct
import subprocess
import sys
import zlib

import numpy as np
import pytest
from PIL import Image

from nest.digitise import header
from nest.digitise.decode import _put_aside
from nest.digitise.header import Header, read_header
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


def with_block(jpeg: bytes, block: bytes) -> bytes:
    """The JPEG with an Exif block at its beginning."""
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block + jpeg[2:]


GOOD, PNG, SMALL = picture("JPEG"), picture("PNG"), picture("JPEG", (160, 120))


def bad_pictures() -> dict[str, bytes]:
    """A hundred files and more that cannot be used, by what is wrong with them."""
    cuts = [round(len(GOOD) * share) for share in np.linspace(0.001, 0.97, 34)]
    png_cuts = [round(len(PNG) * share) for share in np.linspace(0.001, 0.97, 20)]
    return {
        **{f"jpeg cut at {n}": GOOD[:n] for n in cuts},
        **{f"png cut at {n}": PNG[:n] for n in png_cuts},
        **{f"jpeg without its last {n} bytes": GOOD[:-n] for n in (1, 2, 20, 300)},
        "jpeg cut behind a small picture": with_block(GOOD, exif(1) + SMALL)[: len(SMALL) + 9000],
        "png without its last chunk": PNG[:-12],
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
        **{f"mirrored {n}": with_block(GOOD, exif(n)) for n in (2, 4, 5, 7)},
        **{f"header flipped at {n}": GOOD[:n] + bytes([GOOD[n] ^ 0xFF]) + GOOD[n + 1 :] for n in (0, 1, 2)},
        **{f"png header flipped at {n}": PNG[:n] + bytes([PNG[n] ^ 0xFF]) + PNG[n + 1 :] for n in (0, 3, 7, 12, 13)},
    }


TRY = """
import json, pathlib, resource, sys
from nest.digitise.shop import Asked, digitise_all
folder = pathlib.Path(sys.argv[1])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
paths = sorted(folder.iterdir())
jobs = [(path, folder / "out.dxf", folder / "out.png", None) for path in paths]
said = [one.refused for one in digitise_all(jobs, Asked(160.0))]
more = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
print(json.dumps({"said": said, "more": more}))
"""


def test_bad_pictures_end_in_one_sentence(tmp_path):
    """A hundred bad files and more: each is refused in one line that names it, nothing is written, within 250 MB."""
    bad = bad_pictures()
    assert len(bad) >= 100
    for i, data in enumerate(bad.values()):
        (tmp_path / f"H{i:03}.jpg").write_bytes(data)
    before = {path.name for path in tmp_path.iterdir()}
    done = subprocess.run([sys.executable, "-c", TRY, tmp_path], capture_output=True, text=True, check=True)
    found = json.loads(done.stdout)
    assert {path.name for path in tmp_path.iterdir()} == before
    for i, (name, said) in enumerate(zip(bad, found["said"], strict=True)):
        assert said.startswith(f"H{i:03}.jpg:") and "\n" not in said and said.endswith("."), (name, said)
        assert "behind" not in name or "cut short" in said, (name, said)
    assert found["more"] < 250_000
    for other in (tmp_path, tmp_path / "none.jpg"):
        with pytest.raises(PhotographProblem):
            read_photograph(other)


FRAME = struct.pack(">HBHH", 9, 8, 700, 900) + b"\1\0"
"""A frame header without its marker: 900 × 700 pixels, one colour."""
WITHOUT_SIZE = struct.pack(">IIBBBBB", 900, 0, 8, 2, 0, 0, 0)


@pytest.mark.parametrize(("data", "found"), [
    (png(900, 700), Header(900, 700, 0, 33)), (png(900, 700)[:41], Header(900, 700, 0, 33)),
    (png(900, 700)[:33] + chunk(b"tEXt", b"words") + png(900, 700)[33:], Header(900, 700, 0, 50)),
    (png(1, 1), Header(1, 1, 0, 33)), (png(8000, 8000), Header(8000, 8000, 0, 33)),
    (jpeg_of(900, 700), Header(900, 700, 0, 2)), (jpeg_of(900, 700, 1), Header(900, 700, 0, 2)),
    (with_block(jpeg_of(900, 700), exif(6)), Header(900, 700, 1, 2 + 4 + len(exif(6)))),
    (jpeg_of(900, 700) + b"\xff\xda\0\2" * 59, Header(900, 700, 0, 2)),
    (b"\xff\xd8\xff\xe0\0\2\xff\xc0" + FRAME, Header(900, 700, 0, 6)),
    (b"\xff\xd8\xff\xff\xc0" + FRAME, Header(900, 700, 0, 3)),
    (b"\xff\xd8\xff\xc0\0\x08" + FRAME[2:8], Header(900, 700, 0, 2)),
    (with_block(jpeg_of(900, 700), b"words\0" + exif(6)[6:]), Header(900, 700, 0, 4 + len(exif(6)) + 2)),
    *[(b"\xff\xd8\xff" + bytes([alone]) + b"\xff\xc0" + FRAME, Header(900, 700, 0, 4)) for alone in (1, 0xD0, 0xD8)],
    *[(b"\xff\xd8\xff" + bytes([0xC0 + n]) + FRAME, Header(900, 700, 0, 2)) for n in range(16) if n not in (4, 8, 12)],
])
def test_what_a_picture_says_of_itself(data, found):
    """Width, height, turns and start are found behind other blocks, fill bytes and markers without a length."""
    assert read_header(data, "H1.jpg") == found


@pytest.mark.parametrize(("data", "words"), [
    (b"", "found an empty file"), (b"hello", "found something else"), (b"GIF89a", "found a GIF"),
    (b"II*\0", "found a TIFF"), (b"MM\0*", "found a TIFF"), (b"BM12", "found a BMP"), (b"%PDF-1.7", "found a PDF"),
    (b"RIFF", "found a WebP or another RIFF file"), (b"\0\0\0\x0cJXL \r", "found a JPEG XL"),
    (b"\0\0\0\x0cjP  ", "found a JPEG 2000"), (b"\0\0\0\x18ftypheic", "found a HEIC, AVIF or film"),
    (png(8001, 8000), "at most 64 megapixels, found 64"), (png(12_000, 10_100), "at most 64 megapixels, found 121"),
    (png(0, 700), "damaged"), (png(900, 0), "damaged"), (png(900, 700)[:33], "damaged"),
    (png(900, 700)[:20], "damaged"), (b"\xff\xd8\xff\xd9\xff\xc0" + FRAME, "damaged"),
    (b"\x89PNG\r\n\x1a\n" + chunk(b"JUNK", bytes(13)) + chunk(b"IDAT", b""), "damaged"),
    (png(900, 700)[:33] + chunk(b"acTL", bytes(8)) + png(900, 700)[33:], "found an animated one"),
    (jpeg_of(0, 700), "damaged"), (jpeg_of(900, 0), "damaged"), (jpeg_of(900, 700, 2), r"found 2 colours \(CMYK\)"),
    (jpeg_of(900, 700, 4), "found 4 colours"),
    (jpeg_of(900, 700) + b"\xff\xda\0\2" * 60, "at most 60 scans, found more"),
    *[(b"\xff\xd8\xff" + bytes([0xC0 + n]) + FRAME, "damaged") for n in (4, 8, 12)],
    *[(b"\xff\xd8\xff" + bytes([end]) + b"\0\2\xff\xc0" + FRAME, "damaged") for end in (0xD9, 0xDA)],
    (b"\xff\xd8\xff\xe0\0\1\xff\xc0" + FRAME, "damaged"), (b"\xff\xd8\xff\xe0\0\2\0\xff\xc0" + FRAME, "damaged"),
    (b"\xff\xd8\xff\xc0" + FRAME[:7], "damaged"),
    *[(with_block(jpeg_of(900, 700), exif(n)), "mirrored") for n in (2, 4, 5, 7)],
])
def test_what_is_no_picture_is_refused_by_its_header(data, words):
    """One sentence with the file's name says what is wrong: its kind, size, colours, or where it breaks off."""
    with pytest.raises(PhotographProblem, match=f"^H1.jpg: .*{words}.*\\.$"):
        read_header(data, "H1.jpg")


def test_a_picture_file_may_be_of_the_largest_size(monkeypatch):
    """One byte more is refused, and the sentence gives the size in megabytes."""
    data = jpeg_of(900, 700)
    monkeypatch.setattr(header, "LARGEST_PHOTOGRAPH_BYTES", len(data))
    assert read_header(data, "H1.jpg").width == 900
    with pytest.raises(PhotographProblem, match=r"at most 2\.7e-05 MB, found 0 MB"):
        read_header(data + b"\0", "H1.jpg")
    monkeypatch.setattr(header, "LARGEST_PHOTOGRAPH_BYTES", 1_500_000)
    with pytest.raises(PhotographProblem, match=r"at most 1\.5 MB, found 3 MB"):
        read_header(bytes(3_400_000), "H1.jpg")


ORIENTATION = 0x0112


def tags(order: str, *entries: tuple[int, int], at: int = 8) -> bytes:
    """The tags of an Exif block, from `at` on, in either order of bytes."""
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(f"{order}I", at) + bytes(at - 8)
    return head + struct.pack(f"{order}H", len(entries)) + b"".join(
        struct.pack(f"{order}HHIHH", tag, 3, 1, value, 0) for tag, value in entries)


@pytest.mark.parametrize(("block", "turns"), [
    *[(tags(order, (ORIENTATION, value)), turns) for order in "<>"
      for value, turns in ((0, 0), (1, 0), (3, 2), (6, 1), (8, 3), (9, 0))],
    (tags("<", (0x0100, 6), (ORIENTATION, 8), at=14), 3), (tags(">", (0x0100, 6)), 0), (tags("<"), 0),
    (tags("<") + tags("<", (ORIENTATION, 6))[10:], 0),
    (tags("<", (ORIENTATION, 6))[:-1], 0), (tags("<", (ORIENTATION, 6))[:9], 0), (tags("<")[:8], 0),
    (tags("<")[:7], 0), (b"XX" + tags("<", (ORIENTATION, 6))[2:], 0), (b"", 0),
])
def test_a_picture_is_turned_by_its_tag(block, turns):
    """The tag is found at any place and in either byte order; without a whole tag nothing is turned."""
    assert read_header(with_block(jpeg_of(900, 700), b"Exif\0\0" + block), "H1.jpg").turns == turns


@pytest.mark.parametrize(("size", "good"), [((600, 650), True), ((650, 600), True), ((599, 650), False),
                                            ((650, 599), False)])
def test_a_photograph_has_six_hundred_pixels_a_side(tmp_path, size, good):
    """A smaller photograph is refused, and the sentence gives its size."""
    path = tmp_path / "H1.png"
    Image.new("RGB", size).save(path)
    if good:
        assert read_photograph(path).size == size
    else:
        with pytest.raises(PhotographProblem, match=f"at least 600 pixels a side, found {size[0]} × {size[1]}"):
            read_photograph(path)


def test_turned_pictures_are_read_as_the_sensor_saw_them(tmp_path):
    """Exif orientation turns nothing but says how the picture is shown; grey pictures are read too."""
    path = tmp_path / "H17.jpg"
    for orientation, turns in ((1, 0), (6, 1), (3, 2), (8, 3)):
        path.write_bytes(with_block(GOOD, exif(orientation)))
        found = read_photograph(path)
        assert found.size == (900, 700) and found.turns == turns
    path.write_bytes(picture("JPEG", mode="L"))
    assert read_photograph(path).pixels.shape == (700, 900, 3)


def _spoilt_scan() -> bytes:
    """The JPEG with some bytes within the picture changed; what marks the end stays."""
    data = bytearray(GOOD)
    for at in np.linspace(len(data) // 3, len(data) - 5000, 40).astype(int):
        data[at : at + 2] = b"\x00\x13"
    return bytes(data)


SPOILT = {
    "jpeg": _spoilt_scan(),
    "check sum": PNG[:90] + bytes([PNG[90] ^ 1]) + PNG[91:],
    "filter": png(700, 700, zlib.compress((b"\x09" + bytes(2100)) * 700)),
}


@pytest.mark.parametrize("data", SPOILT.values(), ids=SPOILT)
def test_a_decoder_keeps_its_words_to_itself(data, tmp_path, capfd):
    """Damage within the picture, of which only the decoder knows: one sentence, and no raw line on the screen."""
    (tmp_path / "p.jpg").write_bytes(data)
    with pytest.raises(PhotographProblem, match=r"p\.jpg: the picture is damaged"):
        read_photograph(tmp_path / "p.jpg")
    assert capfd.readouterr().err == ""


def test_a_warning_of_the_decoder_is_no_damage(tmp_path, capfd):
    """A PNG whose colour profile is none is read, in silence."""
    profile = chunk(b"iCCP", b"odd\0\0" + zlib.compress(b"no profile"))
    (tmp_path / "p.png").write_bytes(PNG[:33] + profile + PNG[33:])
    assert read_photograph(tmp_path / "p.png").size == (900, 700)
    assert capfd.readouterr().err == ""


def test_words_of_others_on_standard_error_are_kept(capfd):
    """What another thread writes while a picture is decoded comes out afterwards; lines of the decoder do not."""
    said: list[bytes] = []
    with _put_aside(said):
        os.write(2, b"libpng error: bad adaptive filter value\nthe desk is open\n")
    assert capfd.readouterr().err == "the desk is open\n"
    assert said == [b"libpng error: bad adaptive filter value\n"]
