"""Records written by the benches from what they measured, in the form `trials.py` describes."""

import argparse
import json
import re
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from statistics import mean, stdev

sys.path.append(str(Path(__file__).parent))

from trials import FOLDER, NEEDED, NOT_RECORDED, OPTIONAL, ROOT, check, number_of, read_trials


@dataclass(frozen=True, slots=True)
class Value:
    """One figure: its case, a number or one for each run, standard error, number of runs, unit if it differs."""

    case: str
    value: float | Sequence[float]
    error: float | None = None
    n: int | None = None
    unit: str | None = None


def mean_of(case: str, found: Sequence[float], unit: str | None = None) -> Value:
    """Mean of some runs, with its standard error where there are two or more."""
    error = round(stdev(found) / len(found) ** 0.5, 3) if len(found) > 1 else None
    return Value(case, round(mean(found), 3), error, len(found), unit)


def add_record_option(parser: argparse.ArgumentParser) -> None:
    """The option `--record SLUG`."""
    parser.add_argument("--record", type=_slug, metavar="SLUG",
                        help="write a record of what is measured to tests/bench/trials")


def bench_options(doc: str | None, **numbers: float) -> argparse.Namespace:
    """What the command line says of these numbers, else the values here, and the option `--record SLUG`."""
    parser = argparse.ArgumentParser(description=(doc or "").partition("\n")[0])
    for name, value in numbers.items():
        parser.add_argument(f"--{name.replace('_', '-')}", type=type(value), default=value)
    add_record_option(parser)
    return parser.parse_args()


def _slug(text: str) -> str:
    if not re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", text):
        raise argparse.ArgumentTypeError("a slug has small letters, digits and single hyphens only")
    return text


def command_of(arguments: Sequence[str]) -> str:
    """The command as it goes on record: folders are DATA, files go by names alone, `--record` is left out."""
    program, *rest = arguments
    words = [f"python tests/bench/{Path(program).name}"]
    for before, word in zip(("", *rest), rest, strict=False):
        if word.startswith("--record") or before == "--record":
            continue
        path = Path(word)
        words.append("DATA" if path.is_dir() else path.name if path.is_file() or path.is_absolute() else word)
    return " ".join(words)


def commit_now() -> str:
    """Start of the commit that is measured, or `NOT_RECORDED` where files differ from it or there is no repository."""
    def git(*words: str) -> str:
        return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()

    try:
        return NOT_RECORDED if git("status", "--porcelain", "--untracked-files=no") else git(
            "rev-parse", "--short", "HEAD")
    except (OSError, subprocess.CalledProcessError):
        return NOT_RECORDED


def text_of(record: dict) -> str:
    """A record as TOML, its fields in the order `trials.py` lists them."""
    def shown(value) -> str:
        if isinstance(value, list):
            return f"[{', '.join(shown(one) for one in value)}]"
        if isinstance(value, bool):
            return str(value).lower()
        if isinstance(value, str):
            return json.dumps(value, ensure_ascii=False)
        return str(value)

    lines = []
    for name in NEEDED | OPTIONAL:
        if name == "values":
            rows = ["    {" + ", ".join(f"{key} = {shown(one)}" for key, one in row.items()) + "},"
                    for row in record["values"]]
            lines += ["values = [", *rows, "]"] if rows else ["values = []"]
        elif name in record:
            lines.append(f"{name} = {shown(record[name])}")
    return "\n".join([*lines, ""])


def write_record(
    slug: str, *, question: str, module: str, baseline: str, metric: str, unit: str, values: Sequence[Value],
    change: str = "the program as it stands", folder: Path = FOLDER,
) -> Path:
    """Write a record under the next free number.

    The bench cannot judge, so that the verdict is "cannot tell" until whoever measured changes it.

    Raises
    ------
    ValueError
        If there is nothing to record, or the record would not be as it must be.
    """
    if not values:
        raise ValueError("nothing was measured, so nothing is recorded")
    number = max(read_trials(folder), default=0) + 1
    path = folder / f"{number:03d}-{slug}.toml"
    rows = [{name: list(one) if isinstance(one, tuple) else one for name, one in asdict(value).items()
             if one is not None} for value in values]
    record = {
        "question": question, "module": module, "change": change, "baseline": baseline, "metric": metric, "unit": unit,
        "values": rows, "command": command_of(sys.argv), "commit": commit_now(),
        "date": datetime.now(UTC).date(), "verdict": "cannot tell",
    }
    check(path, record)
    assert number_of(path) == number
    path.write_text(text_of(record), encoding="utf-8")
    print(f"recorded in {path.name}: say there what was changed, and change the verdict", file=sys.stderr)
    return path


def percentages(sums: Mapping[str, int], cases: Sequence[tuple[str, str, str]]) -> list[Value]:
    """Shares of counts in %, printed too; each case is its words, the count that is the part, and that of the whole."""
    values = [Value(case, round(100.0 * sums[part] / max(1, sums[whole]), 1), n=sums[whole])
              for case, part, whole in cases]
    for value in values:
        print(f"{value.case}: {value.value} % of {value.n}")
    return values
