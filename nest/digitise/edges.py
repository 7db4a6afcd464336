"""Edges to a fraction of a pixel: where light steps from one level to another along a short line across the edge."""

from dataclasses import dataclass

import numpy as np

from nest.digitise.vision import opencv


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Edges along n lines.

    at : where along each line the step lies, 0 at its start, 1 at its end.
    contrast : level at the end less that at the start, in the units of the light.
    width : standard deviation of the blur that would make so steep a slope, as a share of the line's length.
    spread : the same by the light all along the line: for a blurred step the mean of s (1 - s), s from 0 to 1, is the
        standard deviation over the square root of pi.
    """

    at: np.ndarray
    contrast: np.ndarray
    width: np.ndarray
    spread: np.ndarray


def sampled(light: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Values of a picture (h, w) or (h, w, c) at places (..., 2) in pixels, bilinear; float32."""
    flat = np.ascontiguousarray(places.reshape(-1, 2), dtype=np.float32)
    # The library takes no more than 32,767 rows at once.
    columns = 1024
    rows = -(-len(flat) // columns)
    padded = np.zeros((rows * columns, 2), dtype=np.float32)
    padded[: len(flat)] = flat
    cv2 = opencv()
    found = cv2.remap(light, padded.reshape(rows, columns, 2), None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    found = found.reshape(rows * columns, -1)[: len(flat)].astype(np.float32)
    return found.reshape(*places.shape[:-1], -1) if light.ndim == 3 else found.reshape(places.shape[:-1])


def steps(profiles: np.ndarray, ends: float = 0.25) -> Steps:
    """Find the step in each profile (n, m): light at m even places along a line.

    The levels are the means over the share `ends` at either end; the step lies where a sharp one between these levels
    would hold the same light. Any symmetric blur leaves that place as it is.
    """
    count = profiles.shape[1]
    edge = max(2, round(ends * count))
    low, high = profiles[:, :edge].mean(axis=1), profiles[:, -edge:].mean(axis=1)
    contrast = high - low
    safe = np.where(np.abs(contrast) > 1e-6, contrast, 1e-6)
    share = (profiles - low[:, None]) / safe[:, None]
    at = 0.5 + (0.5 - np.clip(share, -0.2, 1.2).mean(axis=1)) * count / (count - 1)
    steepest = np.abs(np.diff(share, axis=1)).max(axis=1) * (count - 1)
    width = 1.0 / (np.maximum(steepest, 1e-6) * np.sqrt(2.0 * np.pi))
    part = np.clip(share, 0.0, 1.0)
    return Steps(at, contrast, width, np.sqrt(np.pi) * (part * (1.0 - part)).mean(axis=1))
