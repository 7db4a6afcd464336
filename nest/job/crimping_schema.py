"""Section of the job file about the way of vamps from bonding to trimming: [crimping]."""

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, model_validator

from nest.job.fields import Section, fault
from nest.job.findings import clipped
from nest.pieces.crimping import SpraySide

_HIGHEST_HEEL_MM = 200
_Celsius = Annotated[float, Field(ge=0, le=300)]
_Bar = Annotated[float, Field(gt=0, le=100)]
_Seconds = Annotated[float, Field(gt=0, le=3600)]
_Hours = Annotated[float, Field(ge=0, le=500)]
_Off = Annotated[float, Field(ge=0, le=50)]
_Words = Annotated[str, Field(min_length=1, max_length=60)]


def _by_heel(value: Any) -> Any:
    """Keys of a table by height of the heel as numbers of mm, from low to high."""
    if not isinstance(value, dict):
        return value
    for key in value:
        if not (str(key).isdecimal() and 0 <= int(key) <= _HIGHEST_HEEL_MM):
            expected = f"heights of the heel from 0 to {_HIGHEST_HEEL_MM} mm, whole, as keys"
            raise fault(expected, clipped(key), 'write for instance { 30 = "plate 2", 60 = "plate 5" }')
    return dict(sorted((int(key), item) for key, item in value.items()))


class StyleCrimpingSection(Section):
    """Values of one style, or of all: see nest.pieces.crimping.Crimping."""

    batch_pairs: Annotated[int, Field(ge=1, le=10_000)] | None = None
    heel_mm: Annotated[float, Field(ge=0, le=_HIGHEST_HEEL_MM)] | None = None
    plate_by_heel_mm: Annotated[dict[int, _Words], BeforeValidator(_by_heel)] | None = None
    """Plate by height of the heel up to which it serves."""
    bond_celsius: _Celsius | None = None
    bond_bar: _Bar | None = None
    bond_s: _Seconds | None = None
    bond_set_h: _Hours | None = None
    spray: _Words | None = None
    spray_side: Annotated[SpraySide, Field(strict=False)] | None = None
    spray_ml: Annotated[float, Field(gt=0, le=1000)] | None = None
    bag_least_h: _Hours | None = None
    bag_most_h: Annotated[float, Field(gt=0, le=500)] | None = None
    crimp_celsius: _Celsius | None = None
    crimp_bar: _Bar | None = None
    crimp_s: _Seconds | None = None
    check_mm: _Off | None = None
    wait_h: _Hours | None = None
    check_later_mm: _Off | None = None
    trim_leave_mm: _Off | None = None

    @model_validator(mode="after")
    def _bag_has_time(self):
        least, most = self.bag_least_h, self.bag_most_h
        if least is not None and most is not None and least > most:
            raise fault("bag_least_h not above bag_most_h", f"{least:g} above {most:g}", "correct one of the two")
        return self


class CrimpingSection(StyleCrimpingSection):
    """[crimping]: values of all styles, and of single ones as far as theirs differ."""

    by_style: dict[str, StyleCrimpingSection] = {}
