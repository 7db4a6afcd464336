"""Photographs made up by grammar: JPEG by its segments (ITU-T T.81 annex B), PNG by its chunks (ISO/IEC 15948).

Lengths and check sums are right but where they are spoilt on purpose, so that a picture reaches its decoder.
"""

import functools
import struct
import zlib

import numpy as np
from hypothesis import strategies as st
from mutations import spoilt_bytes

from nest.digitise.picture import LEAST_PIXELS
from nest.digitise.vision import opencv

SMALL = st.binary(max_size=24)


@functools.cache
def sound_pictures() -> tuple[bytes, ...]:
    """A picture as small as one may be: JPEG in colour, grey, progressive and with restarts, PNG of 8 and 16 bits."""
    cv2 = opencv()
    coarse = np.random.default_rng(1).integers(0, 256, (12, 12, 3), dtype=np.uint8)
    colour = np.kron(coarse, np.ones((LEAST_PIXELS // 12, LEAST_PIXELS // 12, 1), dtype=np.uint8))
    grey = colour[:, :, 0]
    made = (
        (".jpg", colour, ()), (".jpg", grey, ()), (".jpg", colour, (cv2.IMWRITE_JPEG_PROGRESSIVE, 1)),
        (".jpg", colour, (cv2.IMWRITE_JPEG_RST_INTERVAL, 4)), (".png", colour, ()), (".png", grey, ()),
        (".png", colour.astype(np.uint16) * 257, ()),
    )
    return tuple(cv2.imencode(ending, pixels, options)[1].tobytes() for ending, pixels, options in made)


def _segments(jpeg: bytes) -> list[bytes]:
    """Start, each segment in front of the scan with its marker and length, and all the rest as the last one."""
    parts, at = [jpeg[:2]], 2
    while jpeg[at + 1] != 0xDA:
        end = at + 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
        parts.append(jpeg[at:end])
        at = end
    return [*parts, jpeg[at:]]


def _chunks(png: bytes) -> list[tuple[bytes, bytes]]:
    """Name and content of each chunk."""
    parts, at = [], 8
    while at < len(png):
        length = int.from_bytes(png[at : at + 4], "big")
        parts.append((png[at + 4 : at + 8], png[at + 8 : at + 8 + length]))
        at += 12 + length
    return parts


@st.composite
def _exif(draw) -> bytes:
    """An Exif block with tags of small pictures, of the orientation and of nothing, by either order of bytes."""
    order, mark = draw(st.sampled_from((("<", b"II*\0"), (">", b"MM\0*"))))
    tags = draw(st.lists(st.tuples(
        st.sampled_from((0x0112, 0x0112, 0x010F, 0x8769, 0)), st.integers(0, 13), st.integers(0, 3), st.integers(0, 9),
    ), max_size=3))
    count = len(tags) if draw(st.integers(0, 5)) else draw(st.integers(0, 65535))
    at = 8 if draw(st.integers(0, 5)) else draw(st.integers(0, 2**32 - 1))
    body = b"".join(struct.pack(f"{order}HHIHH", tag, kind, number, value, 0) for tag, kind, number, value in tags)
    return b"Exif\0\0" + mark + struct.pack(f"{order}IH", at, count) + body + bytes(4)


def _changed(draw, body: bytes, first: int) -> bytes:
    """One byte of it another."""
    if len(body) <= first:
        return body
    at = draw(st.integers(first, min(len(body) - 1, first + 400)))
    return body[:at] + bytes([draw(st.integers(0, 255))]) + body[at + 1 :]


@st.composite
def _jpeg(draw, sound: bytes) -> bytes:
    parts = _segments(sound)
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(1, len(parts) - 1))
        match draw(st.sampled_from(("add", "add", "add", "exif", "exif", "change", "scan", "gone", "double", "tail"))):
            case "add":
                body = draw(SMALL)
                marker = draw(st.sampled_from((0xE0, 0xE1, 0xE2, 0xEE, 0xFE, 0xFE, 0xDD, 0xF0)))
                parts.insert(at, bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body)
            case "exif":
                body = draw(_exif())
                parts.insert(1, b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body)
            case "change":
                parts[at] = _changed(draw, parts[at], 4)
            case "scan":
                parts[-1] = _changed(draw, parts[-1], 14)
            case "gone" if at < len(parts) - 1:
                del parts[at]
            case "double" if at < len(parts) - 1:
                parts.insert(at, parts[at])
            case "tail":
                parts[-1] += draw(SMALL)
    return b"".join(parts)


@st.composite
def _png(draw, sound: bytes) -> bytes:
    parts = _chunks(sound)
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(parts) - 1))
        name, body = parts[at]
        match draw(st.sampled_from(("add", "add", "add", "split", "split", "change", "head", "gone", "double"))):
            case "add":
                kind = draw(st.sampled_from((b"tEXt", b"gAMA", b"pHYs", b"eXIf", b"iCCP", b"tRNS", b"PLTE", b"acTL")))
                parts.insert(max(1, at), (kind, draw(st.one_of(SMALL, st.just(b"\0\0\xb1\x8f"), _exif()))))
            case "split" if name == b"IDAT" and len(body) > 1:
                cut = draw(st.integers(0, len(body)))
                parts[at : at + 1] = [(name, body[:cut]), (name, body[cut:])]
            case "change":
                parts[at] = name, _changed(draw, body, 0)
            case "head":
                parts[0] = parts[0][0], _changed(draw, parts[0][1], 0)
            case "gone":
                del parts[at]
                if not parts:
                    break
            case "double":
                parts.insert(at, (name, body))
    return sound[:8] + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body)) for name, body in parts)


@st.composite
def pictures(draw) -> bytes:
    """A sound picture with segments or chunks added, changed, doubled or gone, or now and then any bytes spoilt."""
    sound = draw(st.sampled_from(sound_pictures()))
    if draw(st.integers(0, 3)) == 0:
        return draw(spoilt_bytes(sound)) if draw(st.booleans()) else draw(spoilt_bytes(sound[:200])) + sound[200:]
    return draw(_png(sound) if sound.startswith(b"\x89PNG") else _jpeg(sound))
