"""What strokes of a colour mean: a zone or a flaw, in the words that drawings of hides use."""

import re
from dataclasses import dataclass

import numpy as np

from nest.errors import PlanProblem
from nest.text import hidden_in

COLOURS = {
    "white": (0.90, 0.90, 0.88),
    "silver": (0.50, 0.51, 0.53),
    "yellow": (0.85, 0.68, 0.08),
    "orange": (0.75, 0.25, 0.04),
    "red": (0.62, 0.06, 0.05),
    "pink": (0.80, 0.30, 0.42),
    "green": (0.08, 0.45, 0.14),
    "blue": (0.06, 0.17, 0.62),
    "black": (0.03, 0.03, 0.03),
}
"""Chalks and pens by name: light sent back, red, green, blue, of white paper's; from memory, brands differ."""

_HEX = re.compile(r"#[0-9a-fA-F]{6}")
_ZONE = re.compile(r"(?P<name>.*?)\s*\bclass\s+(?P<quality>\d{1,2})", re.I)
_FLAW = re.compile(r"(?P<kind>.+?)\s+severity\s+\d{1,2}(\s+(tears|coverable))*", re.I)


@dataclass(frozen=True, slots=True)
class Meaning:
    """Strokes of one colour: `light` is what it sends back, red, green, blue; `words` go into the drawing."""

    colour: str
    light: tuple[float, float, float]
    words: str
    zone: bool


def read_meaning(colour: str, words: str) -> Meaning:
    """One colour and what it means, "belly class 3" or "scar severity 2 tears".

    Raises
    ------
    PlanProblem
        If the colour or the words are none that are known.
    """
    name, words = colour.strip().casefold(), " ".join(words.split())
    if name in COLOURS:
        light = COLOURS[name]
    elif _HEX.fullmatch(name):
        value = np.array([int(name[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
        light = tuple(np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).tolist())
    else:
        raise PlanProblem(f"Strokes: expected a colour ({', '.join(COLOURS)}, or #rrggbb), found {colour!r}.")
    if hidden := hidden_in(words):
        raise PlanProblem(f"Strokes of {name}: expected plain text, found {hidden}.")
    zone = _ZONE.fullmatch(words)
    if zone is None and _FLAW.fullmatch(words) is None:
        raise PlanProblem(
            f'Strokes of {name}: expected a zone such as "belly class 3" or a flaw such as "scar severity 2 tears", '
            f"found {words!r}."
        )
    return Meaning(name, light, words, zone is not None)


def read_rest(words: str) -> str:
    """Words of the zone for all ground that no stroke encloses.

    Raises
    ------
    PlanProblem
        If they are not those of a zone.
    """
    words = " ".join(words.split())
    if hidden_in(words) or _ZONE.fullmatch(words) is None:
        raise PlanProblem(f'Ground without strokes: expected a zone such as "butt class 1", found {words!r}.')
    return words
