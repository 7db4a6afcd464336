"""A scenarios file, read and checked: other leathers, rolls, allowances, quantities and rules to try in a job.

Every list of choices begins with the job as it is; scenarios are all ways to take one choice of each list.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import prod
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from nest.job.findings import Findings
from nest.job.job import Job
from nest.job.jobfile import Entry, read_alone, read_entries
from nest.job.schema import Length, Section, Text
from nest.limits import MOST_SCENARIOS
from nest.pieces.piece import Part

AS_IT_IS = "as it is"

_More = Annotated[float, Field(ge=-200, le=200)]
_PARTS = {"toe_more_mm": Part.TOE, "side_more_mm": Part.SIDE, "back_more_mm": Part.BACK}


class _Material(Section):
    """[[leathers]], [[rolls]]: which leather or roll takes the place of which."""

    name: Text | None = None
    instead: dict[str, str]


class _Allowances(Section):
    """[[allowances]]: mm more, or less, than the job has; of one style, or of all."""

    name: Text | None = None
    style: Text | None = None
    toe_more_mm: _More = 0.0
    side_more_mm: _More = 0.0
    back_more_mm: _More = 0.0


class _Quantities(Section):
    """[[quantities]]: this many pairs in all, in the order's proportions."""

    name: Text | None = None
    pairs: Annotated[int, Field(ge=1, le=10**9)]


class _Rules(Section):
    """[[rules]]: rules of every style, and the gap between cut lines on hides."""

    name: Text | None = None
    tolerance_deg: Annotated[float, Field(ge=0, le=45)] | None = None
    bias_leave: bool | None = None
    pairs_from_one_hide: bool | None = None
    flaws_under_trim: bool | None = None
    hide_gap_mm: Length | None = None


SCENARIO_SECTIONS: dict[str, type[Section]] = {
    "leathers": _Material, "rolls": _Material, "allowances": _Allowances, "quantities": _Quantities, "rules": _Rules,
}
"""Sections of the file, in the order in which their choices are named."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One change of a job; a plain one, AS_IT_IS, changes nothing.

    instead : (material, what takes its place). style : whose allowances change, "" for all; more_mm : by part.
    pairs : of the whole order, None as ordered. rules : (rule, value). hide_gap_mm : None as in the job.
    """

    name: str = AS_IT_IS
    instead: tuple[tuple[str, str], ...] = ()
    style: str = ""
    more_mm: tuple[tuple[Part, float], ...] = ()
    pairs: int | None = None
    rules: tuple[tuple[str, Any], ...] = ()
    hide_gap_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Choices:
    """The choices of one section, the job as it is first."""

    section: str
    choices: tuple[Choice, ...]


def read_scenarios(path: Path | str, job: Job) -> tuple[Choices, ...]:
    """The sections of a scenarios file for a job, those alone that it has.

    Raises
    ------
    InputProblems
        Every problem found in it, by line and key.
    """
    entries, path, findings = read_alone(
        path, lambda source, findings: read_entries(source, SCENARIO_SECTIONS, findings))
    found = []
    for section, given in entries.items():
        choices = [Choice()]
        for entry in given:
            choice = _choice(section, entry, job, findings)
            if choice.name in {one.name for one in choices}:
                expected = "a name of its own for each choice"
                findings.refuse(entry.where("name"), expected, repr(choice.name), "rename it")
            choices.append(choice)
        if len(choices) > 1:
            found.append(Choices(section, tuple(choices)))
    count = prod(len(one.choices) for one in found)
    if not found and not findings.problems:
        findings.refuse(path.name, "at least one choice", "none", "add a section such as [[leathers]]")
    if count > MOST_SCENARIOS:
        findings.refuse(path.name, f"at most {MOST_SCENARIOS:,} scenarios", f"{count:,}", "leave some choices out")
    findings.raise_problems()
    return tuple(found)


def _choice(section: str, entry: Entry, job: Job, findings: Findings) -> Choice:
    keys = {key: value for key, value in entry.section if value is not None}
    name = keys.pop("name", None)
    if section in ("leathers", "rolls"):
        instead = tuple(keys["instead"].items())
        _check_materials(section, instead, entry, job, findings)
        return Choice(name or "; ".join(f"{new} for {old}" for old, new in instead), instead=instead)
    if section == "allowances":
        style = keys.pop("style", "")
        more = tuple((_PARTS[key], mm) for key, mm in keys.items() if mm)
        _check_allowances(style, more, entry, job, findings)
        words = ", ".join(f"{part} {mm:+g} mm" for part, mm in more)
        return Choice(name or (f"{style}: {words}" if style else words), style=style, more_mm=more)
    if section == "quantities":
        return Choice(name or f"{keys['pairs']:,} pairs", pairs=keys["pairs"])
    gap = keys.pop("hide_gap_mm", None)
    if not keys and gap is None:
        findings.refuse(entry.where(), "a rule to change", "none", "add one such as tolerance_deg")
    return Choice(name or ", ".join(_rule_words(keys, gap)), rules=tuple(keys.items()), hide_gap_mm=gap)


def _rule_words(rules: dict, gap: float | None) -> Iterator[str]:
    for key, value in rules.items():
        if key == "tolerance_deg":
            yield f"tolerance ±{value:g}°"
        else:
            words = {"bias_leave": "bias", "pairs_from_one_hide": "pairs from one hide",
                     "flaws_under_trim": "flaws under the trim-off band"}[key]
            yield words if value else f"no {words}"
    if gap is not None:
        yield f"gap {gap:g} mm"


def _check_materials(section: str, instead, entry: Entry, job: Job, findings: Findings) -> None:
    if section == "leathers":
        one, known, used = "leather", [one.name for one in job.leathers], {style.leather for style in job.styles}
    else:
        one, known, used = "roll", [one.roll_id for one in job.rolls], {style.roll for style in job.styles}
    if not instead:
        findings.refuse(entry.where("instead"), f"which {one} takes the place of which", "none",
                        f'write instead = {{ "{known[0] if known else one}" = "another {one}" }}')
    for old, new in instead:
        for name in (old, new):
            if name not in known:
                findings.refuse_name(entry.where("instead"), f"a {one} of the job", name, known)
        if old == new:
            findings.refuse(entry.where("instead"), f"another {one} for {old}", repr(new), "name another one")
        elif old in known and old not in used:
            findings.refuse_name(entry.where("instead"), f"a {one} that a style is cut from", old, used)


def _check_allowances(style: str, more, entry: Entry, job: Job, findings: Findings) -> None:
    names = [one.name for one in job.styles]
    if style and style not in names:
        findings.refuse_name(entry.where("style"), "a style of the job", style, names)
    if not more:
        findings.refuse(entry.where(), "an allowance to change", "none", "add one such as toe_more_mm")
    for part, mm in more:
        for one in job.styles:
            given = one.allowances
            least = min([getattr(given, f"{part}_mm"), *(row[1 + list(Part).index(part)] for row in given.by_size)])
            if style in ("", one.name) and least + mm < 0.0:
                expected = f"an allowance of 0 or more at the {part} of {one.name}"
                findings.refuse(entry.where(f"{part}_more_mm"), expected, f"{least:g} mm {mm:+g} mm", "take less off")
