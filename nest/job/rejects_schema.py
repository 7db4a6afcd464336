"""Section of the job file about reject rates: [[rejects]]."""

from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator

from nest.job.fields import Name, Percent, Section, by_class, fault

Bands = Annotated[list[Annotated[float, Field(gt=0, le=90)]], Field(min_length=1, max_length=36)]
Row = Annotated[list[Percent], Field(min_length=1, max_length=36)]


class RejectsSection(Section):
    """[[rejects]]: see nest.pieces.rejects.RejectRates."""

    style: Name
    up_to_deg: Bands = [90.0]
    percent_by_class: Annotated[dict[int, Row], BeforeValidator(by_class), Field(min_length=1)]
    bias_percent: Percent | None = None

    @model_validator(mode="after")
    def _has_a_rate_for_each_band(self):
        bands = self.up_to_deg
        if sorted(set(bands)) != bands:
            raise fault("up_to_deg in rising order", ", ".join(f"{end:g}" for end in bands), "sort it")
        for quality, row in self.percent_by_class.items():
            if len(row) != len(bands):
                raise fault(f"a rate of class {quality} for each of {len(bands)} bands", f"{len(row)} rates",
                            "give one for each end in up_to_deg")
        return self
