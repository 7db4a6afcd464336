"""The job file: TOML to checked sections, every fault with its line."""

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from nest.job.fields import Section
from nest.job.files import Source, checked_source, read_text
from nest.job.findings import Findings, clipped, listed, meant
from nest.job.schema import REPEATED_SECTIONS, SINGLE_SECTIONS, JobSection, LayersSection
from nest.limits import DEEPEST_TABLE, LARGEST_JOB_FILE_BYTES
from nest.text import hidden_in

Read = TypeVar("Read")
Own = TypeVar("Own", bound=Section)

Place = tuple[str | int, ...]
"""Where a key stands: ("style", 0, "rules", "tolerance_deg")."""


@dataclass(frozen=True, slots=True)
class JobFile:
    """What the job file says. A section that is None was refused; `raw` holds it as written."""

    name: str
    raw: Mapping
    lines: Mapping[Place, int]
    job: JobSection | None
    single: Mapping[str, Any]
    repeated: Mapping[str, tuple[Any, ...]]
    """Sections of the model that `SINGLE_SECTIONS` or `REPEATED_SECTIONS` has for each key."""

    def where(self, *place: str | int) -> str:
        """Name and line of a key, or of the section that should hold it."""
        return _where(self.name, self.lines, place)

    @property
    def layers(self) -> LayersSection:
        """Names of layers, the usual ones if that section was refused."""
        return self.single["layers"] or LayersSection()

    def raw_items(self, section: str) -> list[dict]:
        """The entries of a repeated section as written, refused ones too."""
        items = self.raw.get(section)
        return [item if isinstance(item, dict) else {} for item in items] if isinstance(items, list) else []

    def raw_text(self, key: str) -> str | None:
        """A text at the top of the file, also when its section was refused."""
        value = self.raw.get(key)
        return value if isinstance(value, str) and value else None


def read_job_file(source: Source, findings: Findings) -> JobFile | None:
    """Read and check the job file; None, and a problem, if it is no TOML."""
    parsed = _parsed(source, findings)
    if parsed is None:
        return None
    raw, lines = parsed
    top = {key: value for key, value in raw.items() if key not in SINGLE_SECTIONS and key not in REPEATED_SECTIONS}
    job = _checked(JobSection, top, (), source.name, lines, findings, also=(*SINGLE_SECTIONS, *REPEATED_SECTIONS))
    single = {
        key: _checked(model, raw.get(key, {}), (key,), source.name, lines, findings)
        for key, model in SINGLE_SECTIONS.items()
    }
    repeated = _repeated(REPEATED_SECTIONS, raw, source.name, lines, findings)
    return JobFile(source.name, raw, lines, job, single, repeated)


def _repeated(
    models: Mapping[str, type[Section]], raw: Mapping, name: str, lines: Mapping[Place, int], findings: Findings
) -> dict[str, tuple[Section | None, ...]]:
    """The entries of every repeated section; None for one that was refused."""
    found = {}
    for key, model in models.items():
        items = raw.get(key, [])
        if not isinstance(items, list):
            findings.refuse(
                _where(name, lines, (key,)), f"[[{key}]] sections", clipped(items), f"write [[{key}]] above each"
            )
            items = []
        found[key] = tuple(_checked(model, item, (key, i), name, lines, findings) for i, item in enumerate(items))
    return found


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a repeated section, and what says where its keys stand."""

    section: Section
    where: Callable[..., str]


def read_alone(path: Path | str, read: Callable[[Source, Findings], Read | None]) -> tuple[Read, Path, Findings]:
    """What `read` makes of a file beside the job file, the path, and the findings to go on with.

    Raises
    ------
    InputProblems
        Every problem found, if `read` makes nothing of it.
    """
    path, findings = Path(path), Findings()
    source = checked_source(Source(path, path.name), path.name, findings, LARGEST_JOB_FILE_BYTES)
    found = None if source is None else read(source, findings)
    if found is None:
        raise findings.error()
    return found, path, findings


def read_entries(
    source: Source, models: Mapping[str, type[Section]], findings: Findings
) -> dict[str, tuple[Entry, ...]] | None:
    """Read and check a file of repeated sections alone; None, and problems, if it is no TOML or holds anything else.

    Entries that were refused are left out.
    """
    parsed = _parsed(source, findings)
    if parsed is None:
        return None
    raw, lines = parsed
    for key in raw.keys() - models.keys():
        expected = f"the sections {listed(f'[[{one}]]' for one in models)} alone"
        findings.refuse_name(_where(source.name, lines, (key,)), expected, key, models)

    def entry(key: str, i: int, section: Section) -> Entry:
        return Entry(section, lambda *inner: _where(source.name, lines, (key, i, *inner)))

    return {
        key: tuple(entry(key, i, one) for i, one in enumerate(items) if one is not None)
        for key, items in _repeated(models, raw, source.name, lines, findings).items()
    }


def read_section_file(source: Source, key: str, model: type[Own], findings: Findings) -> Own | None:
    """Read and check a file that holds the section `key` of a job file, with its heading or without.

    None, and problems, if it is no TOML, or the section was refused.
    """
    parsed = _parsed(source, findings)
    if parsed is None:
        return None
    raw, lines = parsed
    headed = raw.keys() == {key} and isinstance(raw[key], dict)
    section, place = (raw[key], (key,)) if headed else (raw, ())
    return _checked(model, section, place, source.name, lines, findings)


def read_whole_file(source: Source, model: type[Own], findings: Findings) -> tuple[Own, Callable] | None:
    """Read and check a file that is one section as a whole, and what says where its keys stand.

    None, and problems, if it is no TOML, or was refused.
    """
    parsed = _parsed(source, findings)
    if parsed is None:
        return None
    raw, lines = parsed
    checked = _checked(model, raw, (), source.name, lines, findings)
    return None if checked is None else (checked, lambda *place: _where(source.name, lines, place))


def _parsed(source: Source, findings: Findings) -> tuple[dict, dict[Place, int]] | None:
    """What a TOML file says and the lines of its keys; None, and a problem, if it is none."""
    text = read_text(source, findings)
    if text is None:
        return None
    # A key of very many steps takes time and memory that grow with their square.
    if (long := _LONG_KEY.search(text)) is not None:
        where = f"{source.name}, line {text.count(chr(10), 0, long.start()) + 1}"
        findings.refuse(where, f"a key of at most {DEEPEST_TABLE} steps", "more", "see the keys of the demo job")
        return None
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # TOMLDecodeError is a ValueError, and long numbers raise plain ones
        reason, place = _fault(error, text)
        findings.refuse(f"{source.name}{place}", "TOML", f"a fault ({reason})", _remedy(place, text))
        return None
    if _deeper_than(raw, DEEPEST_TABLE):
        most = f"tables and lists no more than {DEEPEST_TABLE} within each other"
        findings.refuse(source.name, most, "more", "see the keys of the demo job")
        return None
    if hidden := next(filter(None, map(hidden_in, texts(raw))), None):
        # Written as an escape, for the file itself is plain.
        findings.refuse(source.name, "plain text", hidden, "delete it")
        return None
    return raw, key_lines(text)


def _fault(error: Exception, text: str) -> tuple[str, str]:
    """What is wrong with a TOML text, and where, to follow the file's name."""
    if isinstance(error, RecursionError):
        return "lists within lists without end", ""
    if not isinstance(error, tomllib.TOMLDecodeError):
        long = re.search(r"[\d_]{4000}", text)
        return "a number of too many digits", f", line {text.count(chr(10), 0, long.start()) + 1}" if long else ""
    reason, _, place = str(error).partition(" (at ")
    return reason, ", " + (place.rstrip(")") if place.startswith("line") else "the end")


def _remedy(place: str, text: str) -> str:
    """How to mend a line that is no TOML; a number with a comma for its point is met more often than anything else."""
    at = re.match(r", line (\d+)", place)
    comma = at and _COMMA.fullmatch(text.split("\n")[int(at[1]) - 1].rstrip("\r"))
    return f"write {comma[1]}.{comma[2]}, with a point" if comma else "mend that line"


def _deeper_than(value, most: int) -> bool:
    """Whether tables and lists lie more than `most` deep within each other; counted by level, without recursion."""
    level = [value]
    for _ in range(most + 1):
        level = [
            inner for outer in level if isinstance(outer, (dict, list))
            for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
    return bool(level)


def texts(value) -> Iterator[str]:
    """Every text within nested lists and tables, keys too."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for item in value:
            yield from texts(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield key
            yield from texts(item)


def _checked(
    model: type[Own], data, place: Place, name: str, lines, findings: Findings, also: tuple[str, ...] = ()
) -> Own | None:
    """The section in `data`, or None and its problems."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            inner = tuple(step for step in detail["loc"] if step not in ("[key]", "int", "float"))
            expected, found, remedy = _worded(model, detail, (*inner,), also)
            findings.refuse(_where(name, lines, place + inner), expected, found, remedy)
        return None


_KINDS = {
    "float_type": "a number", "int_type": "a whole number", "int_from_float": "a whole number",
    "string_type": "text in quotes", "bool_type": "true or false", "list_type": "a list", "dict_type": "a section",
    "model_type": "a section", "finite_number": "a finite number", "string_too_short": "text that is not empty",
    "too_short": "at least one entry", "decimal_type": "a number",
}
_LIMITS = {
    "greater_than": ("above", "gt"), "greater_than_equal": ("of at least", "ge"),
    "less_than": ("below", "lt"), "less_than_equal": ("of at most", "le"),
}


def _worded(model: type[Section], detail: ErrorDetails, inner: Place, also: tuple[str, ...]) -> tuple[str, str, str]:
    """Expected, found and remedy of one error of pydantic's."""
    kind, context, value = detail["type"], detail.get("ctx", {}), detail["input"]
    key = str(inner[-1]) if inner else ""
    if kind == "worded":
        return context["expected"], context["found"], context["remedy"]
    if kind == "extra_forbidden":
        known = [*_section_at(model, inner[:-1]).model_fields, *also]
        return "a key this section has", repr(key), meant(key, known)
    if kind == "missing":
        return f"a value for {key}", "none", f"add {key}"
    if kind in _LIMITS:
        word, limit = _LIMITS[kind]
        return f"{key} {word} {context[limit]:g}", clipped(value), f"correct {key}"
    if kind in ("literal_error", "enum"):
        return listed(context["expected"].replace("'", "").replace(" or ", ", ").split(", ")), clipped(value), \
            f"correct {key}"
    if kind == "string_too_long":
        return f"{key} of at most {context['max_length']} characters", clipped(value), f"shorten {key}"
    expected = _KINDS.get(kind, detail["msg"])
    return (f"{expected} for {key}" if key else expected), clipped(value), f"correct {key or 'it'}"


def _section_at(model: type[Section], path: Place) -> type[Section]:
    """The model of the section that a path leads to."""
    for step in path:
        field = model.model_fields.get(str(step))
        if field is not None and isinstance(field.annotation, type) and issubclass(field.annotation, Section):
            model = field.annotation
    return model


def _where(name: str, lines: Mapping[Place, int], place: Place) -> str:
    """File, line and key. A key that does not stand there has the line of the nearest section around it."""
    known = next((lines[place[:n]] for n in range(len(place), 0, -1) if place[:n] in lines), None)
    # Entries are counted from 1, and only where there is more than one.
    words = [f"{step + 1}" if isinstance(step, int) else step for step in place]
    path = ".".join(words)
    return ", ".join(filter(None, (name, f"line {known}" if known else "", path)))


_STEP = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+"""
_LONG_KEY = re.compile(rf"(?<![\w-]){_STEP}(?:\.[ \t]*+{_STEP}){{{DEEPEST_TABLE}}}")
"""More steps than a key may have, wherever they stand."""

_COMMA = re.compile(r"[^=]*=\s*([+-]?\d{1,15}),(\d{1,15})\s*(?:#.*)?")
"""A key and a number with a comma in it."""

_HEADER = re.compile(r"\s*(\[\[?)([^\[\]]+)\]\]?\s*(#.*)?$")
_KEY = re.compile(r"""\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")


def key_lines(text: str) -> dict[Place, int]:
    """Line (from 1) of every section heading and key of a TOML text.

    A plain scan, for messages only: keys within inline tables are not looked at.
    """
    lines: dict[Place, int] = {}
    counts: dict[Place, int] = {}
    section: Place = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            section = _entered(_steps(header[2]), header[1] == "[[", counts)
            lines.setdefault(section, number)
            if section and isinstance(section[-1], int):
                lines.setdefault(section[:-1], number)
        elif key := _KEY.match(line):
            lines.setdefault(section + _steps(key[1]), number)
    return lines


def _steps(dotted: str) -> Place:
    """The steps of a dotted key, without quotes."""
    return tuple(step.strip("\"'") for step in re.findall(r"""[\w-]+|"[^"]*"|'[^']*'""", dotted))


def _entered(steps: Place, repeated: bool, counts: dict[Place, int]) -> Place:
    """The place a heading opens: within a repeated section it means that section's last entry."""
    place: Place = ()
    for i, step in enumerate(steps):
        place += (step,)
        if repeated and i == len(steps) - 1:
            counts[place] = counts.get(place, -1) + 1
        if place in counts:
            place += (counts[place],)
    return place
