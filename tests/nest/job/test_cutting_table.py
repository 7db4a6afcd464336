"""The section [table] of a job, and pattern files named with their block."""

import pytest
from made_drawings import pattern_file
from tiny_job import replace_in

from nest.errors import InputProblems
from nest.job.cutting_table import USUAL_LAYERS, Corner, CuttingTable, FileKind, NumberPlace, NumberTool, layer_names
from nest.job.read import read_job

TABLE = """\
[table]
origin = "lower left"
turn_deg = 90
grain_down = true
unit = "in"
layer_numbers = true
layers = { cut = "KNIFE" }
files = ["hpgl", "plot"]
lead_in_mm = 4
lift_s = 0.5

[settings]
"""


def test_a_table_is_read(job_folder):
    """Every key arrives; those left out have their defaults, and a job without the section has a plain table."""
    assert read_job(job_folder / "job.toml").settings.table == CuttingTable()
    replace_in("job.toml", "[settings]\n", TABLE)(job_folder)
    assert read_job(job_folder / "job.toml").settings.table == CuttingTable(
        origin=Corner.LOWER_LEFT, turn_deg=90.0, grain_down=True, unit="in", layer_numbers=True,
        layers=(("cut", "KNIFE"),), files=(FileKind.HPGL, FileKind.PLOT), lead_in_mm=4.0, lift_s=0.5,
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"lower left"', '"middle"', "origin"), ('unit = "in"', 'unit = "yd"', "unit"),
        ('cut = "KNIFE"', 'knife = "CUT"', "layers for cut"), ('cut = "KNIFE"', 'cut = "A B"', "letters, digits"),
        ('cut = "KNIFE"', 'cut = "5"', "a layer of its own"), ('["hpgl", "plot"]', '["paper"]', "hpgl, lean or plot"),
        ("lift_s = 0.5", "cut_mm_s = 0", "above 0"), ("lead_in_mm = 4", "lead_in_mm = -1", "at least 0"),
        ("lift_s = 0.5", "speed = 3", "a key this section has"),
        ('["hpgl", "plot"]', '["plot"]\nknife_offset_mm = 0.4', "hpgl or lean among files"),
        ("lift_s = 0.5", "knife_offset_mm = 0.6", "lead_in_mm of 4.8 or more with knife_offset_mm = 0.6"),
        ("lift_s = 0.5", 'number = "punch"\nnumber_place = "inside"', "holes in the net area would stay in the shoe"),
        ("lift_s = 0.5", 'number = "stamp"', "number"),
    ],
)
def test_what_is_wrong_with_a_table_is_said(job_folder, old, new, words):
    """One sentence each, with the line."""
    replace_in("job.toml", "[settings]\n", TABLE.replace(old, new))(job_folder)
    with pytest.raises(InputProblems, match=r"job\.toml, line") as said:
        read_job(job_folder / "job.toml")
    assert words in str(said.value)


def test_a_knife_and_numbers_are_read(job_folder):
    """The keys of knife and numbers arrive, and a lead-in of eight times the offset is enough."""
    keys = 'knife_offset_mm = 0.5\ncorner_loop_mm = 3\nnumber = "pen"\nnumber_place = "inside"\nnumber_mm = 8\n'
    replace_in("job.toml", "[settings]\n", TABLE.replace("lift_s = 0.5\n", keys))(job_folder)
    table = read_job(job_folder / "job.toml").settings.table
    assert (table.knife_offset_mm, table.corner_loop_mm, table.lift_at_corners) == (0.5, 3.0, False)
    assert (table.number, table.number_place, table.number_mm) == (NumberTool.PEN, NumberPlace.INSIDE, 8.0)


def test_what_a_tool_takes_is_said_before_placing(job_folder):
    """Radius 0.4 mm and thinning 0.1 mm: 1 mm more between outlines and 0.5 mm more at the edge, and how to save it."""
    tool = "[table]\ntool_radius_mm = 0.4\nthin_mm = 0.1\n\n[settings]\n"
    replace_in("job.toml", "[settings]\n", tool)(job_folder)
    job = read_job(job_folder / "job.toml")
    asked = job.settings
    assert asked.hide_apart_mm == pytest.approx(asked.hide_gap_mm + 1.0)
    assert asked.edge_room_mm == pytest.approx(asked.edge_margin_mm + 0.5) and asked.strip_room_mm == 0.5
    (said,) = [one for one in job.warnings if "tool_radius_mm" in one]
    assert f"placed {asked.hide_apart_mm:g} mm apart on hides" in said and "smaller gaps save material" in said


def test_every_use_has_a_layer_of_its_own():
    """By name, by number, and with some renamed."""
    for names in (layer_names({}, False), layer_names({}, True), layer_names({"net": "N"}, True)):
        assert names.keys() == USUAL_LAYERS.keys() and len(set(names.values())) == len(names)
    assert layer_names({}, True)["cut"] == "1"


def test_a_template_may_be_a_block_of_a_pattern_file(job_folder):
    """"file.dxf#BLOCK" names a piece of a pattern file; its templates are those of the plain drawing."""
    plain = read_job(job_folder / "job.toml").styles[0].templates[0]
    pattern_file(job_folder / "pattern.dxf")
    replace_in("job.toml", 'template = "plain.dxf"', 'template = "pattern.dxf#VAMP-38"')(job_folder)
    replace_in("job.toml", "[settings]\n", '[layers]\ntemplate_standard = "ASTM D6673"\n\n[settings]\n')(job_folder)
    job = read_job(job_folder / "job.toml")
    assert job.styles[0].templates[0].outline == pytest.approx(plain.outline, abs=1e-3)
