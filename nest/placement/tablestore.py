"""Tables kept between solves: hides that follow each other ask for the same pairs of pieces."""

from collections import OrderedDict
from collections.abc import Callable, Sequence
from functools import partial
from threading import Lock
from typing import NamedTuple, TypeAlias

import numpy as np

from geometry.nofit import no_fit_rings
from geometry.pose import mirror, rotate
from geometry.processors import for_all
from geometry.tables import Table, Tables, build_table
from geometry.tablestack import TableStack, bytes_of
from nest.placement.choose import Places

FINE_CELLS, COARSE_CELLS, FEW_PAIRS = 28, 16, 600
"""Cells along the grid of a pair: fine where a solve asks for no more than a few, for then it asks each often; coarse
where making them takes much of its time (trials 156, 202)."""

MOST_BYTES, MOST_GROUND_BYTES = 290_000_000, 80_000_000
"""Memory for tables of pairs, unless one solve alone asks for more, and for those of ground."""

LIKELY_BYTES = 13_000
"""A table of a pair takes about this much."""

BATCH = 512
"""Tables made before they are stacked."""

GroundKey: TypeAlias = tuple[bytes, bytes, bytes, bytes, float]
"""Both grounds, outline and core, and the angle."""

TURNS = 360_000_000
"""Parts of a whole turn that relative headings are counted in."""


class Named(NamedTuple):
    """A ring by the number of its form, which a ring and its mirror image share; 1 if it is `mirrored` of the two."""

    form: int
    mirrored: int


class Key(NamedTuple):
    """A fixed and a moving ring, and by how much the moving one is turned (TURNS)."""

    fixed: Named
    moving: Named
    turn: int


class TableStore:
    """Tables of pairs and of grounds; threads may share it.

    A table of a pair takes most of a millisecond to make, so that reading it from a disk would pay little. They lie in
    one stack that all solves read. When it is full another is begun with what is asked for now and half a stack of
    what was used last; solves that still read the old one keep it. A pair and its mirror image share a table: a left
    and a right vamp are images of each other, or each of itself.

    places : which outlines fit inside which, and where, as `choose.replacements` finds them.
    """

    def __init__(self, most_bytes: int = MOST_BYTES, most_ground_bytes: int = MOST_GROUND_BYTES):
        self._most, self._most_ground = most_bytes, most_ground_bytes
        self._forms: list[np.ndarray] = []
        self._symmetric: list[bool] = []
        self._names: dict[bytes, Named] = {}
        self._at: OrderedDict[Key, int] = OrderedDict()
        self._stack = TableStack(most_bytes)
        self._asked: list[Sequence[Key]] = []
        self._grounds: OrderedDict[GroundKey, Table | None] = OrderedDict()
        self._ground_bytes = 0
        self._lock = Lock()
        self.places: Places = {}

    def no_fit(
        self, rings: Sequence[np.ndarray], wanted: Sequence[tuple[int, int, np.ndarray]], workers: int | None = None
    ) -> tuple[Tables, list[np.ndarray]]:
        """Tables, and where those of each pair are that is wanted: fixed ring, moving ring, turns of it (TURNS).

        Twice the index, and 1 more where the table is that of the mirror image about y = 0. Those that are missing are
        made on as many threads as there are `workers`, by default one to a core.
        """
        with self._lock:
            names = [self._name(ring) for ring in rings]
            found = [self._keys(names[i], names[j], turns) for i, j, turns in wanted]
            keys = [key for mine, _ in found for key in mine]
            self._asked.append(keys)
            missing = self._missing(keys)
            if self._stack.held_bytes + LIKELY_BYTES * len(missing) > self._stack.most_bytes:
                self._begin_stack(LIKELY_BYTES * len(missing))
        try:
            make = partial(self._make, cells=FINE_CELLS if len(keys) <= FEW_PAIRS else COARSE_CELLS)
            while missing:
                some = missing[:BATCH]
                made = for_all(make, some, workers)
                with self._lock:
                    for key, table in zip(some, made, strict=True):
                        self._keep(key, table)
                    missing = self._missing(keys)
            with self._lock:
                for key in keys:
                    self._at.move_to_end(key)
                at = self._at
                return self._stack.tables, [
                    2 * np.array([at[key] for key in mine], np.int64) + images for mine, images in found]
        finally:
            with self._lock:
                self._asked = [one for one in self._asked if one is not keys]

    def release(self) -> None:
        """Free the memory of tables: those of grounds, and those of pairs unless somebody is asking for some."""
        with self._lock:
            if not self._asked:
                self._stack, self._at = TableStack(self._most), OrderedDict()
            self._grounds.clear()
            self._ground_bytes = 0

    @property
    def held_bytes(self) -> int:
        """Memory of the tables of pairs that are held."""
        return self._stack.held_bytes

    def _name(self, ring: np.ndarray) -> Named:
        """The name of a ring; a form is new where neither the ring nor its image has been seen."""
        own, image = _from_least(ring), _from_least(mirror(ring))
        key = own.tobytes()
        if key not in self._names:
            form = len(self._forms)
            self._forms.append(own)
            self._names[image.tobytes()] = Named(form, 1)
            self._names[key] = Named(form, 0)
            self._symmetric.append(key == image.tobytes())
        return self._names[key]

    def _keys(self, fixed: Named, moving: Named, turns: np.ndarray) -> tuple[list[Key], np.ndarray]:
        """What the tables of a pair are kept by, and whether each is that of the mirror image."""
        image = self._image(fixed), self._image(moving)
        back = -turns % TURNS
        images = turns > back if (fixed, moving) == image else np.full(len(turns), (fixed, moving) > image)
        kept = np.where(images, back, turns).tolist()
        return [Key(*(image if other else (fixed, moving)), turn)
                for other, turn in zip(images.tolist(), kept, strict=True)], images

    def _image(self, name: Named) -> Named:
        return name if self._symmetric[name.form] else Named(name.form, 1 - name.mirrored)

    def _make(self, key: Key, cells: int) -> Table:
        fixed, moving = (
            mirror(self._forms[name.form]) if name.mirrored else self._forms[name.form]
            for name in (key.fixed, key.moving)
        )
        turned = rotate(moving, key.turn * 360.0 / TURNS)
        return build_table(no_fit_rings(fixed, turned), cells=cells)

    def _missing(self, keys: Sequence[Key]) -> list[Key]:
        return [key for key in dict.fromkeys(keys) if key not in self._at]

    def _keep(self, key: Key, table: Table) -> None:
        if key in self._at:
            return
        if not self._stack.fits(table):
            self._begin_stack(bytes_of(table), wide=table.near.dtype == np.int32)
        self._at[key] = self._stack.add(table)

    def _begin_stack(self, more_bytes: int, *, wide: bool = False) -> None:
        """Begin a stack with room for `more_bytes` beside what is asked for now."""
        old, at = self._stack, self._at
        if not at and more_bytes <= old.most_bytes and (old.wide or not wide):
            return
        asked = {key: None for keys in self._asked for key in keys if key in at}
        held = [old.table(at[key]) for key in asked]
        needed = sum(map(bytes_of, held)) + more_bytes
        self._stack = TableStack(max(self._most, int(1.2 * needed)), wide=wide or old.wide)
        self._at = OrderedDict((key, self._stack.add(table)) for key, table in zip(asked, held, strict=True))
        for key in reversed(at):
            if self._stack.held_bytes + more_bytes > self._most // 2:
                break
            if key not in self._at:
                self._at[key] = self._stack.add(old.table(at[key]))

    def ground(self, key: GroundKey, make: Callable[[], Table | None]) -> Table | None:
        """The table of a ground, made where it is not held."""
        with self._lock:
            if key in self._grounds:
                self._grounds.move_to_end(key)
                return self._grounds[key]
        made = make()
        with self._lock:
            if key not in self._grounds:
                self._grounds[key] = made
                self._ground_bytes += bytes_of(made) if made else 0
            while self._ground_bytes > self._most_ground and len(self._grounds) > 1:
                _, old = self._grounds.popitem(last=False)
                self._ground_bytes -= bytes_of(old) if old else 0
        return made


def _from_least(ring: np.ndarray) -> np.ndarray:
    """The ring begun at its least point, so that equal outlines are equal arrays; 0.0 in place of -0.0."""
    least = np.lexsort((ring[:, 1], ring[:, 0]))[0]
    return np.roll(ring, -least, axis=0) + 0.0
