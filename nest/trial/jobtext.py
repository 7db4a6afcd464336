"""The job file with some figures of its styles changed: every other line, and every comment, stays as it is."""

import copy
import re
import tomllib
from collections.abc import Mapping

from nest.errors import PlanProblem
from nest.job.jobfile import key_lines
from nest.trial.revise import StyleRevision

_VALUE = re.compile(r"(?P<key>[^=]*=\s*)(?P<value>[^#]*?)(?P<rest>\s*(#.*)?)$")


def revised_text(text: str, revisions: tuple[StyleRevision, ...]) -> str:
    """The text of the job file with the revised styles.

    Raises
    ------
    PlanProblem
        If a figure stands where it cannot be changed safely; the text then says which.
    """
    expected = tomllib.loads(text)
    for revision in revisions:
        index = next(i for i, item in enumerate(expected["style"]) if item["name"].strip() == revision.style.name)
        for place, value in _changes(expected["style"][index], revision).items():
            text = _with_value(text, ("style", index, *place), value, revision.style.name)
            _put(expected["style"][index], place, value)
    if tomllib.loads(text) != expected:
        raise PlanProblem("the job file is written in a way that cannot be changed safely; enter the figures by hand.")
    return text


def _changes(item: Mapping, revision: StyleRevision) -> dict[tuple[str, ...], object]:
    """What differs from the job file, by place within the style."""
    style, given = revision.revised, item["allowances"]
    wanted: dict[tuple[str, ...], object] = {
        ("allowances", f"{part}_mm"): getattr(style.allowances, f"{part}_mm") for part in ("toe", "side", "back")
    }
    changed = {place: value for place, value in wanted.items() if given[place[1]] != value}
    by_size = {
        size: {"toe_mm": toe, "side_mm": side, "back_mm": back} for size, toe, side, back in style.allowances.by_size
    }
    if by_size != given.get("by_size", {}):
        changed["allowances", "by_size"] = by_size
    for key in ("widening_percent", "reject_percent"):
        if getattr(style, key) != getattr(revision.style, key):
            changed[(key,)] = getattr(style, key)
    return changed


def _put(item: dict, place: tuple[str, ...], value) -> None:
    """Set a value within nested tables."""
    for key in place[:-1]:
        item = item[key]
    item[place[-1]] = copy.deepcopy(value)


def _with_value(text: str, place: tuple, value, style: str) -> str:
    lines, known = text.splitlines(), key_lines(text)
    shown = _toml(value)
    if place in known and not lines[known[place] - 1].lstrip().startswith("["):
        at = known[place] - 1
        match = _VALUE.match(lines[at])
        assert match is not None  # it has a key and a value
        lines[at] = f"{match['key']}{shown}{match['rest']}"
    elif (parent := known.get(place[:-1])) is not None and lines[parent - 1].lstrip().startswith("["):
        lines.insert(parent, f"{place[-1]} = {shown}")
    else:
        raise PlanProblem(
            f"style {style}: {'.'.join(place[2:])} cannot be changed where it stands in the job file; write its "
            "section with one key a line, and by_size as one line."
        )
    end = "\r\n" if "\r\n" in text else "\n"
    return end.join(lines) + (end if text.endswith("\n") else "")


def _toml(value) -> str:
    """A number, or a table of tables of numbers, in TOML."""
    if isinstance(value, dict):
        inner = ", ".join(f"{_key(key)} = {_toml(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    return repr(float(value))


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z_]+", key) else f'"{key}"'
