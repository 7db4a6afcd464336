"""What is cut: templates, and the pieces made from them."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np


class Part(StrEnum):
    """Part of an outline that carries its own allowance."""

    TOE = "toe"
    SIDE = "side"
    BACK = "back"


class Foot(StrEnum):
    """Which foot a piece is for; EITHER when the outline is its own mirror image."""

    LEFT = "left"
    RIGHT = "right"
    EITHER = "either"


class Role(StrEnum):
    """What a piece is cut as."""

    VAMP = "vamp"
    REINFORCEMENT = "reinforcement"


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    """Outline of the net vamp of one size, laid flat.

    `outline` is a ring with the toe towards +x and the heel-toe axis on y = 0; `parts[i]` is the
    part of the edge from vertex i to vertex i + 1.
    """

    style: str
    size: str
    outline: np.ndarray
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One piece to cut, of one style, size and foot.

    `cut_outline` is the ring the knife follows (the rough vamp or the reinforcement);
    `net_outline` the ring that stays in the shoe (the template; for a reinforcement the part of it
    within the template). Both share one frame: toe towards +x, axis on y = 0; a right piece is
    stored mirrored, so that a pose never turns a piece over.
    """

    piece_id: str
    style: str
    size: str
    foot: Foot
    role: Role
    cut_outline: np.ndarray
    net_outline: np.ndarray
