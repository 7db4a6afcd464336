"""The output folder of a run: complete, safe to name, never half-written."""

from dataclasses import replace
from types import SimpleNamespace

import ezdxf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tiny_plans import box_plan, hide, moved

from nest.accounts import account
from nest.errors import PlanProblem
from nest.job.cutting_table import CuttingTable, FileKind
from nest.output import NOT_VERIFIED, file_names, write_outputs
from nest.plan import HideLayout
from nest.planfile import read_plan
from nest.verify import verify


def written(plan, folder, **options):
    """Write all outputs of a plan; returns the relative names of its files."""
    accounts = account(plan, lattice=lambda ring, gap: SimpleNamespace(density=0.9))
    out = write_outputs(plan, accounts, verify(plan), folder, **options)
    return sorted(str(path.relative_to(out)) for path in out.rglob("*") if path.is_file())


def test_everything_is_in_the_folder_and_nothing_beside_it(tmp_path):
    """Plan, page, tables, drawings, figures and pieces; the plan reads back; links on the page lead to files."""
    names = written(box_plan(), tmp_path / "out", dxf_version="R12")
    assert names == [
        "consumption.csv", "consumption.xlsx", "cost.csv", "drawings/hide-H1.dxf", "drawings/lay-L1.dxf",
        "figures/account.png", "figures/account.svg", "figures/consumption.png", "figures/consumption.svg",
        "figures/hide-H1.png", "figures/lay-L1.png", "figures/piece-box.png", "figures/yields.png",
        "figures/yields.svg",
        "pieces/B38.dxf", "pieces/V38.dxf", "plan.json", "print.pdf", "report.html", "sheets/hide-H1.pdf",
        "sheets/lay-L1.pdf", "tickets/box-1.pdf",
    ]
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert len(read_plan(tmp_path / "out/plan.json").layouts[0].placed) == 4
    assert ezdxf.readfile(tmp_path / "out/drawings/hide-H1.dxf").dxfversion == "AC1009"
    page = (tmp_path / "out/report.html").read_text(encoding="utf-8")
    for name in names:
        if name.startswith(("figures/", "drawings/")) and not name.endswith(".svg"):
            assert f'"{name}"' in page


def test_the_table_gets_the_files_it_reads(tmp_path):
    """HP-GL and plots stand beside each drawing under its name, when the table asks for them."""
    plan = box_plan()
    table = CuttingTable(files=(FileKind.HPGL, FileKind.PLOT))
    names = written(replace(plan, settings=replace(plan.settings, table=table)), tmp_path / "out", figures=False)
    for stem in ("hide-H1", "lay-L1"):
        assert {f"drawings/{stem}.{kind}" for kind in ("dxf", "hpgl", "pdf", "svg")} <= set(names)


def test_figures_can_be_left_out(tmp_path):
    """Without figures the page has no picture, and no folder for them."""
    names = written(box_plan(), tmp_path / "out", figures=False)
    assert not any(name.startswith("figures") for name in names)
    assert "<img" not in (tmp_path / "out/report.html").read_text(encoding="utf-8")


def test_version_comes_from_the_plan_unless_named(tmp_path):
    """The plan's own setting decides; an unknown version is refused before anything is written."""
    plan = box_plan()
    plan = replace(plan, settings=replace(plan.settings, dxf_version="R12"))
    written(plan, tmp_path / "out", figures=False)
    assert ezdxf.readfile(tmp_path / "out/drawings/hide-H1.dxf").dxfversion == "AC1009"
    with pytest.raises(PlanProblem, match="R9"):
        written(plan, tmp_path / "other", dxf_version="R9")
    assert not (tmp_path / "other").exists()


def test_drawings_of_a_wrong_plan_say_so(tmp_path):
    """Names begin with a warning and the drawing's first words are one."""
    names = written(moved(box_plan(), 1, dx=-100.0), tmp_path / "out", figures=False)
    drawings = [name for name in names if name.endswith(".dxf")]
    assert len(drawings) == 4
    for name in drawings:
        assert name.split("/")[1].startswith(NOT_VERIFIED)
        texts = [text.dxf.text for text in ezdxf.readfile(tmp_path / "out" / name).modelspace().query("TEXT")]
        assert any(text.startswith("NOT VERIFIED") and "Do not cut" in text for text in texts)


def test_a_second_run_keeps_the_first_folder(tmp_path):
    """The folder of an earlier run is renamed whole; other folders are refused and left as they are."""
    written(box_plan(name="first"), tmp_path / "out", figures=False)
    written(box_plan(name="second"), tmp_path / "out", figures=False)
    assert read_plan(tmp_path / "out/plan.json").name == "second"
    assert read_plan(tmp_path / "out.old-1/plan.json").name == "first"
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/letter.txt").write_text("dear")
    with pytest.raises(PlanProblem, match="name a new"):
        written(box_plan(), tmp_path / "mine", figures=False)
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["letter.txt"]


def test_a_plan_that_cannot_be_drawn_writes_nothing(tmp_path):
    """A failure half way leaves neither the folder nor anything beside it."""
    plan = box_plan()
    accounts = account(plan, lattice=lambda ring, gap: SimpleNamespace(density=0.9))
    broken = replace(plan, layouts=(HideLayout("H1", plan.layouts[0].placed), HideLayout("H9", plan.layouts[0].placed)))
    with pytest.raises(PlanProblem, match="H9"):
        write_outputs(broken, accounts, verify(plan), tmp_path / "out", figures=False)
    assert list(tmp_path.iterdir()) == []


def test_hide_ids_cannot_leave_the_folder(tmp_path):
    """Ids like paths become plain names within the folder."""
    ids = ("../../escape", "a/b", "C:\\x", "con", "A", "a", "nul", "..", "é½")
    placed = box_plan().layouts[0].placed[:2]
    plan = box_plan(hides=tuple(hide(one) for one in ids), layouts=tuple(HideLayout(one, placed) for one in ids))
    plan = replace(plan, hides=tuple(replace(one) for one in plan.hides))
    names = written(plan, tmp_path / "run/out", figures=False)
    assert sum(name.startswith("drawings/") and "hide-" in name for name in names) == len(ids)
    assert [path.name for path in tmp_path.iterdir()] == ["run"]
    assert [path.name for path in (tmp_path / "run").iterdir()] == ["out"]


@given(st.lists(st.text(max_size=80), max_size=12, unique=True))
def test_file_names_are_plain_and_differ(ids):
    """Whatever the ids: one name each, plain letters only, no two alike even without regard to case."""
    names = file_names(ids)
    assert list(names) == ids
    assert len({name.casefold() for name in names.values()}) == len(ids)
    for name in names.values():
        assert name.isascii() and 0 < len(name) <= 64
        assert not set(name) & set('/\\:*?"<>| \x00') and not name.startswith((".", "-")) and not name.endswith(".")
        assert name.split(".")[0].casefold() not in ("con", "prn", "aux", "nul", "com1", "lpt1")
