"""The job file's sections: which keys each has, of what kind, within what limits.

Every section is checked on its own (see `nest.job.jobfile`), so that a fault in one does not hide faults in
another. Keys keep the names of the dataclasses in `nest.job.job`, with their unit at the end.
"""

import math
from itertools import product
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, WrapValidator, model_validator

from nest.job.costing_schema import CostingSection, RateSection
from nest.job.crimping_schema import CrimpingSection
from nest.job.fields import (
    Above,
    Breaks,
    Currency,
    Length,
    LengthUnit,
    Money,
    Name,
    Percent,
    QualityClass,
    Section,
    Text,
    by_class,
    fault,
    one_of,
)
from nest.job.rejects_schema import RejectsSection
from nest.job.table_schema import TableSection
from nest.pieces.quantities import RejectPairs
from nest.pieces.sizing import SIZE_SYSTEMS, SizeError, position, size_label, size_system
from nest.stock.material import RollStretch
from nest.units import MM2_PER_AREA_UNIT


class JobSection(Section):
    """The keys at the top of the job file."""

    name: Name
    order: Text | None = None
    hides: Text | None = None
    stretch: Text | None = None
    """Table of measured directions of most stretch."""
    unit: LengthUnit | None = None
    unit_prevails: bool = False
    """Whether `unit` is right even where a drawing states another."""
    """Unit of drawings that state none."""


def _margin(value, handler):
    """A margin in mm, or None where it is to be the measured one."""
    return None if value == "measured" else handler(value)


class SettingsSection(Section):
    """[settings]: see nest.job.job.Settings."""

    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    seconds: Annotated[float, Field(gt=0, le=1e6)] = 120.0
    hide_gap_mm: Annotated[float, Field(ge=0, le=50)] = 1.0
    roll_gap_mm: Annotated[float, Field(ge=0, le=50)] = 1.0
    edge_margin_mm: Annotated[Annotated[float, Field(ge=0, le=500)] | None, WrapValidator(_margin)] = 0.0
    """None for "measured": of each photographed hide what its outline is unsure by."""
    currency: Currency = "EUR"
    dxf_version: Literal["R2000", "R12"] = "R2000"
    reject_pairs: Annotated[RejectPairs, Field(strict=False)] = RejectPairs.POOLED


ASTM = "ASTM D6673"
"""Pattern-piece exchange in DXF: the layers are numbers."""

_ASTM_LAYERS = {"template_outline": "1", "template_axis": "7", "template_parts": "4", "template_part_names": "15"}


TwoAngles = Annotated[list[Annotated[float, Field(gt=0, lt=180)]], Field(min_length=2, max_length=2)]


class LayersSection(Section):
    """[layers]: which layer of a drawing holds what."""

    template_standard: Annotated[str, one_of(("", ASTM))] = ""
    """A published standard whose layers templates use: 1 boundary, 7 grain line (the axis), 4 notches (where parts
    meet), 15 annotation (their names), 6 mirror line, 8 internal lines, 11 internal cutouts."""
    template_outline: Text = "TEMPLATE"
    template_axis: Text = "AXIS"
    template_parts: Text = "PARTS"
    template_part_names: Text | None = None
    """Where the names of the parts stand, if not with their limits."""
    parts_by_angle_deg: TwoAngles | None = None
    """Where no parts are drawn: the toe lies within the first angle of the axis, the back beyond the second."""
    hide_outline: Text = "HIDE"
    hide_zones: Text = "ZONES"
    hide_flaws: Text = "FLAWS"

    @model_validator(mode="after")
    def _toe_before_back(self):
        angles = self.parts_by_angle_deg
        if angles is not None and angles[0] >= angles[1]:
            raise fault("a toe's angle below the back's", f"{angles[0]:g} and {angles[1]:g}", "exchange them")
        return self

    @model_validator(mode="before")
    @classmethod
    def _with_those_of_the_standard(cls, data):
        if isinstance(data, dict) and data.get("template_standard") == ASTM:
            return _ASTM_LAYERS | data
        return data


class LeatherSection(Section):
    """[[leather]]: a leather on offer."""

    name: Name
    price: Money
    price_unit: Annotated[str, one_of(MM2_PER_AREA_UNIT)]
    price_currency: Currency | None = None
    price_by_class: Annotated[dict[int, Money], BeforeValidator(by_class)] = {}
    breaks: Breaks = {}
    """Percent off, by the number of price units from which it holds: { 50 = 3, 100 = 5 }."""
    one_way: bool = False
    mean_hide_dm2: Above | None = None
    unfit_percent: Percent | None = None


class RollSection(Section):
    """[[roll]]: a roll of reinforcement."""

    name: Name
    width_mm: Above
    length_m: Annotated[float, Field(gt=0, le=1e4)]
    weight_g_m2: Above
    price_per_m: Money
    price_currency: Currency | None = None
    stretch: Annotated[RollStretch, Field(strict=False)] = RollStretch.WIDTH
    selvedge_mm: Length = 0.0
    end_loss_mm: Length = 20.0
    adhesive_one_side: bool = True
    one_way: bool = False
    breaks: Breaks = {}
    """Percent off, by the number of metres from which it holds."""
    splices_m: list[Annotated[float, Field(gt=0, le=1e4)]] = []
    """Distances of splices from the roll's start."""

    @model_validator(mode="after")
    def _has_usable_width(self):
        if 2.0 * self.selvedge_mm >= self.width_mm:
            raise fault(
                "selvedges that leave some width", f"two of {self.selvedge_mm:g} mm on {self.width_mm:g} mm",
                "correct width_mm or selvedge_mm",
            )
        if 2e-3 * self.end_loss_mm >= self.length_m:
            raise fault(
                "end losses that leave some length", f"two of {self.end_loss_mm:g} mm on {self.length_m:g} m",
                "correct length_m or end_loss_mm",
            )
        beyond = [splice for splice in self.splices_m if splice >= self.length_m]
        if beyond:
            raise fault(
                "splices within the roll's length", f"one at {beyond[0]:g} m of {self.length_m:g} m",
                "correct splices_m or length_m",
            )
        return self


class GradingSection(Section):
    """[style.grading]: steps are derived from the size system when they are not given."""

    system: Annotated[str, one_of(SIZE_SYSTEMS)]
    base_size: str
    length_step_mm: Annotated[float, Field(ge=0, le=50)] | None = None
    width_step_mm: Annotated[float, Field(ge=0, le=50)] | None = None

    @model_validator(mode="after")
    def _knows_its_base_size(self):
        try:
            position(size_system(self.system), self.base_size)
        except SizeError as error:
            raise fault(f"base_size as {error.expected}", error.found, "correct base_size or system") from None
        return self

    def label(self, size: str) -> str:
        """The one spelling of a size; SizeError if it is none of this system."""
        return size_label(size_system(self.system), size)


class SizeAllowance(Section):
    """Allowances of one size, as far as they differ from those of the style."""

    toe_mm: Annotated[float, Field(ge=0, le=200)] | None = None
    side_mm: Annotated[float, Field(ge=0, le=200)] | None = None
    back_mm: Annotated[float, Field(ge=0, le=200)] | None = None


class AllowancesSection(Section):
    """[style.allowances]: trim allowance by part of the outline."""

    toe_mm: Annotated[float, Field(ge=0, le=200)]
    side_mm: Annotated[float, Field(ge=0, le=200)]
    back_mm: Annotated[float, Field(ge=0, le=200)]
    least_toe_mm: Annotated[float, Field(ge=0, le=200)] = 0.0
    least_side_mm: Annotated[float, Field(ge=0, le=200)] = 0.0
    least_back_mm: Annotated[float, Field(ge=0, le=200)] = 0.0
    blend_mm: Annotated[float, Field(ge=0, le=500)] = 25.0
    by_size: dict[str, SizeAllowance] = {}
    """Sizes with allowances of their own: { "42" = { toe_mm = 15 } }; what is left out is as for the others."""

    @model_validator(mode="after")
    def _reaches_the_least(self):
        for size, part in product(("", *self.by_size), ("toe", "side", "back")):
            given = getattr(self.by_size[size] if size else self, f"{part}_mm")
            least = getattr(self, f"least_{part}_mm")
            if given is not None and least > given:
                raise fault(
                    f"{part}_mm not below least_{part}_mm" + (f" for size {size}" if size else ""),
                    f"{given:g} below {least:g}", "correct one of the two",
                )
        return self


class RulesSection(Section):
    """[style.rules]: see nest.rules.Rules."""

    tolerance_deg: Annotated[float, Field(ge=0, le=90)] = 10.0
    bias_leave: bool = False
    net_quality: QualityClass = 1
    trim_quality: QualityClass | None = None
    flaws_under_trim: bool = True
    pairs_from_one_hide: bool = True
    pairs_same_class: bool = True

    @model_validator(mode="after")
    def _trim_no_better_than_net(self):
        if self.trim_quality is not None and self.trim_quality < self.net_quality:
            raise fault(
                "trim_quality not better than net_quality", f"class {self.trim_quality} and {self.net_quality}",
                "correct one of the two",
            )
        return self


class StyleSection(Section):
    """[[style]]: one style. Its drawing is given for the base size, or one for each size."""

    name: Name
    leather: str
    roll: str = ""
    template: Text | None = None
    templates: Annotated[dict[str, Text], Field(min_length=1)] | None = None
    grading: GradingSection
    allowances: AllowancesSection
    thickness_mm: Annotated[float, Field(gt=0, le=20)]
    widening_percent: Annotated[float, Field(ge=0, le=50)] = 0.0
    reinforcement_inset_mm: Annotated[float, Field(ge=0, le=200)] = 10.0
    reject_percent: Percent = 0.0
    reject_percent_by_class: Annotated[dict[int, Percent], BeforeValidator(by_class)] = {}
    rules: RulesSection = RulesSection()
    notes: list[str] = []

    @model_validator(mode="after")
    def _has_drawings_once(self):
        if (self.template is None) == (self.templates is None):
            found = "neither" if self.template is None else "both"
            remedy = "give the drawing of the base size, or one for each size"
            raise fault("either template or templates", found, remedy)
        return self


class WeightSection(Section):
    """[[weight_table]]: reinforcement weight for uppers up to a thickness."""

    upper_to_mm: Annotated[float, Field(gt=0, le=50)]
    least_g_m2: Annotated[float, Field(ge=0, le=5000)]
    most_g_m2: Annotated[float, Field(gt=0, le=5000)]

    @model_validator(mode="after")
    def _is_a_range(self):
        if self.least_g_m2 > self.most_g_m2 or not math.isfinite(self.most_g_m2):
            raise fault(
                "least_g_m2 not above most_g_m2", f"{self.least_g_m2:g} above {self.most_g_m2:g}", "exchange the two"
            )
        return self


SINGLE_SECTIONS: dict[str, type[Section]] = {
    "settings": SettingsSection, "layers": LayersSection, "table": TableSection, "costing": CostingSection,
    "crimping": CrimpingSection,
}
REPEATED_SECTIONS: dict[str, type[Section]] = {
    "leather": LeatherSection, "roll": RollSection, "style": StyleSection, "weight_table": WeightSection,
    "rate": RateSection, "rejects": RejectsSection,
}
