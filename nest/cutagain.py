"""Pieces of a plan that were cut again, kept beside it, so that the next one is placed clear of them.

Each is a plan file of its own in a folder beside the plan. Whoever did not cut what a file says removes the file.
"""

from pathlib import Path

from nest.errors import InputProblems, PlanProblem
from nest.plan import Plan
from nest.planfile import read_plan, write_plan

FOLDER = "cut-again"


def folder_of(plan_file: Path) -> Path:
    """The folder beside a plan file in which what was cut again of it is kept."""
    return plan_file.parent / (FOLDER if plan_file.name == "plan.json" else f"{plan_file.stem}-{FOLDER}")


def read_cut_again(plan: Plan, plan_file: Path) -> tuple[Plan, ...]:
    """What was cut again of a plan, in the order in which it was.

    Raises
    ------
    PlanProblem
        If a file there cannot be read, or is of another plan.
    """
    found = []
    outlines = {hide.hide_id: hide.outline for hide in plan.hides}
    for path in sorted(folder_of(plan_file).glob("*.json")):
        try:
            made = read_plan(path)
        except (PlanProblem, InputProblems) as error:
            raise PlanProblem(f"{path}: what was cut again before cannot be read ({error}); remove the file if nothing "
                              "of it was cut") from error
        for hide in made.hides:
            if hide.hide_id not in outlines or not hide.outline.equals(outlines[hide.hide_id]):
                raise PlanProblem(f"{path}: this was cut again of another plan, whose hide {hide.hide_id} differs; "
                                  "move the file away")
        found.append(made)
    return tuple(found)


def note_cut_again(made: Plan, plan_file: Path) -> Path:
    """Keep a plan of pieces cut again beside the plan it was made of; the path of the file.

    Raises
    ------
    PlanProblem
        If it cannot be written.
    """
    folder = folder_of(plan_file)
    try:
        folder.mkdir(exist_ok=True)
        number = max((int(path.stem) for path in folder.glob("*.json") if path.stem.isdecimal()), default=0) + 1
    except OSError as error:
        raise PlanProblem(f"{folder}: what is cut again cannot be noted ({error.strerror})") from error
    path = folder / f"{number:04d}.json"
    write_plan(made, path)
    return path
