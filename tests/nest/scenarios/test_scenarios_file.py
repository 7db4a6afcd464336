"""A scenarios file that cannot be used is refused in sentences that name file, line and key."""

import pytest
from small_jobs import small_job

from nest.errors import InputProblems
from nest.job.read import read_job
from nest.job.scenarios import read_scenarios


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """A job of one style, with two leathers and two rolls."""
    folder = tmp_path_factory.mktemp("job") / "demo"
    return read_job(small_job(folder, pairs={"38": 2, "39": 3}))


BAD = {
    "": "at least one choice",
    "[[leather]]\n": "line 1, leather",
    "[[leathers]]\n": "instead",
    "[[leathers]]\ninstead = {}\n": "line 2, leathers.1.instead",
    '[[leathers]]\ninstead = { "Black sied" = "Brown side" }\n': "'Black side'",
    '[[leathers]]\ninstead = { "Black side" = "Black side" }\n': "another leather",
    '[[leathers]]\ninstead = { "Brown side" = "Black side" }\n': "that a style is cut from",
    '[[rolls]]\ninstead = { "Knit 90" = 3 }\n': "line 2, rolls.1.instead",
    '[[rolls]]\ninstead = { "Knit 90" = "Black side" }\n': "a roll of the job",
    '[[allowances]]\nstyle = "Lindn boot"\ntoe_more_mm = 1\n': "'Linden boot'",
    '[[allowances]]\nstyle = "Linden boot"\n': "an allowance to change",
    "[[allowances]]\ntoe_more_mm = -15\n": "0 or more at the toe",
    "[[allowances]]\ntoe_more_mm = nan\n": "finite number",
    '[[allowances]]\ntoe_more_mm = "2,5"\n': "a number for toe_more_mm",
    "[[quantities]]\npairs = 0\n": "of at least 1",
    "[[quantities]]\npairs = 12.5\n": "a whole number",
    "[[quantities]]\n": "add pairs",
    "[[rules]]\n": "a rule to change",
    "[[rules]]\ntolerance = 5\n": "tolerance_deg",
    "[[rules]]\ntolerance_deg = 46\n": "of at most 45",
    "[[rules]]\nbias_leave = 1\n": "true or false",
    "[[rules]]\nhide_gap_mm = -1\n": "of at least 0",
    "[[rules]]\nbias_leave = true\n[[rules]]\nbias_leave = true\n": "a name of its own",
    "rules = 3\n": "[[rules]] sections",
    "[[rules\n": "TOML",
    "".join(f"[[quantities]]\npairs = {n}\n" for n in range(1, 31))
    + "".join(f"[[rules]]\ntolerance_deg = {n}\n" for n in range(1, 31)): "at most 500 scenarios",
}


@pytest.mark.parametrize("text", BAD, ids=range(len(BAD)))
def test_what_is_wrong_is_named_with_the_file(demo, tmp_path, text):
    """One sentence a problem, each beginning with the file's name; the key or the remedy is in it."""
    path = tmp_path / "try.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        read_scenarios(path, demo)
    lines = str(caught.value).splitlines()
    assert all(line.startswith("try.toml") and line.endswith(".") for line in lines)
    assert any(BAD[text] in line for line in lines), lines


def test_the_file_may_be_named_by_text(demo, tmp_path):
    """A path given as text is as good as one given as a path, also where the file says nothing."""
    (tmp_path / "try.toml").write_text("", encoding="utf-8")
    with pytest.raises(InputProblems, match=r"try\.toml: expected at least one choice"):
        read_scenarios(str(tmp_path / "try.toml"), demo)


def test_choices_begin_with_the_job_as_it_is_and_name_themselves(demo, tmp_path):
    """Sections come in their order, whatever the file's; a choice without a name is named by what it changes."""
    path = tmp_path / "try.toml"
    path.write_text('[[rules]]\ntolerance_deg = 5\nbias_leave = false\n[[quantities]]\npairs = 1200\n[[leathers]]\n'
                    'instead = { "Black side" = "Brown side" }\n', encoding="utf-8")
    found = read_scenarios(path, demo)
    assert [(one.section, [choice.name for choice in one.choices]) for one in found] == [
        ("leathers", ["as it is", "Brown side for Black side"]), ("quantities", ["as it is", "1,200 pairs"]),
        ("rules", ["as it is", "tolerance ±5°, no bias"]),
    ]
