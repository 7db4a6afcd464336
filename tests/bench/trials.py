"""Experiments on record: one file each in `tests/bench/trials/NNN-slug.toml`.

    python tests/bench/trials.py [WORD...]      a line for each record that holds all the words
    python tests/bench/trials.py --show NNN     one record as it stands
    python tests/bench/trials.py --table        today's figures, the table in DEVELOPERS.md

A record holds, in this order:

    question        what was to be found out, in one sentence
    module          file of the project it is about, from the top of the project
    change          what was tried
    baseline        what it is held against
    metric, unit    what was measured; lengths, areas and times in the unit named, "1" for a pure number
    values          a list of {case, value, error, n, unit}: value is a number, or a list with a number for each run, or
                    least and most where the case ends in "range"; error is the standard error unless the note says
                    otherwise, n the number of runs, and unit is there where it differs from the record's; a record
                    without values says in its note what was found
    command         what measured it, or "not recorded"; DATA is a folder described in `tests/bench/README.md`
    commit          the commit that was measured or first states the figures, or "not recorded"
    date            the day of that commit, or of the measurement
    verdict         "kept": the program has it; "left out": it does not; "cannot tell": no difference beyond the error
    superseded_by   number of the record that took its place (left out where there is none)
    today           true where the figures are the present program's (left out where they are not)
    note            two sentences at most (left out where there is nothing to add)

Nothing is filled in that was not measured: what is not known is left out or is "not recorded". The benches write
records with `--record SLUG` (`record.py`).
"""

import argparse
import re
import sys
import tomllib
from datetime import date
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDER = Path(__file__).parent / "trials"
NOT_RECORDED = "not recorded"
VERDICTS = ("kept", "left out", "cannot tell")

NEEDED = {
    "question": str, "module": str, "change": str, "baseline": str, "metric": str, "unit": str, "values": list,
    "command": str, "commit": str, "date": date, "verdict": str,
}
OPTIONAL = {"superseded_by": int, "today": bool, "note": str}
VALUE_NEEDED = {"case": str, "value": (int, float, list)}
VALUE_OPTIONAL = {"error": (int, float), "n": int, "unit": str}


def number_of(path: Path) -> int:
    """The number of a record, from its file name.

    Raises
    ------
    ValueError
        If the name is not NNN-slug.toml.
    """
    if not (found := re.fullmatch(r"(\d{3})-[a-z0-9]+(?:-[a-z0-9]+)*\.toml", path.name)):
        raise ValueError(f"{path.name}: a record is called NNN-slug.toml, small letters, digits and hyphens")
    return int(found[1])


def _fields(where: str, given: dict, needed: dict, optional: dict) -> None:
    """Raise ValueError for a field that is missing, unknown or of the wrong type."""
    if missing := needed.keys() - given.keys():
        raise ValueError(f"{where} has no {', '.join(sorted(missing))}")
    if unknown := given.keys() - needed.keys() - optional.keys():
        raise ValueError(f"{where} has {', '.join(sorted(unknown))}, which no record has")
    for name, value in given.items():
        wanted = (needed | optional)[name]
        if not isinstance(value, wanted) or (isinstance(value, bool) and wanted is not bool) or value == "":
            raise ValueError(f"{where}: {name} = {value!r} is of the wrong type, or empty")


def check(path: Path, record: dict) -> None:
    """Hold one record against the fields above.

    Raises
    ------
    ValueError
        Naming the file, the field and what is wrong.
    """
    number_of(path)
    _fields(path.name, record, NEEDED, OPTIONAL)
    for value in record["values"]:
        _fields(f"{path.name}, values", value, VALUE_NEEDED, VALUE_OPTIONAL)
        runs = value["value"] if isinstance(value["value"], list) else [value["value"]]
        if not runs or any(isinstance(run, bool) or not isinstance(run, int | float) for run in runs):
            raise ValueError(f"{path.name}: the value of {value['case']!r} is not a number or a list of numbers")
        if value.get("n", 1) < 1 or value.get("error", 0) < 0:
            raise ValueError(f"{path.name}: {value['case']!r} has n below 1 or an error below 0")
        if value["case"].endswith("range") and not (len(runs) == 2 and runs[0] <= runs[1]):
            raise ValueError(f"{path.name}: {value['case']!r} needs its least and its most value")
    if record["verdict"] not in VERDICTS:
        raise ValueError(f"{path.name}: the verdict is {', '.join(VERDICTS[:-1])} or {VERDICTS[-1]}")
    if not record["values"] and "note" not in record:
        raise ValueError(f"{path.name}: without values a note must say what was found")
    if len(re.findall(r"[.?!](?:\s|$)", record.get("note", ""))) > 2:
        raise ValueError(f"{path.name}: a note has two sentences at most")
    if not re.fullmatch(rf"[0-9a-f]{{7,40}}|{NOT_RECORDED}", record["commit"]):
        raise ValueError(f"{path.name}: commit is the start of a commit's name, or {NOT_RECORDED!r}")


def read_trials(folder: Path = FOLDER) -> dict[int, dict]:
    """All records by number, each checked by itself and in its links.

    Raises
    ------
    ValueError
        If a record is not as it must be, two share a number, or one is superseded by a record there is not.
    """
    found: dict[int, dict] = {}
    for path in sorted(folder.glob("*")):
        record = tomllib.loads(path.read_text(encoding="utf-8"))
        check(path, record)
        if (number := number_of(path)) in found:
            raise ValueError(f"{path.name}: there is another record {number:03d}")
        found[number] = record
    for number, record in found.items():
        later = record.get("superseded_by")
        if later is not None and (later not in found or later == number):
            raise ValueError(f"record {number:03d} is superseded by {later}, which is no other record")
        if later is not None and record.get("today"):
            raise ValueError(f"record {number:03d} is superseded, so its figures are not today's")
    return found


def figure(value: dict, unit: str) -> str:
    """One value in words: case, figure, error and unit."""
    runs = value["value"] if isinstance(value["value"], list) else [value["value"]]
    unit = value.get("unit", unit)
    case, comma, last = value["case"].rpartition(", ")
    ranged = (last or value["case"]) == "range"
    case = (case if comma else "") if ranged else value["case"]
    text = (" to " if ranged else ", ").join(f"−{-run}" if run < 0 else str(run) for run in runs)
    text += f" ± {value['error']}" if "error" in value else ""
    text += "" if unit in ("1", "count", "ratio") else f" {unit}"
    return f"{case}: {text}" if case else text


def line(number: int, record: dict) -> str:
    """A record in one line."""
    later = f", now {record['superseded_by']:03d}" if "superseded_by" in record else ""
    figures = "; ".join(figure(value, record["unit"]) for value in record["values"]) or record["note"]
    return f"{number:03d}  {record['verdict']}{later}: {record['question']} {figures}"


def table(records: dict[int, dict]) -> str:
    """Today's figures as a Markdown table."""
    rows = ["| trial | measured | beside | figures |", "|---|---|---|---|"]
    for number, record in records.items():
        if record.get("today"):
            figures = "; ".join(figure(value, record["unit"]) for value in record["values"])
            beside = "–" if record["baseline"] == "none" else record["baseline"]
            rows.append(f"| {number:03d} | {record['metric']} | {beside} | {figures} |")
    return "\n".join(rows)


def main() -> int:
    """Print what is asked for; 2 if there is no such record."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("words", nargs="*", metavar="WORD")
    parser.add_argument("--show", type=int, metavar="NNN")
    parser.add_argument("--table", action="store_true")
    args = parser.parse_args()
    try:
        records = read_trials()
    except ValueError as fault:
        print(fault, file=sys.stderr)
        return 2
    if args.table:
        print(table(records))
    elif args.show is not None:
        if args.show not in records:
            print(f"There is no record {args.show:03d}; the numbers run to {max(records):03d}.", file=sys.stderr)
            return 2
        path = next(FOLDER.glob(f"{args.show:03d}-*.toml"))
        print(f"# {path.name}\n{path.read_text(encoding='utf-8')}", end="")
    else:
        words = [word.lower() for word in args.words]
        for number, record in records.items():
            slug = next(FOLDER.glob(f"{number:03d}-*.toml")).stem
            if all(word in f"{slug} {record}".lower() for word in words):
                print(line(number, record))
    return 0


if __name__ == "__main__":
    sys.exit(main())
