"""A plan as one JSON file: written atomically, read back without solving.

The file is self-contained: a format name, a schema version, then every field of `nest.plan.Plan`
in its declared order. Rings are lists of [x, y] in mm, regions GeoJSON geometry objects (RFC 7946,
section 3.1, but in mm), both on the coordinate grid; money is a string; nothing depends on the day
or the machine, so equal plans give equal bytes.
"""

from pathlib import Path

from nest.asjson import REMEDY, decoded, encoded, json_text
from nest.atomic import atomic_path
from nest.errors import PlanProblem
from nest.limits import LARGEST_PLAN_BYTES, MOST_PLAN_VALUES
from nest.plainfile import BadJson, NotPlain, TooLarge, parsed_json, read_plain
from nest.plan import SCHEMA_VERSION, Plan

FORMAT = "vampyield plan"


def write_plan(plan: Plan, path: str | Path) -> None:
    """Write `plan` to `path` as JSON; the old file stays whole until the new one is complete.

    Coordinates and positions are rounded to the coordinate grid, headings are kept as they are.

    Raises
    ------
    PlanProblem
        If a number is not finite, an outline cannot be kept on the grid, or the folder cannot be
        written to; nothing is left behind then.
    """
    write_plan_text(plan_text(plan), path)


def write_plan_text(text: str, path: str | Path) -> None:
    """Write what `plan_text` came to, as `write_plan` does."""
    try:
        with atomic_path(path) as part:
            part.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise PlanProblem(f"{path}: the plan cannot be written ({error.strerror}); choose another folder.") from error


def read_plan(path: str | Path) -> Plan:
    """Read the plan at `path`.

    Raises
    ------
    PlanProblem
        If there is no such file, or it is no plan, is cut short, or was written by a newer version.
    InputProblems
        If it is a plan but fields are damaged: every damaged field, reported together.
    """
    path = Path(path)
    try:
        text = read_plain(path, LARGEST_PLAN_BYTES).decode("utf-8")
    except TooLarge as found:
        most = f"{LARGEST_PLAN_BYTES / 1e6:g} MB"
        raise PlanProblem(f"{path}: the plan has {found}, at most {most} are read; split the job.") from found
    except NotPlain as found:
        raise PlanProblem(f"{path}: the plan cannot be read ({found}); give the path of a plan.") from found
    except UnicodeDecodeError as error:
        raise PlanProblem(f"{path}: this is not a plan (not UTF-8 text); give the path of a plan.") from error
    return plan_from_text(text, where=path.name)


def plan_text(plan: Plan) -> str:
    """The file's text for `plan`, one element of each list a line; errors as `write_plan`."""
    head = {"format": FORMAT, "schema": SCHEMA_VERSION}
    lines = [f"{json_text(key)}: {json_text(value)}" for key, value in head.items()]
    for key, value in encoded(Plan, plan, "plan").items():
        if isinstance(value, list) and value:
            lines.append(f"{json_text(key)}: [\n" + ",\n".join(map(json_text, value)) + "\n]")
        else:
            lines.append(f"{json_text(key)}: {json_text(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def plan_from_text(text: str, where: str = "plan") -> Plan:
    """The plan in the file's text; `where` names the file in errors, which are those of `read_plan`."""
    try:
        data = parsed_json(text, MOST_PLAN_VALUES)
    except BadJson as error:
        raise PlanProblem(f"{where}: the plan is damaged ({error}); {REMEDY}.") from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise PlanProblem(f"{where}: this is not a plan (no format name {FORMAT!r}); give the path of a plan.")
    schema = data.get("schema")
    if type(schema) is not int or schema < 1:
        raise PlanProblem(f"{where}: the plan is damaged (schema version {schema!r}); {REMEDY}.")
    if schema > SCHEMA_VERSION:
        raise PlanProblem(
            f"{where}: the plan has schema version {schema}, this program reads up to {SCHEMA_VERSION}; "
            "update the program, or plan again."
        )
    body = {key: value for key, value in data.items() if key not in ("format", "schema")}
    return decoded(Plan, body, f"{where}, plan")
