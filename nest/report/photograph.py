"""A hide's photograph as a plan keeps it, unpacked."""

import base64
import zlib

import numpy as np

from nest.limits import LARGEST_BACKDROP_PIXELS
from nest.stock.material import Backdrop


def unpacked(shown: Backdrop) -> np.ndarray | None:
    """Grey values (h, w) of a photograph; None where a plan's is damaged or larger than any that is written."""
    count = shown.width * shown.height
    sound = min(shown.width, shown.height) >= 1 and shown.x0 < shown.x1 and shown.y0 < shown.y1
    if not sound or count > LARGEST_BACKDROP_PIXELS:
        return None
    try:
        grey = zlib.decompressobj().decompress(base64.b64decode(shown.packed, validate=True), count + 1)
    except (ValueError, zlib.error):
        return None
    return np.frombuffer(grey, dtype=np.uint8).reshape(shown.height, shown.width) if len(grey) == count else None
