"""Tables of `geometry.overlap` laid end to end, one after the other as they are made.

What lies in a stack never moves or changes, so that compiled loops may read it while more is laid on top, and nobody
needs a copy of his own.
"""

import numpy as np

from geometry.tables import Table, Tables

_ROW_BYTES = 96
"""Memory for a table beside its arrays."""


class TableStack:
    """Room for `most_bytes` of tables; `wide` if one may have more than 32,000 edges."""

    def __init__(self, most_bytes: int, *, wide: bool = False):
        self.most_bytes, self.wide = most_bytes, wide
        self.held_bytes = 0
        rows, near = most_bytes // _ROW_BYTES + 1, most_bytes // (4 if wide else 2)
        small = 2 * near < np.iinfo(np.int32).max
        # each array could hold nothing but its own part of tables: memory is taken only where something is written
        self._room = Tables(
            frame=np.empty((rows, 7)), place=np.empty((rows, 5), np.int64),
            cell=np.empty(most_bytes // 8 + 1, np.uint8),
            first=np.empty((most_bytes // 8 + 1, 2), np.int32 if small else np.int64),
            near=np.empty(near, np.int32 if wide else np.int16),
            edge=np.empty((most_bytes // 24, 3)),
        )
        self._used = 0, 0, 0, 0

    def __len__(self) -> int:
        return self._used[0]

    def fits(self, table: Table) -> bool:
        """Whether there is room for one more table."""
        return self.held_bytes + bytes_of(table) <= self.most_bytes and (self.wide or table.near.dtype != np.int32)

    def add(self, table: Table) -> int:
        """Lay a table that fits on top; returns its index."""
        rows, cells, near, edges = self._used
        room, (nx, ny), box = self._room, table.shape, table.box
        more = len(table.cell), len(table.near), len(table.edge)
        room.frame[rows] = *box, nx / (box[2] - box[0]), ny / (box[3] - box[1]), table.step
        room.place[rows] = nx, ny, cells, edges, table.outside
        room.cell[cells:cells + more[0]] = table.cell
        # the row behind the last cell is the next table's first; either way it says where the last edge ends
        room.first[cells:cells + more[0] + 1] = table.first + np.array((2 * near, near))
        room.near[near:near + more[1]] = table.near
        room.edge[edges:edges + more[2]] = table.edge
        self._used = rows + 1, cells + more[0], near + more[1], edges + more[2]
        self.held_bytes += bytes_of(table)
        return rows

    def table(self, index: int) -> Table:
        """A table as it was added, most of it without a copy."""
        room, used = self._room, self._used
        nx, ny, cells, edges, outside = (int(one) for one in room.place[index])
        end = cells + nx * ny
        last = room.place[index + 1, 3] if index + 1 < used[0] else used[3]
        near, near_end = (int(row) >> 1 for row in room.first[[cells, end], 0])
        first = room.first[cells:end + 1] - np.array((2 * near, near), room.first.dtype)
        first[-1] = 2 * (near_end - near), near_end - near
        return Table(
            room.frame[index, :4], (nx, ny), bool(outside), float(room.frame[index, 6]), room.cell[cells:end],
            first, room.near[near:near_end], room.edge[edges:last],
        )

    @property
    def tables(self) -> Tables:
        """All that is in the stack now, for the compiled loops."""
        rows, cells, near, edges = self._used
        room = self._room
        return Tables(room.frame[:rows], room.place[:rows], room.cell[:cells], room.first[:cells + 1],
                      room.near[:near], room.edge[:edges])


def bytes_of(table: Table) -> int:
    """Memory that a table takes."""
    return sum(part.nbytes for part in (table.cell, table.first, table.near, table.edge)) + _ROW_BYTES
