"""A cutting drawing as it was found: its entities in mm by what their layers are for, what its legend says, its faults.

A fault is one sentence that says what is wrong and where: on which layer, at which piece, at which place in mm of the
drawing's own coordinates.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.dxfread import DxfFile, read_dxf
from nest.cutplan.frame import Frame, frame_from
from nest.cutplan.layers import MACHINE_USES
from nest.cutplan.legend import FACTS, UNIT_WORDS
from nest.cutplan.path import chords
from nest.errors import InputProblems, PlanProblem, Problem
from nest.job.cutting_table import USUAL_LAYERS
from nest.units import MM_PER_LENGTH_UNIT

_ONCE = (
    "plan", "unit", "hide", "lay", "distances", "frame", "radius", "thin", "curves", "lead", "number",
    "registration", "pieces",
)
"""Sentences that no legend holds twice."""

_NEEDED = ("layers", "unit", "frame", "distances")
"""Sentences without which no drawing is read."""

_REMEDY = "write the drawing again from its plan"


@dataclass(frozen=True, slots=True)
class Drawn:
    """A cutting drawing in mm, by use of its layers; `unit_in_header` and `old` (R12) as its file is."""

    name: str
    drawing: Drawing
    layers: dict[str, str]
    frame: Frame
    facts: dict[str, list[re.Match]]
    unit_in_header: bool
    old: bool

    def problem(self, expected: str, found: str, use: str = "", at=None, piece: str = "") -> Problem:
        """What is wrong, and where."""
        where = [self.name]
        if use:
            where.append(f"layer {self.layers[use]}")
        if piece:
            where.append(f"piece {piece}")
        place = "" if at is None else f" at ({at[0]:.1f}, {at[1]:.1f}) mm"
        return Problem(", ".join(where) + place, expected, found, _REMEDY)

    def refusal(self, expected: str, found: str, use: str = "", at=None, piece: str = "") -> InputProblems:
        """The same, where it keeps the drawing from being read on."""
        return InputProblems([self.problem(expected, found, use, at, piece)])

    def on(self, use: str) -> list[Outline | Label]:
        """Entities of one use."""
        return [entity for entity in self.drawing.entities if entity.use == use]

    def labels(self, use: str) -> list[Label]:
        """Texts of one use."""
        return [entity for entity in self.on(use) if isinstance(entity, Label)]

    def fact(self, name: str) -> re.Match | None:
        """The first sentence of this kind, or None."""
        return self.facts.get(name, [None])[0]

    def stated(self, name: str) -> re.Match:
        """The first sentence of a kind that a drawing is refused without."""
        return self.facts[name][0]

    def length(self, name: str) -> float:
        """A length that a sentence states, mm; 0 without it."""
        match = self.fact(name)
        return 0.0 if match is None else float(match["mm"])


def opened(path) -> tuple[Drawn, list[Problem]]:
    """The drawing at `path`, and what in it belongs to no cutting drawing or contradicts itself.

    Raises
    ------
    PlanProblem
        If it is no cutting drawing of a hide or a lay.
    """
    file, name = read_dxf(path), Path(path).name
    facts = _facts(file.drawing)
    if not any(isinstance(one, Label) for one in file.drawing.entities):
        raise PlanProblem(
            f"{path}: this is no cutting drawing with a legend; one of cuts and marks alone is not checked: give the "
            "drawing of the same name in the folder drawings"
        )
    for needed in _NEEDED:
        if needed not in facts:
            raise PlanProblem(f"{path}: this is no cutting drawing of a hide or a lay (no sentence on its {needed})")
    if "hide" not in facts and "lay" not in facts:
        raise PlanProblem(f"{path}: this is no cutting drawing of a hide or a lay; give one from the folder drawings")
    told = next(u for u, words in UNIT_WORDS.items() if words.startswith(facts["unit"][0]["unit"]))
    layers = dict(pair.split(" = ") for row in facts["layers"] for pair in row["layers"].split(", "))
    if layers.keys() != USUAL_LAYERS.keys() or len({name.casefold() for name in layers.values()}) != len(layers):
        raise PlanProblem(f"{path}: its legend does not name every layer once; {_REMEDY}")
    frame = frame_from(facts["frame"][0][0])
    if frame is None:
        raise PlanProblem(f"{path}: its legend does not say how the hide lies on the table; {_REMEDY}")
    mm = MM_PER_LENGTH_UNIT[told]
    use_of = {layer.casefold(): use for use, layer in layers.items()}
    curve = float(facts["curves"][0]["mm"]) if "curves" in facts else 0.0
    known = tuple(_in_mm(one, use_of, mm, curve) for one in file.drawing.entities if one.use.casefold() in use_of)
    legend = Drawing(tuple(one for one in known if one.use == "legend"))
    said = _facts(legend)
    for needed in (*_NEEDED, "hide" if "hide" in facts else "lay"):
        if needed not in said:
            own = layers["legend"]
            raise PlanProblem(f"{path}: the sentence on its {needed} is not on its legend's layer, {own}; {_REMEDY}")
    drawn = Drawn(name, Drawing(known), layers, frame, said, file.unit is not None, file.old)
    return drawn, [*_contradictions(drawn, file, told), *_strays(drawn, file, use_of, mm)]


def _facts(drawing: Drawing) -> dict[str, list[re.Match]]:
    """Every sentence of the legend that says a fact."""
    found: dict[str, list[re.Match]] = {}
    for entity in drawing.entities:
        if isinstance(entity, Label):
            for name, form in FACTS.items():
                if match := form.fullmatch(entity.text):
                    found.setdefault(name, []).append(match)
    return found


def _in_mm(entity: Outline | Label, use_of: dict[str, str], mm: float, curve_mm: float) -> Outline | Label:
    use = use_of[entity.use.casefold()]
    if isinstance(entity, Outline) and entity.arcs is not None:
        arcs = entity.arcs * (mm, mm, 1.0)
        return Outline(use, chords(arcs, curve_mm)[0], entity.closed, arcs)
    if isinstance(entity, Outline):
        return Outline(use, entity.points * mm, entity.closed)
    return replace(entity, use=use, at=(entity.at[0] * mm, entity.at[1] * mm), height_mm=entity.height_mm * mm)


def _contradictions(drawn: Drawn, file: DxfFile, told: str) -> Iterable[Problem]:
    """The header against the legend, the legend against itself, and layers that a table would not see as they are."""
    if file.unit not in (None, told):
        yield drawn.problem(f"{told}, as its legend says", f"{file.unit} in its header ($INSUNITS)")
    if file.metric is not None and file.unit is not None and file.metric != (told != "in"):
        yield drawn.problem(f"$MEASUREMENT {int(told != 'in')}, as its legend says {told}", str(int(file.metric)))
    for name in _ONCE:
        if len(drawn.facts.get(name, ())) > 1:
            yield drawn.problem("one such sentence", repr(drawn.facts[name][1][0]), "legend")
    curves = drawn.fact("curves")
    told_arcs = curves is not None and curves["how"] == "arcs"
    for one in drawn.drawing.entities:
        if isinstance(one, Outline) and one.arcs is not None and not (told_arcs and one.use == "cut"):
            yield drawn.problem("straight lines", "an outline with arcs in it (bulge)", one.use, one.points[0])
    for use in MACHINE_USES:
        layer = drawn.layers[use].casefold()
        if layer in file.unseen:
            yield drawn.problem("a layer that is seen", "one that is frozen or off", use)
        if layer in file.dashed:
            yield drawn.problem("solid lines", "a layer with another line type", use)


def _strays(drawn: Drawn, file: DxfFile, use_of: dict[str, str], mm: float) -> Iterable[Problem]:
    """What no cutting drawing holds, and what stands on layers that the legend does not name."""
    told = {layer.casefold(): layer for layer in drawn.layers.values()}
    for stray in file.strays:
        at = None if stray.at is None else (stray.at[0] * mm, stray.at[1] * mm)
        layer = told.get(stray.layer.casefold(), stray.layer)
        what = " ".join(filter(None, (stray.what, stray.place)))
        found = replace(drawn.problem("only lines, polylines and texts of the plan", what, at=at))
        yield replace(found, where=found.where.replace(drawn.name, f"{drawn.name}, layer {layer}", 1))
    for entity in file.drawing.entities:
        if entity.use.casefold() not in use_of:
            place = np.asarray(entity.points[0] if isinstance(entity, Outline) else entity.at) * mm
            found = drawn.problem(
                "nothing on a layer that its legend does not name",
                (f"a polyline of {len(entity.points)} points" if isinstance(entity, Outline)
                 else f"the text {entity.text!r}") + f" on the layer {entity.use}", at=place,
            )
            yield found
