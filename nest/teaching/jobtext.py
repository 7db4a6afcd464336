"""A job file with new reject rates: every other line, and every comment, stays as it is."""

import re
import tomllib
from collections.abc import Mapping

from nest.errors import PlanProblem
from nest.pieces.rejects import RejectRates

_HEADING = re.compile(r"^\s*\[")
_REJECTS = re.compile(r"^\s*\[\[\s*[\"']?rejects[\"']?\s*\]\]\s*(#.*)?$")


def with_rates(text: str, rates: Mapping[str, RejectRates], note: str) -> str:
    """The text of the job file with these rates by style in place of those it has of them.

    note : one line of comment, what they rest on.

    Raises
    ------
    PlanProblem
        If the file is written in a way that cannot be changed safely.
    """
    expected = tomllib.loads(text)
    kept = [one for one in expected.get("rejects", ()) if one["style"].strip() not in rates]
    expected["rejects"] = kept + [_section(style, one) for style, one in rates.items()]
    old = text.replace("\r\n", "\n").split("\n")
    lines, dropped, i = [], 0, 0
    sections = tomllib.loads(text).get("rejects", [])
    while i < len(old):
        if _REJECTS.match(old[i]):
            end = next((j for j in range(i + 1, len(old)) if _HEADING.match(old[j])), len(old))
            mine = sections[dropped]["style"].strip() if dropped < len(sections) else ""
            dropped += 1
            if mine in rates:
                i = end
                continue
        lines.append(old[i])
        i += 1
    body = "\n".join(lines).rstrip("\n") + "\n"
    for style, one in rates.items():
        body += f"\n# {note}\n[[rejects]]\n" + "".join(
            f"{key} = {_toml(value)}\n" for key, value in _section(style, one).items())
    if tomllib.loads(body) != expected:
        raise PlanProblem("the job file is written in a way that cannot be changed safely; enter the rates by hand.")
    return body.replace("\n", "\r\n") if "\r\n" in text else body


def _section(style: str, rates: RejectRates) -> dict:
    section: dict = {"style": style, "up_to_deg": list(rates.up_to_deg)}
    section["percent_by_class"] = {str(quality): list(row) for quality, row in rates.percent}
    if rates.bias_percent is not None:
        section["bias_percent"] = rates.bias_percent
    return section


def _toml(value) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(float(value))
