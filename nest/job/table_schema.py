"""Keys of the section [table] of a job file, and of a file with a cutting table of its own."""

import re
from typing import Annotated

from pydantic import Field, model_validator

from nest.job.cutting_table import (
    TRAILS_TO_TURN,
    USUAL_LAYERS,
    Corner,
    FileKind,
    NumberPlace,
    NumberTool,
    layer_names,
)
from nest.job.fields import Section, fault, one_of
from nest.units import TABLE_UNITS

_LAYER_NAME = re.compile(r"[A-Za-z0-9_$-]{1,31}")
Speed = Annotated[float, Field(gt=0, le=1e5)]


class TableSection(Section):
    """[table]: see nest.job.cutting_table.CuttingTable."""

    origin: Annotated[Corner, Field(strict=False)] = Corner.DIGITISED
    origin_x_mm: Annotated[float, Field(ge=-1e5, le=1e5)] = 0.0
    origin_y_mm: Annotated[float, Field(ge=-1e5, le=1e5)] = 0.0
    turn_deg: Annotated[float, Field(ge=-360, le=360)] = 0.0
    grain_down: bool = False
    unit: Annotated[str, one_of(TABLE_UNITS)] = "mm"
    layers: dict[str, str] = {}
    layer_numbers: bool = False
    files: list[Annotated[FileKind, Field(strict=False)]] = []
    tool_radius_mm: Annotated[float, Field(ge=0, le=10)] = 0.0
    overcut_mm: Annotated[float, Field(ge=0, le=100)] = 0.0
    lead_in_mm: Annotated[float, Field(ge=0, le=50)] = 0.0
    thin_mm: Annotated[float, Field(ge=0, le=1)] = 0.0
    curve_mm: Annotated[float, Field(ge=0, le=2)] = 0.0
    arcs: bool = False
    least_radius_mm: Annotated[float, Field(gt=0, le=1000)] | None = None
    knife_offset_mm: Annotated[float, Field(ge=0, le=5)] = 0.0
    corner_loop_mm: Annotated[float, Field(ge=0, le=50)] = 0.0
    lift_at_corners: bool = False
    number: Annotated[NumberTool, Field(strict=False)] = NumberTool.NONE
    number_place: Annotated[NumberPlace, Field(strict=False)] = NumberPlace.BAND
    number_mm: Annotated[float, Field(ge=3, le=30)] = 5.0
    cut_mm_s: Speed = 250.0
    mark_mm_s: Speed = 250.0
    travel_mm_s: Speed = 700.0
    lift_s: Annotated[float, Field(ge=0, le=60)] = 0.3
    accel_mm_s2: Annotated[float, Field(ge=1, le=1e6)] | None = None
    corner_s: Annotated[float, Field(ge=0, le=60)] = 0.0
    marks_first: bool = True
    length_mm: Annotated[float, Field(gt=0, le=1e5)] | None = None
    width_mm: Annotated[float, Field(gt=0, le=1e5)] | None = None

    @model_validator(mode="after")
    def _layers_can_be_told_apart(self):
        for use, name in self.layers.items():
            if use not in USUAL_LAYERS:
                raise fault("layers for " + ", ".join(USUAL_LAYERS), repr(use), "correct the use")
            if not _LAYER_NAME.fullmatch(name):
                # The DXF reference allows these in a layer's name in R12.
                expected = f"a layer for {use} of letters, digits, $, - and _, up to 31 long"
                raise fault(expected, repr(name), "choose another name")
        if self.arcs and not self.curve_mm:
            raise fault("curve_mm above 0 with arcs", "0", "say how far arcs may lie outside, such as curve_mm = 0.5")
        if self.number is NumberTool.PUNCH and self.number_place is NumberPlace.INSIDE:
            raise fault("number_place band with a punch", "'inside'", "holes in the net area would stay in the shoe")
        taken: dict[str, str] = {}
        for use, name in layer_names(self.layers, self.layer_numbers).items():
            other = taken.setdefault(name.casefold(), use)
            if other != use:
                raise fault(f"a layer of its own for {use}", f"{name!r} as for {other}", "rename one")
        return self


    @model_validator(mode="after")
    def _knife_has_its_way(self):
        """The way of a knife stands in HP-GL and lean drawings alone, and begins where its blade can turn."""
        if not (self.knife_offset_mm or self.corner_loop_mm or self.lift_at_corners):
            return self
        if not {FileKind.HPGL, FileKind.LEAN} & set(self.files):
            raise fault(
                "hpgl or lean among files with knife_offset_mm, corner_loop_mm or lift_at_corners",
                str([str(one) for one in self.files]), "add one: only these hold the way of the knife",
            )
        least = TRAILS_TO_TURN * self.knife_offset_mm
        if self.lead_in_mm < least:
            raise fault(
                f"lead_in_mm of {least:g} or more with knife_offset_mm = {self.knife_offset_mm:g}",
                f"{self.lead_in_mm:g}", "the blade turns the way it is to go within the lead-in",
            )
        return self
