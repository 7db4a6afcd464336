"""The users' guide: it names all that can be written in a job, a drawing or a command line, and what it shows is so.

Nothing is listed here by hand: keys come from the schema, properties from what the reader asks for, layers from their
tables, commands and options from the command line itself.
"""

import json
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import ClassVar

import pytest
from pydantic import BaseModel
from small_jobs import small_job
from typer.main import get_command

import nest
from nest.cli.app import app
from nest.cutplan.nickcode import size_word
from nest.guide import page, topics
from nest.job import geojson, schema
from nest.job.cutting_table import USUAL_LAYERS
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.schema import JobSection, LayersSection
from nest.job.shifts_schema import ShiftSection, ShiftsFile, StationSection

ROOT = Path(__file__).parent.parent
PAGES = {topic: page(topic) for topic in topics()}
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = "\n".join(PAGES.values())

SHARED = set(re.findall(
    r"--[a-z][a-z-]*",
    re.search(r"\n## Options that commands share\n(.*?)\n\n[^|\n]", PAGES["plan"], flags=re.DOTALL)[1],
))
"""Options that several commands have are explained once, in a table."""


def blocks(text: str, *languages: str) -> list[str]:
    """Every fenced block of these languages."""
    return re.findall(rf"^```(?:{'|'.join(languages)})\n(.*?)^```$", text, flags=re.DOTALL | re.MULTILINE)


def in_code(text: str) -> list[str]:
    """What stands in code marks, outside of blocks."""
    return re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```$", "", text, flags=re.DOTALL | re.MULTILINE))


def commands(group=None, name: str = "") -> Iterator[tuple]:
    """Every command by its full name, those of groups too."""
    for word, command in (group or get_command(app)).commands.items():
        full = f"{name} {word}".strip()
        if hasattr(command, "commands"):
            yield from commands(command, full)
        else:
            yield full, command


COMMANDS = dict(commands())


def options_of(command) -> set[str]:
    """Every long option of a command."""
    return {
        word for one in command.params if one.param_type_name == "option"
        for word in (*one.opts, *one.secondary_opts) if word.startswith("--")
    }


def section(heading: str) -> str:
    """What stands below the guide's heading for a section of the job file, up to the next heading."""
    (found,) = re.findall(rf"^#+ `{re.escape(heading)}`\n(.*?)(?=^#|\Z)", GUIDE, flags=re.DOTALL | re.MULTILINE)
    return found


def key_rows(text: str) -> dict[str, list[str]]:
    """Cells of a table's rows, by the key in the first."""
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("|")]
    return {row[0].strip("`"): row for row in rows if row[0].startswith("`")}


def schema_sections() -> dict[str, type[BaseModel]]:
    """Every section of the job file by its heading, those within a style too."""
    named = {f"[{name}]": model for name, model in schema.SINGLE_SECTIONS.items()}
    for name, model in schema.REPEATED_SECTIONS.items():
        named[f"[[{name}]]"] = model
        named |= {
            f"[{name}.{key}]": field.annotation for key, field in model.model_fields.items()
            if isinstance(field.annotation, type) and issubclass(field.annotation, schema.Section)
        }
    return named


SECTIONS = schema_sections()


def checked_rows(model: type[BaseModel], rows: dict[str, list[str]]) -> None:
    """The rows are the model's keys, each with its default where it has a plain one."""
    assert rows.keys() == model.model_fields.keys()
    for key, field in model.model_fields.items():
        told = rows[key][2]
        assert (told == "needed") == field.is_required(), key
        if isinstance(field.default, bool | int | float | str):
            value = tomllib.loads(f"v = {told.strip('`')}")["v"]
            assert value == field.default and isinstance(value, bool) == isinstance(field.default, bool), key


@pytest.mark.parametrize("heading", sorted(SECTIONS))
def test_every_key_of_a_section_is_explained_with_its_default(heading):
    """A section has every key of the schema and no other, and says which are needed and what others default to."""
    checked_rows(SECTIONS[heading], key_rows(section(heading)))


def test_every_key_at_the_top_of_the_job_file_is_explained():
    """The same for the keys above the first section."""
    (text,) = re.findall(r"^### Top of the file\n(.*?)(?=^#)", PAGES["files"], flags=re.DOTALL | re.MULTILINE)
    checked_rows(JobSection, key_rows(text))


def test_the_guide_names_no_section_that_there_is_not():
    """Headings that look like a section of the job file are one."""
    headings = re.findall(r"^#+ `(\[.*\])`$", GUIDE, flags=re.MULTILINE)
    assert sorted(headings) == sorted(SECTIONS)


class _Asked(dict):
    """A JSON object that keeps which of its members were asked for."""

    names: ClassVar[set[str]] = set()

    def get(self, key, default=None):
        self.names.add(key)
        return super().get(key, default)

    def __getitem__(self, key):
        self.names.add(key)
        return super().__getitem__(key)

    def __contains__(self, key):
        self.names.add(key)
        return super().__contains__(key)


def test_every_geojson_property_is_explained(tmp_path, monkeypatch):
    """What the reader asks of the guide's example of a hide in GeoJSON stands in code marks; the example is sound."""
    (example,) = blocks(PAGES["files"], "json")
    path = tmp_path / "hide.geojson"
    path.write_text(example, encoding="utf-8")
    plain = json.loads
    monkeypatch.setattr(geojson, "parsed_json", lambda text, most: plain(text, object_hook=_Asked))
    findings = Findings()
    _Asked.names.clear()
    read = geojson.read_geojson(Source(path, path.name), LayersSection(), None, findings)
    assert read is not None and not findings.problems
    assert _Asked.names >= {"part", "severity", "width_mm", "stretch_deg"}
    by_standard = {"type", "features", "geometry", "properties", "coordinates"}  # RFC 7946
    (text,) = re.findall(r"^## Hides as GeoJSON\n(.*?)(?=^## )", PAGES["files"], flags=re.DOTALL | re.MULTILINE)
    assert _Asked.names - by_standard <= set(in_code(text))


def test_every_usual_layer_is_explained():
    """Layers of the drawings that go in and of those that come out, each use with its name in one row."""
    rows = key_rows(section("[layers]"))
    assert rows.keys() == LayersSection.model_fields.keys()
    told = {row[0].strip("`"): row[1].strip("`") for row in key_rows(PAGES["table"]).values()}
    assert {use: told.get(use) for use in USUAL_LAYERS} == USUAL_LAYERS


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_and_option_is_explained(name):
    """Some page shows the command and names all its options, but for those in the table of options that are shared."""
    shown = [text for text in PAGES.values() if re.search(rf"vampyield(?: --\S+)* {name}\b", text)]
    missing = (options_of(COMMANDS[name]) - set(re.findall(r"--[a-z][a-z-]*", text)) - SHARED for text in shown)
    assert min(missing, key=len) == set()


def test_shared_options_are_those_of_several_commands():
    """The table of options that commands share holds no other."""
    several = {option for option in SHARED if sum(option in options_of(command) for command in COMMANDS.values()) > 1}
    assert several == SHARED - {"--help"}


def test_options_of_the_program_itself_are_explained():
    """Those that stand before a command."""
    assert options_of(get_command(app)) - set(re.findall(r"--[a-z][a-z-]*", PAGES["plan"])) <= {
        "--install-completion", "--show-completion",
    }


def shell_lines() -> list[str]:
    """Every command of ours in a shell block of README and guide, continued lines joined."""
    text = "\n".join((README, *PAGES.values()))
    lines = "\n".join(blocks(text, "sh")).replace("\\\n", " ").splitlines()
    return [
        part.strip() for line in lines for part in re.split(r"&&|\|", re.sub(r"\s#.*", "", line))
        if re.match(r"\s*(\.venv/bin/)?vampyield\b", part)
    ]


@pytest.mark.parametrize("line", shell_lines())
def test_shell_lines_are_commands_that_there_are(line):
    """Every line parses, with its options and their values."""
    words, command = shlex.split(line)[1:], get_command(app)
    while hasattr(command, "commands"):
        word = words.pop(0)
        command = command.commands[word]
    command.make_context(command.name, words)


def test_commands_in_running_text_are_commands_that_there_are():
    """A command in code marks has its name, and whatever options it is shown with."""
    named = [words for text in (README, GUIDE) for words in in_code(text) if words.startswith("vampyield ")]
    assert len(named) > 20
    for words in named:
        first, *rest = re.sub(r"^vampyield ", "", words).split()
        if first.startswith("--"):
            assert first in options_of(get_command(app)), words
            continue
        if first.isupper():
            continue
        names = [name for name in COMMANDS if name.split()[0] == first.rstrip(",")]
        assert names, words
        for option in (word for word in rest if word.startswith("--")):
            assert any(option in options_of(COMMANDS[name]) | {"--help"} for name in names), words


def test_settings_in_the_guide_can_be_read():
    """TOML that the guide shows is read by the schema, section by section."""
    shown = [tomllib.loads(text) for text in blocks(GUIDE, "toml")]
    assert shown
    for data in shown:
        if "first_day" in data:  # a file of its own
            ShiftsFile.model_validate(data)
            continue
        for name, items in data.items():
            model = schema.SINGLE_SECTIONS.get(name) or schema.REPEATED_SECTIONS[name]
            for one in items if isinstance(items, list) else [items]:
                model.model_validate(one)


def test_nicks_are_those_that_are_cut():
    """The table of nicks is that of the code."""
    rows = re.findall(r"^\| (\d+) \| ([\d-]+) \|$", PAGES["table"], flags=re.MULTILINE)
    assert {size: "-".join(map(str, size_word(size))) for size, _ in rows} == dict(rows)
    assert sorted(size[-1] for size, _ in rows) == list("0123456789")


def test_public_names_are_explained_and_the_lines_run(tmp_path):
    """The page about Python names all that is public, and its blocks run one after the other on a small job."""
    assert set(nest.__all__) <= set(in_code(PAGES["python"]))
    code = "\n".join(blocks(PAGES["python"], "python"))
    short = code.replace("seconds=20", "seconds=3")
    assert short != code
    small_job(tmp_path / "demo_data", pairs={"38": 1, "39": 2})
    done = subprocess.run(
        [sys.executable, "-c", short], cwd=tmp_path, env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, check=False,
    )
    assert done.returncode == 0, done.stderr
    first, *rest = done.stdout.splitlines()
    assert re.fullmatch(r"True \d+\.\d\d EUR", first)
    assert len(rest) == 1 and rest[0].startswith("no-such-job.toml: expected")
    assert nest.verify_plan(nest.read_plan(tmp_path / "out-python" / "plan.json")).ok


def _anchors(text: str) -> set[str]:
    headings = re.findall(r"^#+ (.*)$", text, flags=re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading.casefold()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("topic", sorted(PAGES))
def test_links_of_a_page_lead_somewhere(topic):
    """Links within the guide lead to a page, and to a heading of it."""
    for target in re.findall(r"\]\(([^)]+)\)", PAGES[topic]):
        if "://" in target:
            continue
        file, _, anchor = target.partition("#")
        entry = files("nest.guide") / (file or f"{topic}.md")
        assert entry.is_file(), target
        assert not anchor or anchor in _anchors(entry.read_text(encoding="utf-8")), target


def test_pages_have_a_title_a_first_sentence_and_cautions():
    """Every page says what it is for; where knives, presses, heat or adhesives come in, what to be careful of."""
    for topic, text in PAGES.items():
        assert re.match(r"# \S.*\n\n\S", text), topic
        if re.search(r"\b(knife|knives|press|presses|hot|heat|adhesives?)\b", text):
            assert "\n## Cautions\n" in text, topic
        assert 10 < len(topics()[topic]) <= 200, topic


def test_the_guide_is_installed_with_the_program():
    """Its pages are package data, and README links to each."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = project["tool"]["setuptools"]["package-data"]["nest"]
    found = {path.stem for pattern in patterns for path in (ROOT / "nest").glob(pattern) if path.suffix == ".md"}
    assert found == PAGES.keys()
    assert {f"nest/guide/{topic}.md" for topic in PAGES} <= set(re.findall(r"\]\(([^)]+)\)", README))
    assert len(README.splitlines()) <= 150


def test_every_key_of_the_shifts_is_explained():
    """Those of the whole file in the table, those of its sections in the text of the page."""
    text = PAGES["cutting-day"].split("## The timetable")[1].split("\n## ")[0]
    top = ShiftsFile.model_fields.keys() - {"shift", "station"}
    assert {row for row in key_rows(text)} == top
    named = set(in_code(text))
    assert all(section.model_fields.keys() <= named for section in (ShiftSection, StationSection))
