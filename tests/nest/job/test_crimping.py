"""What [crimping] of the job file states of each style, and what is refused there."""

import pytest
from tiny_job import replace_in, with_more

from nest.errors import InputProblems
from nest.job.crimping import read_crimping_file
from nest.job.read import read_job
from nest.pieces.crimping import Crimping, SpraySide

CRIMPING = """
[crimping]
batch_pairs = 40
bond_celsius = 135
bond_bar = 4
bond_s = 12
spray_side = "flesh"
bag_least_h = 8
bag_most_h = 20
plate_by_heel_mm = { 60 = "plate 5", 30 = "plate 2" }

[crimping.by_style.plain]
heel_mm = 45
bag_most_h = 16
"""


def test_a_job_without_the_section_states_nothing(job_folder):
    """No value of a style is made up."""
    assert read_job(job_folder / "job.toml").styles[0].crimping == Crimping()


def test_a_style_has_its_own_values_and_else_those_of_all(job_folder):
    """Values of one style replace those of all; the plate is the first that serves a heel of this height."""
    stated = read_job(with_more(job_folder, CRIMPING)).styles[0].crimping
    assert stated == Crimping(
        batch_pairs=40, heel_mm=45.0, plate="plate 5", bond_celsius=135.0, bond_bar=4.0, bond_s=12.0,
        spray_side=SpraySide.FLESH, bag_least_h=8.0, bag_most_h=16.0,
    )


@pytest.mark.parametrize(("old", "new", "said"), [
    ("bag_least_h = 8", "bag_least_h = 24", "bag_least_h not above bag_most_h"),
    ("bag_most_h = 16", "bag_most_h = 6", "bag_least_h of plain not above its bag_most_h"),
    ("heel_mm = 45", "heel_mm = 70", "none above 60 mm"),
    ("heel_mm = 45", "heel_mm = 700", "heel_mm of at most 200"),
    ("by_style.plain", "by_style.plian", "did you mean 'plain'"),
    ("bond_celsius = 135", "bond_celsius = 1350", "bond_celsius of at most 300"),
    ("bond_s = 12", "bond_s = 0", "bond_s above 0"),
    ("bond_bar = 4", "bond_bar = nan", "a finite number for bond_bar"),
    ("batch_pairs = 40", "batch_pairs = 0", "batch_pairs of at least 1"),
    ('"flesh"', '"inside"', "spray_side"),
    ("{ 60 =", "{ high =", "heights of the heel"),
    ("bond_bar", "bond_bars", "did you mean 'bond_bar'"),
])
def test_faults_are_said_with_their_line(job_folder, old, new, said):
    """One sentence, with file and line, for each."""
    path = with_more(job_folder, CRIMPING)
    replace_in(path.name, old, new)(job_folder)
    with pytest.raises(InputProblems) as caught:
        read_job(path)
    (problem,) = caught.value.problems
    assert said in str(problem) and "job.toml, line" in str(problem)


def test_the_keys_may_stand_in_a_file_of_their_own(tmp_path):
    """With the heading or without, for the styles of a plan; a style that it does not know is refused."""
    path = tmp_path / "crimping.toml"
    path.write_text(CRIMPING, encoding="utf-8")
    headed = read_crimping_file(path, ["plain", "other"])
    path.write_text(CRIMPING.replace("[crimping]", "").replace("[crimping.by_style", "[by_style"), encoding="utf-8")
    assert read_crimping_file(path, ["plain", "other"]) == headed
    assert headed["other"].heel_mm is None and headed["other"].bag_most_h == 20.0
    with pytest.raises(InputProblems, match="a style of the job"):
        read_crimping_file(path, ["other"])
