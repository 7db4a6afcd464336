"""What a drawing holds once it is read: paths, points and texts in mm, by layer. Knows no file format."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

MOST_LAYERS_SAID = 8
"""Of more layers than this only some are named in a message."""


class Prevailing(str):
    """A unit of length that prevails over what a drawing states of itself."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """A chain of chords, (n, 2) mm; a closed one does not repeat its first point. `entity` names its source."""

    layer: str
    points: np.ndarray
    closed: bool
    entity: str


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """A point."""

    layer: str
    at: np.ndarray
    entity: str


@dataclass(frozen=True, slots=True, eq=False)
class Label:
    """A text and its insertion point."""

    layer: str
    at: np.ndarray
    text: str
    entity: str


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A drawing as read; `name` goes into messages. Ask for layers in any case of letters.

    seen : what stands on each layer of the file, read or not, in words.
    base_size : the size that a pattern file says it is drawn in, "" where it says none.
    """

    name: str
    paths: tuple[Path, ...]
    marks: tuple[Mark, ...]
    labels: tuple[Label, ...]
    seen: tuple[str, ...] = ()
    base_size: str = ""

    def nothing(self) -> str:
        """What is found where a layer holds nothing: the layers that there are."""
        if not self.seen:
            return "nothing"
        more = len(self.seen) - MOST_LAYERS_SAID
        rest = f" and {more} more" if more > 0 else ""
        return f"nothing; it has the layers {', '.join(self.seen[:MOST_LAYERS_SAID])}{rest}"

    def paths_on(self, layer: str) -> tuple[Path, ...]:
        """Paths on a layer."""
        return tuple(_on(self.paths, layer))

    def marks_on(self, layer: str) -> tuple[Mark, ...]:
        """Points on a layer."""
        return tuple(_on(self.marks, layer))

    def labels_on(self, layer: str) -> tuple[Label, ...]:
        """Texts on a layer."""
        return tuple(_on(self.labels, layer))

    def where(self, entity: str, layer: str) -> str:
        """Place of an entity, for messages."""
        return f"{self.name}, entity {entity} on layer {layer}"

    def layer(self, layer: str) -> str:
        """Place of a layer, for messages."""
        return f"{self.name}, layer {layer}"


def _on(items: Iterable, layer: str) -> Iterable:
    wanted = layer.casefold()
    return (item for item in items if item.layer.casefold() == wanted)
