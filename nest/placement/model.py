"""From a problem to the tables the compiled search reads."""

import hashlib
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

from geometry.nofit import Walls, joint_fit_rings, walls
from geometry.pose import rotate, rotation
from geometry.precision import as_ring
from geometry.processors import for_all
from geometry.tables import Table, Tables, build_table, join_tables
from nest.placement._cost import NO_FIT_TABLE, NOT_ALLOWED, Model
from nest.placement.problem import Ground, Kind, worth_of
from nest.placement.tablestore import TURNS, TableStore

GROUND_CELLS = 32
"""Cells along the grid of a ground (trial 202)."""

ANGLE_GRID_DEG = 360.0 / TURNS


def grown(outline: np.ndarray, gap_mm: float) -> np.ndarray:
    """Outline grown by half the gap, so that grown outlines that touch keep the gap."""
    if gap_mm == 0.0:
        return outline
    return as_ring(shapely.get_coordinates(
        Polygon(outline).buffer(0.5 * gap_mm, join_style="mitre", mitre_limit=2.0).exterior))


def angle_key(angle_deg: float) -> int:
    """Whole number that equal headings share, in steps of ANGLE_GRID_DEG."""
    return round((angle_deg % 360.0) / ANGLE_GRID_DEG) % TURNS


def no_fit_tables(
    rings: Sequence[np.ndarray], angles_deg: np.ndarray, used: np.ndarray, store: TableStore,
    workers: int | None = None,
) -> tuple[Tables, np.ndarray, np.ndarray]:
    """Tables of all kinds against all kinds at the relative angles of the forms in use, `used` (k, a).

    Returns the tables, Model.no_fit_id and Model.relative.
    """
    between = np.rint((angles_deg[None, :] - angles_deg[:, None]) % 360.0 / ANGLE_GRID_DEG).astype(np.int64) % TURNS
    found, first, relative = np.unique(between, return_index=True, return_inverse=True)
    turn, place = found[np.argsort(first)], np.argsort(np.argsort(first))  # in the order in which they first occur
    relative = place[relative].reshape(between.shape)
    at = {key: r for r, key in enumerate(turn.tolist())}
    back = np.array([at.get(-key % TURNS, -1) for key in turn.tolist()], np.int64)
    wanted: list[tuple[int, int, np.ndarray]] = []
    table_id = np.full((len(rings), len(rings), len(turn)), -1, np.int64)
    for i in range(len(rings)):
        for j in range(i, len(rings)):
            meet = np.zeros(len(turn), np.bool_)
            meet[relative[np.ix_(used[i], used[j])].ravel()] = True
            if i == j:  # a turn and the turn back share a table
                meet &= ~((back >= 0) & (back < np.arange(len(turn))) & meet[back])
            wanted.append((i, j, np.flatnonzero(meet)))

    tables, ids = store.no_fit(rings, [(i, j, turn[r]) for i, j, r in wanted], workers)
    for (i, j, r), mine in zip(wanted, ids, strict=True):
        table_id[i, j, r] = mine
    return tables, table_id, relative


def _ground_table(outline: Walls, core: Walls, kind: Kind, angle_deg: float) -> Table | None:
    """The table of the reference points at which the outline and the core both lie on their ground."""
    rings = joint_fit_rings([(outline, rotate(kind.outline, angle_deg)), (core, rotate(kind.core, angle_deg))])
    return build_table(rings, cells=GROUND_CELLS, outside=True) if rings else None


def build_model(
    kinds: Sequence[Kind], gap_mm: float, grounds: Sequence[Ground] | None, size_exponent: float = 0.0,
    store: TableStore | None = None, workers: int | None = None,
) -> tuple[Model, np.ndarray]:
    """Model of some kinds; with `grounds` for a region, without for a strip whose bounds are set later.

    Tables are made on as many threads as there are `workers`, by default one to a core.

    Returns (model, angles_deg): the angle list the model's angle indices refer to.
    """
    keys: dict[int, float] = {}
    for kind in kinds:
        for heading in kind.headings_deg:
            keys.setdefault(angle_key(heading), heading)
    angle_index = {key: index for index, key in enumerate(keys)}
    angles_deg = np.array(list(keys.values()))
    rings = [grown(kind.outline, gap_mm) for kind in kinds]
    k, a = len(kinds), len(angles_deg)
    fit_id = np.full((k, a), NOT_ALLOWED, np.int64)
    bounds = np.zeros((k, a, 4))
    form_box = np.zeros((k, a, 4))
    cut_box = np.zeros((k, a, 4))
    forms = [(i, h, angle_index[angle_key(angle)]) for i, kind in enumerate(kinds)
             for h, angle in enumerate(kind.headings_deg)]
    for i, _, b in forms:
        for box, ring in ((form_box, rings[i]), (cut_box, kinds[i].outline)):
            turned = rotate(ring, angles_deg[b])
            box[i, b] = (*turned.min(axis=0), *turned.max(axis=0))
        fit_id[i, b] = NO_FIT_TABLE
    store = store or TableStore()
    fit_tables: list[Table] = []
    if grounds is not None:
        regions = {id(one): one for ground in grounds for one in (ground.outline, *ground.core)}
        prints = {name: hashlib.sha256(shapely.to_wkb(one)).digest() for name, one in regions.items()}
        bounded = {name: walls(one) for name, one in regions.items()}

        def make(form: tuple[int, int, int]) -> Table | None:
            i, h, b = form
            kind, outline, core = kinds[i], id(grounds[i].outline), id(grounds[i].core[h])
            key = (prints[outline], prints[core], kind.outline.tobytes(), kind.core.tobytes(), float(angles_deg[b]))
            return store.ground(key, lambda: _ground_table(bounded[outline], bounded[core], kind, angles_deg[b]))

        for (i, _, b), table in zip(forms, for_all(make, forms, workers), strict=True):
            fit_id[i, b] = NOT_ALLOWED if table is None else len(fit_tables)
            if table is not None:
                bounds[i, b] = table.box
                fit_tables.append(table)
    no_fit, no_fit_id, relative = no_fit_tables(rings, angles_deg, fit_id != NOT_ALLOWED, store, workers)
    starts, flat = [0], []
    for i in range(k):
        flat += [b for b in range(a) if fit_id[i, b] != NOT_ALLOWED]
        starts.append(len(flat))
    size = np.sqrt(np.array([Polygon(kind.outline).area for kind in kinds]))
    mean = size.mean()
    scale = (np.outer(size, size) / mean**2) ** size_exponent
    model = Model(
        no_fit=no_fit, no_fit_id=no_fit_id, relative=relative,
        cos=np.array([_cos_sin(x)[0] for x in angles_deg]), sin=np.array([_cos_sin(x)[1] for x in angles_deg]),
        fit=join_tables(fit_tables), fit_id=fit_id, bounds=bounds, form_box=form_box, cut_box=cut_box,
        form_start=np.array(starts, np.int64), form_angle=np.array(flat, np.int64),
        worth=np.array([worth_of(kind) for kind in kinds]), scale=scale, size=size, zero=1e-7 * mean,
    )
    return model, angles_deg


def _cos_sin(angle_deg: float) -> tuple[float, float]:
    matrix = rotation(angle_deg)
    return matrix[0, 0], matrix[1, 0]
