"""No damaged drawing is called verified, and no drawing that would cut and mark the same is refused."""

import re
import shutil
from dataclasses import replace
from itertools import product
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from damaged_drawings import DAMAGES, HARMLESS
from table_jobs import on_table
from written_drawings import MORE_TABLES, Written, plans, write_drawings

from nest.cli import main
from nest.cli.codes import Exit
from nest.cutplan.dxf import VERSIONS, write_hide_dxf
from nest.cutplan.readback import read_cut_dxf
from nest.errors import VampYieldError
from nest.plan import Begun, CutHide
from nest.planfile import read_plan, write_plan
from nest.verify import verify

BASES = (
    ("slant", "plain", "R2000"), ("box", "with a tool", "R2000"), ("holed", "turned over", "R12"),
    ("leaning", "inches with lead-ins", "R2000"), ("side", "wide tool", "R12"), ("named", "thinned", "R2000"),
    ("again", "digits", "R2000"), ("single", "with a tool", "R12"), ("slant", "inches with lead-ins", "R12"),
    ("again", "numbers", "R2000"), ("leaning", "dots", "R12"),
    ("begun", "with a tool", "R2000"), ("leaning", "plain", "R12"), ("holed", "wide tool", "R2000"),
)
"""Plans, tables and versions whose drawings are damaged."""

FEW = (BASES[0], BASES[2])
"""Small ones, for every run of the tests."""


@pytest.fixture(scope="module")
def bases(tmp_path_factory):
    """Every drawing of each base, written once."""
    written = {}

    def found(base) -> list[Written]:
        if base not in written:
            written[base] = list(write_drawings(tmp_path_factory.mktemp("base") / "out", *base))
        return written[base]

    return found


def changed(written: Written, change, rng, folder: Path) -> Path | None:
    """The drawing changed, in a folder beside its plan; None where it cannot be changed so."""
    document = ezdxf.readfile(written.path)
    if change(document, rng, written) is False:
        return None
    (folder / "drawings").mkdir(parents=True)
    shutil.copy(written.path.parent.parent / "plan.json", folder)
    path = folder / "drawings" / written.path.name
    document.saveas(path)
    return path


def first_sentence(path: Path, plan=None) -> str:
    """What is said first of a drawing that is refused."""
    with pytest.raises(VampYieldError) as said:
        read_cut_dxf(path, plan)
    return str(said.value).splitlines()[0]


def codes(path: Path) -> tuple[int, int]:
    """What verify says of a drawing beside its plan, and alone."""
    alone = path.parent.parent / path.name
    shutil.copy(path, alone)
    return main(["verify", str(path), "-q"]), main(["verify", str(alone), "-q"])


def damaged(bases, choice, count: int, folder: Path):
    """Called verified, though damaged: the names of the damages; `count` drawings are made."""
    names, made, number, wrong = list(DAMAGES), 0, 0, []
    while made < count:
        rng = np.random.default_rng(number)
        name = names[number % len(names)]
        drawings = bases(choice[(number // len(names) + number) % len(choice)])
        written = drawings[rng.integers(len(drawings))]
        path = changed(written, DAMAGES[name], rng, folder / str(number))
        number += 1
        if path is not None:
            made += 1
            if Exit.DONE in codes(path):
                wrong.append((number - 1, name, written.path))
    return wrong


def undamaged(cases, folder: Path):
    """Refused, though a table would make the same of it: the cases."""
    wrong = []
    names = list(HARMLESS)
    for number, case in enumerate(cases):
        for i, written in enumerate(list(write_drawings(folder / f"w{number}", *case))):
            rng = np.random.default_rng(number)
            name = names[(number + i) % len(names)]
            path = changed(written, HARMLESS[name], rng, folder / f"c{number}-{i}")
            if codes(path) != ((Exit.DONE,) * 2 if written.passed else (Exit.WRONG,) * 2):
                wrong.append((*case, name, written.path))
    return wrong


def test_some_damaged_drawings_are_not_verified(bases, tmp_path, capsys):
    """One drawing for each way of damage."""
    assert damaged(bases, FEW, len(DAMAGES), tmp_path) == []


def test_some_undamaged_drawings_are_verified(tmp_path):
    """Each way of saving again that changes nothing a table would notice."""
    cases = [("slant", "plain", "R2000"), ("box", "with a tool", "R12"), ("holed", "turned over", "R2000"),
             ("named", "numbers", "R12"), ("single", "inches with lead-ins", "R2000"), ("wrong", "plain", "R12")]
    assert undamaged(cases, tmp_path) == []


SAID = {
    "all scaled": (r"all of it scaled by", r"REF_POINTS.* the cross of registration point .* found no cross"),
    "all_shifted": (r"all of it moved by \(", r"the cross of registration point"),
    "one_foot_mirrored_on_its_heading": (
        r"piece river \d\d (left|right) pair \d+ no. \d+ at .* found one up to \d+\.\d+ mm off",
        r"piece river .* found one \d+\.\d+ mm off",
    ),
    "one_cut_moved": (r"layer CUT, piece .* found one up to 0\.200 mm off", r"layer CUT, piece .* 0\.200 mm off"),
    "vertex_moved": (r"layer \w+.* up to \d+\.\d+ mm off", r"mm off|layer|registration"),
    "piece_deleted_with_its_legend": (r"REF_LEGEND at .*'15 pieces.'", r"layer MARK_AXIS: expected \d+ entities"),
    "labels_swapped": (r"layer REF_LABELS, piece .* the text '.*', found", r"mm off|layer REF_L"),
    "CIRCLE added": (r"layer .* at \(.*\) mm: .* found a CIRCLE;", r"found a CIRCLE;"),
    "HATCH added": (r"found a HATCH;", r"found a HATCH;"),
    "LINE added": (r"layer .* at \(", r"layer"),
    "one chord made an arc": (r"layer .* at .* found an? \w+ with arcs in it", r"with arcs in it"),
    "one line off the table": (r"off the plane of the drawing \(z\)", r"off the plane"),
    "in_paper_space": (r"layer CUT at .* in paper space", r"in paper space"),
    "layer_unseen": (r"layer \w+: .* found one that is frozen or off", r"frozen or off"),
    "unit_of_the_header": (r"INSUNITS", r"INSUNITS"),
    "check_sums_deleted": (r"expected one check sum", r"expected one check sum"),
}
"""What is said of a damage with the plan at hand, and without it."""


@pytest.mark.parametrize("name", SAID)
def test_what_is_wrong_is_said_with_its_place(bases, tmp_path, name):
    """The first sentence names layer, piece, place in mm and by how much, with the plan and without."""
    written = bases(("leaning", "plain", "R2000"))[0]
    path = changed(written, DAMAGES[name], np.random.default_rng(3), tmp_path / "a")
    assert re.search(SAID[name][0], first_sentence(path, read_plan(tmp_path / "a/plan.json")))
    assert re.search(SAID[name][1], first_sentence(path))


def test_a_drawing_that_is_sound_but_not_its_plans_is_refused(bases, tmp_path):
    """Drawings of other plans, whole in themselves: a pair less, all scaled, another table, the other foot, moved."""
    written = bases(("slant", "plain", "R2000"))[0]
    plan, layout = written.plan, written.plan.layouts[0]
    (tmp_path / "drawings").mkdir()
    write_plan(plan, tmp_path / "plan.json")
    path = tmp_path / "drawings/hide-H1.dxf"
    first = replace(layout.placed[0], pose=replace(layout.placed[0].pose, x=layout.placed[0].pose.x + 0.1))
    for other in (
        replace(plan, layouts=(replace(layout, placed=layout.placed[2:]),)),
        replace(plan, layouts=(replace(layout, placed=(first, *layout.placed[1:])),)),
        replace(plan, layouts=(replace(layout, placed=layout.placed[2:] + layout.placed[:2]),)),
        replace(plan, pieces=tuple(replace(one, cut_outline=one.cut_outline * 1.001) for one in plan.pieces)),
        replace(plan, hides=(replace(plan.hides[0], quality=2),)),
        *(on_table(plan, table) for table in list(MORE_TABLES.values())[1:]),
    ):
        write_hide_dxf(other, other.layouts[0], path)
        assert main(["verify", str(path), "-q"]) == Exit.BAD_INPUT
        assert verify(read_cut_dxf(path)).ok
    write_hide_dxf(plan, layout, path)
    assert main(["verify", str(path), "-q"]) == Exit.DONE


def test_plan_given_or_found(bases, tmp_path, capsys):
    """--plan names the plan of a drawing that lies elsewhere; what it was held against is said."""
    written = bases(("box", "with a tool", "R2000"))
    alone = tmp_path / "alone.dxf"
    shutil.copy(written[0].path, alone)
    assert main(["verify", str(alone)]) == Exit.DONE
    assert "no plan was at hand" in capsys.readouterr().err
    plan = written[0].path.parent.parent / "plan.json"
    assert main(["verify", str(alone), "--plan", str(plan)]) == Exit.DONE
    said = capsys.readouterr().err
    assert f"holds what {plan} calls for" in said and "HP-GL" in said
    cut = replace(written[0].plan, begun=Begun(hides=(CutHide("H1"),)))
    write_plan(cut, tmp_path / "plan.json")
    assert main(["verify", str(alone), "--plan", str(tmp_path)]) == Exit.BAD_INPUT
    assert "cuts nothing" in capsys.readouterr().err
    assert main(["verify", str(plan), "--plan", str(plan)]) == Exit.BAD_INPUT


def test_a_drawing_that_says_it_is_not_verified_is_not(tmp_path, capsys):
    """Its hide is in order, another of its plan is not: neither beside its plan nor alone is it called verified."""
    drawings = list(write_drawings(tmp_path / "out", "wrong elsewhere", "plain", "R2000"))
    assert codes(drawings[1].path) == (Exit.WRONG, Exit.WRONG)
    assert main(["verify", str(drawings[1].path)]) == Exit.WRONG
    assert "its plan has not passed its checks" in capsys.readouterr().out


def test_another_order_is_said(bases, tmp_path, capsys):
    """Entities in another order are no damage, but the order of the cuts is lost: that is said."""
    written = bases(("slant", "plain", "R2000"))[0]
    path = changed(written, HARMLESS["shuffled"], np.random.default_rng(1), tmp_path / "a")
    assert main(["verify", str(path)]) == Exit.DONE
    assert "follow each other, begin or run otherwise" in capsys.readouterr().err
    path = changed(written, HARMLESS["nothing"], np.random.default_rng(1), tmp_path / "b")
    assert main(["verify", str(path)]) == Exit.DONE
    assert "otherwise" not in capsys.readouterr().err


@pytest.mark.slow
def test_five_hundred_damaged_drawings_are_not_verified(bases, tmp_path):
    """Every way of damage some eight times, on fourteen kinds of drawing."""
    assert damaged(bases, BASES, 500, tmp_path) == []


@pytest.mark.slow
def test_a_hundred_undamaged_drawings_are_verified(tmp_path):
    """Every plan on every table in both versions, each saved again in some way."""
    cases = list(product(plans(), MORE_TABLES, VERSIONS))
    assert len(cases) >= 100
    assert undamaged(cases, tmp_path) == []
