"""A cutting drawing against the plan it was written from: drawn again from the plan, and compared entity for entity.

In which order the cuts follow each other, and where each begins, is taken from the drawing itself: finding them again
is slow, and what is found depends on the processor's time. Everything else must be the plan's.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nest.cutplan.checksum import piece_numbers, without_sums
from nest.cutplan.compose import hide_drawing, lay_drawing
from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.drawn import Drawn
from nest.cutplan.dxf import plain_text
from nest.cutplan.layers import layers_of
from nest.cutplan.stamp import Stamp, plan_id
from nest.cutplan.work import hide_work, lay_work
from nest.errors import Problem
from nest.job.cutting_table import USUAL_LAYERS
from nest.plan import HideLayout, Lay, Plan

SAME_MM = 0.005
"""Outlines are the same if they lie no further from each other: the grid's rounding and no more."""

_SAME_DEG, _SAME_LENGTH = 0.02, 1e-4
_NEAR_MM = 30.0
_FIT_MM = 0.05
_ESTIMATE = "Estimated time "


def differences(drawn: Drawn, plan: Plan, warning: str = "") -> list[Problem]:
    """Everything in which a drawing is not that of its hide or lay in `plan`; `warning` as it was written with.

    Raises
    ------
    PlanProblem
        If the plan cannot be drawn.
    """
    lay = drawn.fact("lay")
    key, match = ("lay_id", lay) if lay else ("hide_id", drawn.stated("hide"))
    layout = next((one for one in (plan.lays_to_cut if lay else plan.layouts_to_cut)
                   if _same_text(match[key], getattr(one, key))), None)
    what = f"{'lay' if lay else 'hide'} {match[key]}"
    if layout is None:
        return [drawn.problem("a drawing that its plan calls for", f"one of {what}, from which it cuts nothing")]
    names = {use: getattr(layers_of(plan.settings.table), use).name for use in USUAL_LAYERS}
    if drawn.layers != names:
        use = next(use for use in names if drawn.layers[use] != names[use])
        return [drawn.problem(f"the layer {names[use]} for {use}, as its plan wants", drawn.layers[use])]
    expected = _expected(drawn, plan, layout, warning)
    found = without_sums(drawn.drawing)
    matched = _Matched.of(expected, found)
    if 2 * len(matched.missing) > len(expected.entities):
        moved = _moved_whole(expected, found)
        if moved:
            return [drawn.problem("everything where its plan has it", f"all of it {moved}")]
    return list(_told(drawn, expected, found, matched))


def _expected(drawn: Drawn, plan: Plan, layout: HideLayout | Lay, warning: str) -> Drawing:
    """The drawing of the plan, its cuts in the order of the drawing found, begun where they are begun there."""
    rings = [one.points for one in drawn.drawing.outlines("cut")]

    def router(starts, home, before, *, ends, back):
        return _followed(ends, rings)

    said = drawn.fact("plan")
    # The time of writing is the drawing's own: no plan holds it.
    stamp = Stamp(plan_id(plan), said["written"] if said else "")
    if isinstance(layout, Lay):
        return lay_drawing(plan, layout, warning, lay_work(plan, layout, router), stamp)
    return hide_drawing(plan, layout, warning, hide_work(plan, layout, router), stamp)


def _followed(places: Sequence[np.ndarray], rings: Sequence[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Order of outlines, and the place where each is begun, as these rings have them; others, and marks, come last."""
    picks = np.zeros(len(places), dtype=np.int64)
    left = dict.fromkeys(range(len(places)))
    order = []
    own = np.repeat(np.arange(len(places)), [len(place) for place in places])
    tree = shapely.STRtree(shapely.points(np.vstack(places)) if places else [])
    first = np.cumsum([0, *(len(place) for place in places)])
    for ring in rings:
        line, begun = shapely.LineString(ring), shapely.Point(ring[0])
        near = [k for k in tree.query(begun, predicate="dwithin", distance=2.0 * SAME_MM) if own[k] in left]
        if near:
            # Pieces that touch may share a place: the right one has all of its places on the ring.
            k = min(near, key=lambda k: float(shapely.distance(line, shapely.points(places[int(own[k])])).max()))
            order.append(int(own[k]))
            picks[own[k]] = k - first[own[k]]
            del left[int(own[k])]
    return np.array([*order, *left], dtype=np.int64), picks


@dataclass(frozen=True, slots=True)
class _Matched:
    """Indices of expected entities that nothing found is, and of found ones that nothing expected is."""

    missing: list[int]
    strange: list[int]

    @classmethod
    def of(cls, expected: Drawing, found: Drawing) -> "_Matched":
        boxes = np.array([_box(one) for one in found.entities]).reshape(-1, 4)
        tree = shapely.STRtree(shapely.points(boxes[:, :2]))
        left = set(range(len(found.entities)))
        missing = []
        for i, wanted in enumerate(expected.entities):
            at = shapely.Point(_box(wanted)[:2])
            near = tree.query(at, predicate="dwithin", distance=2.0 * SAME_MM).tolist()
            twin = next((k for k in sorted(near) if k in left and _same(wanted, found.entities[k])), None)
            if twin is None:
                missing.append(i)
            else:
                left.remove(twin)
        return cls(missing, sorted(left))


def _box(entity: Outline | Label) -> np.ndarray:
    """Middle and size of an entity's bounding box; a text is where it begins."""
    if isinstance(entity, Label):
        return np.array((*entity.at, 0.0, 0.0))
    low, high = entity.points.min(axis=0), entity.points.max(axis=0)
    return np.concatenate((0.5 * (low + high), high - low))


def _same(one: Outline | Label, other: Outline | Label) -> bool:
    if one.use != other.use:
        return False
    if isinstance(one, Label) and isinstance(other, Label):
        turn = (one.turn_deg - other.turn_deg + 180.0) % 360.0 - 180.0
        return (
            np.hypot(*np.subtract(one.at, other.at)) <= 2.0 * SAME_MM and one.centred == other.centred
            and abs(one.height_mm - other.height_mm) <= SAME_MM and abs(turn) <= _SAME_DEG
            and _same_text(other.text, one.text)
        )
    if isinstance(one, Label) or isinstance(other, Label) or one.closed != other.closed:
        return False
    a, b = _line(one), _line(other)
    return (
        bool(np.allclose(_box(one), _box(other), rtol=0.0, atol=2.0 * SAME_MM))
        and abs(a.length - b.length) <= SAME_MM + _SAME_LENGTH * a.length
        and shapely.hausdorff_distance(a, b) <= SAME_MM
    )


def _same_text(found: str, wanted: str) -> bool:
    """Whether a text of a file says what was to be written; R12 has it without accents, and time is an estimate."""
    if wanted.startswith(_ESTIMATE):
        wanted, found = (re.sub(r"[\d.]+", "0", text) for text in (wanted, found))
    plain = [re.sub(r"\^ *", "^", plain_text(wanted, ascii_only=old)).strip() for old in (False, True)]
    return re.sub(r"\^ *", "^", found).strip() in plain


def _line(outline: Outline):
    return shapely.LinearRing(outline.points) if outline.closed and len(outline.points) > 2 else shapely.LineString(
        outline.points
    )


def _told(drawn: Drawn, expected: Drawing, found: Drawing, matched: _Matched) -> Iterator[Problem]:
    """What is changed, what is missing, what is too much."""
    numbers = piece_numbers(expected)
    names = {
        number: one.text for one, number in zip(expected.entities, numbers, strict=True)
        if number and isinstance(one, Label) and one.use == "labels"
    }
    left = dict.fromkeys(matched.strange)
    for i in matched.missing:
        wanted, piece = expected.entities[i], names.get(numbers[i], "")
        twin = min((k for k in left if _alike(wanted, found.entities[k])), default=None,
                   key=lambda k: float(np.abs(_box(wanted) - _box(found.entities[k])).sum()))
        if twin is None:
            yield drawn.problem(_words(wanted), "none", wanted.use, _box(wanted)[:2], piece)
            continue
        del left[twin]
        yield _changed(drawn, wanted, found.entities[twin], piece)
    for k in left:
        one = found.entities[k]
        yield drawn.problem("nothing that its plan does not call for", _words(one), one.use, _box(one)[:2])


def _alike(wanted: Outline | Label, found: Outline | Label) -> bool:
    """Whether one may be what became of the other."""
    if type(wanted) is not type(found) or wanted.use != found.use:
        return False
    near = np.abs(_box(wanted) - _box(found)).max()
    return near <= _NEAR_MM or (
        isinstance(wanted, Label) and isinstance(found, Label) and _same_text(found.text, wanted.text))


def _changed(drawn: Drawn, wanted: Outline | Label, found: Outline | Label, piece: str) -> Problem:
    at = _box(found)[:2]
    if isinstance(wanted, Label) and isinstance(found, Label):
        if not _same_text(found.text, wanted.text):
            return drawn.problem(f"the text {wanted.text!r}", repr(found.text), found.use, at, piece)
        return drawn.problem(_text_words(wanted), _text_words(found), found.use, at, piece)
    assert isinstance(wanted, Outline) and isinstance(found, Outline)  # as `_alike` has it
    if wanted.closed != found.closed:
        words = ("an open line", "a closed outline")
        return drawn.problem(words[wanted.closed], words[found.closed], found.use, at, piece)
    far = shapely.distance(shapely.points(found.points), _line(wanted))
    back = shapely.distance(shapely.points(wanted.points), _line(found))
    off = max(far.max(), back.max())
    at = found.points[int(np.argmax(far))] if far.max() >= back.max() else wanted.points[int(np.argmax(back))]
    told = f"one up to {off:.3f} mm off" if off > SAME_MM else f"one {_line(found).length:.3f} mm long"
    return drawn.problem(_words(wanted), told, found.use, at, piece)


def _text_words(label: Label) -> str:
    x, y = label.at
    return (
        f"the text {label.text!r} at ({x:.2f}, {y:.2f}) mm, {label.height_mm:.2f} mm high, turned by "
        f"{label.turn_deg:.2f} deg"
    )


def _words(entity: Outline | Label) -> str:
    if isinstance(entity, Label):
        return f"the text {entity.text!r}"
    kind = "a closed outline" if entity.closed else "a line"
    return f"{kind} of {len(entity.points)} points, {_line(entity).length:.1f} mm long"


def _moved_whole(expected: Drawing, found: Drawing) -> str:
    """In words, one map of the plane under which the drawing found becomes the one expected; "" if there is none."""
    wanted = [one.points for one in expected.outlines("material")]
    there = [one.points for one in found.outlines("material")]
    if [len(points) for points in wanted] != [len(points) for points in there]:
        return ""
    a, b = np.vstack(wanted), np.vstack(there)
    ones = np.column_stack((a, np.ones(len(a))))
    fit, *_ = np.linalg.lstsq(ones, b, rcond=None)
    if np.abs(ones @ fit - b).max() > _FIT_MM or abs(np.linalg.det(fit[:2])) < 1e-9:
        return ""
    undo = np.linalg.inv(fit[:2])
    entities = tuple(
        Outline(one.use, (one.points - fit[2]) @ undo, one.closed) for one in found.entities if isinstance(one, Outline)
    )
    outlines = Drawing(tuple(one for one in expected.entities if isinstance(one, Outline)))
    if 2 * len(_Matched.of(outlines, Drawing(entities)).missing) > len(outlines.entities):
        return ""
    return _map_words(fit[:2].T, b.mean(axis=0) - a.mean(axis=0))


def _map_words(matrix: np.ndarray, moved: np.ndarray) -> str:
    sizes, moved = np.hypot(*matrix), np.round(moved, 3) + 0.0
    words = []
    if np.abs(sizes - 1.0).max() > 1e-6:
        same = abs(sizes[0] - sizes[1]) <= 1e-6
        told = f"{sizes[0]:.6g}" if same else f"{sizes[0]:.6g} along x, {sizes[1]:.6g} along y"
        words.append(f"scaled by {told}")
    mirrored = np.linalg.det(matrix) < 0.0
    if mirrored:
        words.append("mirrored")
    turn = float(np.degrees(np.arctan2(-matrix[0, 1], matrix[1, 1]) if mirrored else
                            np.arctan2(matrix[1, 0], matrix[0, 0])))
    if abs(turn) > 1e-4:
        words.append(f"turned by {turn:.4g} deg")
    if not words or np.hypot(*moved) > SAME_MM:
        words.append(f"moved by ({moved[0]:.3f}, {moved[1]:.3f}) mm")
    return " and ".join(words)
