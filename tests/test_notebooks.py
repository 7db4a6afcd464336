"""The notebooks run from top to bottom on a small part of the demo job, tell what they promise, and store nothing."""

import ast
import gzip
import re
from pathlib import Path

import pytest
import shapely
from small_jobs import small_job

import nest
from nest.planfile import plan_from_text, plan_text

nbformat = pytest.importorskip("nbformat")

FOLDER = Path(__file__).parent.parent / "notebooks"
SAVED = FOLDER / "saved_plan.json.gz"
NAMES = ("export_cut_files.ipynb", "plan_a_size_run.ipynb", "price_a_style.ipynb")


def small(folder):
    """What takes the place of each notebook's parameters, so that a test takes seconds: a small job and its plan."""
    job, saved = small_job(folder / "job", pairs={"38": 3, "39": 2}, hides=2), folder / "plan.json.gz"
    with gzip.open(saved, "wt", encoding="utf-8") as file:
        file.write(plan_text(nest.make_plan(nest.read_job(job), passes=2)))
    return {
        "plan_a_size_run.ipynb": {"JOB": str(job), "SAVED": str(saved), "SECONDS": None, "PASSES": 2, "EXTRA_PAIRS": 1},
        "price_a_style.ipynb": {"STEPS_MM": (1.0,), "LINES": 2},
        "export_cut_files.ipynb": {"SAVED": str(saved), "HIDES": None},
    }


def read(name):
    """A notebook as it lies in the project."""
    return nbformat.read(FOLDER / name, as_version=4)


def shrunk(notebook, values):
    """The notebook with these values after those of its parameter cell."""
    (cell,) = [cell for cell in notebook.cells if "parameters" in cell.metadata.get("tags", ())]
    names = {node.id for node in ast.walk(ast.parse(cell.source)) if isinstance(node, ast.Name)}
    assert values.keys() <= names
    cell.source += "".join(f"\n{name} = {value!r}" for name, value in values.items())
    return notebook


def printed(notebook):
    """Everything that the cells of an executed notebook wrote."""
    return "".join(
        output.text for cell in notebook.cells if cell.cell_type == "code"
        for output in cell.outputs if output.output_type == "stream" and output.name == "stdout"
    )


def pictures(notebook):
    """How many pictures an executed notebook shows."""
    return sum(
        "image/png" in output.get("data", ()) for cell in notebook.cells if cell.cell_type == "code"
        for output in cell.outputs
    )


@pytest.fixture(scope="module")
def executed(tmp_path_factory):
    """Runs a notebook once, small, in the folder where it lies."""
    nbclient = pytest.importorskip("nbclient")  # not at the head: every process would load it
    pytest.importorskip("ipykernel")
    done, values = {}, small(tmp_path_factory.mktemp("small"))

    def run(name):
        if name not in done:
            notebook = shrunk(read(name), values[name])
            client = nbclient.NotebookClient(notebook, timeout=180, resources={"metadata": {"path": str(FOLDER)}})
            done[name] = client.execute()
        return done[name]

    return run


def test_the_saved_plan_is_right_and_good():
    """It is of the demo job as it is, passes every check, meets the order, and fills the sides it opens."""
    with gzip.open(SAVED, "rt", encoding="utf-8") as file:
        plan = plan_from_text(file.read())
    job = nest.read_job(FOLDER.parent / "demo_data/job.toml")
    verdict = nest.verify_plan(plan)
    assert verdict.ok and verdict.order_met
    assert plan.name == job.name and "invented" in read("plan_a_size_run.ipynb").cells[0].source
    wanted = {(line.style, line.size): line.pairs for line in job.order}
    assert {(line.style, line.size): line.pairs_wanted for line in plan.order} == wanted
    areas = {hide.hide_id: hide.measured_area_mm2 for hide in job.hides}
    opened = [layout for layout in plan.layouts if layout.placed]
    cut = sum(shapely.Polygon(plan.piece(one.piece_id).cut_outline).area for each in opened for one in each.placed)
    assert cut / sum(areas[layout.hide_id] for layout in opened) > 0.56
    assert SAVED.stat().st_size < 200_000


def test_every_notebook_is_tested():
    """No notebook lies in the folder that is not run here."""
    assert {path.name for path in FOLDER.glob("*.ipynb")} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_stored_in_a_notebook(name):
    """No output, no count of runs, no name of a machine; it begins with a heading and ends with what to do next."""
    notebook = read(name)
    nbformat.validate(notebook)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            assert cell.outputs == [] and cell.execution_count is None
    assert notebook.cells[0].source.startswith("# ")
    words = [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]
    assert words[-1].startswith("## What to do next")
    assert "file:" not in str(notebook) and notebook.metadata.kernelspec.name == "python3"


@pytest.mark.parametrize("name", NAMES)
def test_notebooks_name_commands_that_exist(name):
    """Every `vampyield` command in the words of a notebook is one of the program's."""
    import typer

    from nest.cli.app import app

    known = set(typer.main.get_command(app).commands)
    text = "\n".join(cell.source for cell in read(name).cells if cell.cell_type == "markdown")
    named = set(re.findall(r"`vampyield (\w+)", text))
    assert named and named <= known


def test_planner_sees_what_to_issue_and_what_changes(executed):
    """The list of sides, one drawing of a side and one of a lay, and a comparison with more pairs to cut."""
    notebook = executed("plan_a_size_run.ipynb")
    text = printed(notebook)
    assert "right - 0 findings" in text and "left whole:" in text and pictures(notebook) == 2
    row = next(line for line in text.splitlines() if line.startswith("pairs to cut"))
    before, after = map(int, row.split()[-2:])
    assert after == before + 1


def test_clerk_sees_prices_by_size_and_of_a_millimetre(executed):
    """The run lies between its sizes, and more allowance and dearer leather cost more."""
    notebook = executed("price_a_style.ipynb")
    text = printed(notebook)
    prices = {line.split()[0]: float(line.split()[-1]) for line in text.splitlines()[1:4]}
    small, large, whole = prices["36"], prices["37"], prices["all"]
    # which size is the dearer one depends on the sides they happen to lie on
    assert min(small, large) < whole < max(small, large) and pictures(notebook) == 2
    more = float(re.search(r"([+-]\d+\.\d+) a pair", text)[1])
    assert 0.0 < more < 0.2 * whole
    before, after = map(float, re.search(r"leather \+5 %: (\S+) becomes (\S+)", text).groups())
    assert before < after <= round(1.05 * before, 2) + 0.01


def test_operator_gets_drawings_for_both_tables(executed):
    """Drawings of both tables are judged right from the files alone; the old table gets HP-GL and a numbered layer."""
    notebook = executed("export_cut_files.ipynb")
    text = printed(notebook)
    assert text.count(".dxf") >= 8 and "WRONG" not in text and ".hpgl" in text and pictures(notebook) == 2
    assert "cuts lie on layer CUT, sides lie grain up" in text and "cuts lie on layer 1, sides lie grain down" in text
    assert "manual" in text
