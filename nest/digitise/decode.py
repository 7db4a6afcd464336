"""Pixels of a picture, and what its decoder has to say.

The decoders of JPEG and PNG complain on standard error, whoever it is that listens there, and fill what they cannot
read with anything. So it is put aside while they work.
"""

import os
import re
import tempfile
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress

import numpy as np

from nest.digitise.vision import opencv

_THEIRS = re.compile(
    rb"libpng |Corrupt JPEG|Premature end|Invalid SOS|Inconsistent progression|Unsupported|Warning: unknown JFIF"
    rb"|\[ ?(WARN|ERROR)")
"""How lines of the decoders and of the picture library begin."""

_DAMAGE = re.compile(rb"libpng error|Corrupt JPEG|Premature end|Inconsistent progression", re.M)

_one_at_a_time = threading.Lock()


def decoded(data: bytes) -> np.ndarray | None:
    """The picture as (h, w, 3) uint8, blue, green, red, not turned; None if it is damaged, if only in part."""
    cv2 = opencv()
    said: list[bytes] = []
    try:
        with _one_at_a_time, _put_aside(said):
            pixels = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error:
        return None
    return None if any(_DAMAGE.match(line) for line in said) else pixels


@contextmanager
def _put_aside(said: list[bytes]) -> Iterator[None]:
    """Note the decoders' lines on standard error in `said`; what other threads write there comes a little later."""
    with ExitStack() as after:
        try:
            kept = after.enter_context(tempfile.TemporaryFile())
            before = os.dup(2)
        except OSError:  # nobody listens, or there is no room
            yield
            return
        after.callback(os.close, before)
        os.dup2(kept.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(before, 2)
            kept.seek(0)
            lines = kept.read().splitlines(keepends=True)
            said += filter(_THEIRS.match, lines)
            with suppress(OSError):
                os.write(2, b"".join(line for line in lines if not _THEIRS.match(line)))
