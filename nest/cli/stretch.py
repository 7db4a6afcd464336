"""The command `stretch`: from a stretch test to the direction of most stretch."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.stretch.doubt import Doubt
    from nest.stretch.fit import Stretch
    from nest.stretch.readings import Tested

Readings = Annotated[Path, typer.Argument(metavar="READINGS",
                                          help="Table (CSV or XLSX): material, zone, angle_deg, extension_percent, "
                                               "strip.")]
JobOption = Annotated[Path | None, typer.Option("--job", metavar="JOB",
                                                help="Job whose rolls and hides were tested: says what bias leave does "
                                                     "to yield.")]
Tolerance = Annotated[float, typer.Option(min=0.1, max=45.0, help="Largest uncertainty of a direction, degrees.")]


def stretch(
    readings: Readings,
    *,
    job: JobOption = None,
    into: options.Into = None,
    tolerance: Tolerance = 10.0,
    least_ratio: Annotated[float, typer.Option(min=1.0, help="Least ratio of most to least stretch.")] = 1.2,
    error: Annotated[float | None, typer.Option(min=0.0001,
                                                help="Standard deviation of one reading, percent of extension, where "
                                                     "it is known.")] = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Find the direction of most stretch and the stretch ratio of each material or zone, with 95 % intervals.

    Cut strips at three or more angles, hang the same load on each, read the extension. Angles count from the x axis of
    the hide's drawing, or from along the roll. A material in doubt is advised leave for bias.
    """
    from nest.cli import steps
    from nest.errors import PlanProblem
    from nest.stretch.doubt import doubt_about
    from nest.stretch.readings import read_stretch_test
    from nest.stretch.write import write_job_with_stretch

    screen = Screen(quiet, as_json)
    if into is not None and job is None:
        raise PlanProblem("--into needs --job: the job that the new one is made from.")
    fitted = read_stretch_test(readings, error)
    loaded = None if job is None else steps.read_job(job)
    found = {tested: (one, doubt_about(one, tolerance, least_ratio)) for tested, one in fitted.items()}
    effects = {} if loaded is None else bias_effects(loaded, found)
    written = () if into is None or job is None else write_job_with_stretch(job, into, found)
    data = {
        "tested": [as_data(tested, *pair, effects.get(tested, [])) for tested, pair in found.items()],
        "written": [str(path) for path in written],
    }
    said = [sentence for tested, pair in found.items() for sentence in told(tested, *pair, effects.get(tested, []))]
    if written:
        said.append(f"Written: {' and '.join(map(str, written))}.")
    screen.result(data, *said)


def bias_effects(loaded, found: "dict[Tested, tuple[Stretch, Doubt]]") -> "dict[Tested, list[str]]":
    """What leave for bias does to the yield of each tested material of the job that is in doubt."""
    from nest.estimate.bias import bias_on_hides, bias_on_roll

    effects = {}
    for tested, (measured, doubt) in found.items():
        if doubt:
            effects[tested] = [
                *bias_on_roll(loaded, tested.material, measured.direction_deg), *bias_on_hides(loaded, tested.material),
            ]
    return effects


def as_data(tested: "Tested", found: "Stretch", doubt: "Doubt", effects: list[str]) -> dict[str, Any]:
    """One tested material as plain data; null where a figure is not known."""
    from math import isfinite

    def number(value: float) -> float | None:
        return round(value, 3) if isfinite(value) else None

    return {
        "material": tested.material, "zone": tested.zone, "readings": found.readings,
        "direction_deg": number(found.direction_deg), "direction_within_deg": number(found.direction_within_deg),
        "most_percent": number(found.most_percent), "least_percent": number(found.least_percent),
        "ratio": number(found.ratio), "ratio_within": number(found.ratio_within),
        "residual_percent": number(found.residual_percent), "in_doubt": bool(doubt), "reasons": list(doubt.reasons),
        "advice": doubt.advised, "effects": effects,
    }


def told(tested: "Tested", found: "Stretch", doubt: "Doubt", effects: list[str]) -> list[str]:
    """One tested material in words."""
    from math import isfinite

    within = f" ± {found.direction_within_deg:.1f}°" if isfinite(found.direction_within_deg) else "°, error not known"
    ratio = f"{found.ratio:.2f}" if isfinite(found.ratio) else "very large"
    ratio += f" ± {found.ratio_within:.2f}" if isfinite(found.ratio_within) else ""
    lines = [
        f"{tested}: most stretch at {found.direction_deg:.1f}{within}; {found.most_percent:.2f} % there, "
        f"{found.least_percent:.2f} % square to it, ratio {ratio}; {found.readings} readings (95 % intervals)."
    ]
    lines += [f"  {reason}." for reason in doubt.reasons]
    lines.append(f"  Advice: {doubt.advised}")
    return lines + [f"  {effect}" for effect in effects]
