"""Settings of the cost sheet, price breaks, and allowances of single sizes, as the job file gives them."""

from decimal import Decimal
from fractions import Fraction

import pytest
from tiny_job import replace_in, with_more

from geometry.polygon import area
from nest.errors import InputProblems
from nest.job.costing import Costing
from nest.job.read import read_job
from nest.pieces.make import make_pieces
from nest.pieces.style import OrderLine
from nest.stock.material import Leather
from nest.stock.prices import cost_of_hides

COSTING = """
[costing]
labour_per_hour = 31.50
scrap_per_m2 = "0.80"
pairs_per_year = 9000
candidates = { calf = ["kid"] }

[[leather]]
name = "kid"
price = 5
price_unit = "ft2"
breaks = { 100 = 2.5, 20 = 1 }
"""


def test_settings_are_read_exactly(job_folder):
    """Money and percentages are what was written, breaks stand in order."""
    job = read_job(with_more(job_folder, COSTING))
    expected = Costing(Decimal("31.5"), Decimal("0.80"), 9000, (("calf", "kid"),))
    assert job.settings.costing == expected
    assert job.leathers[1].breaks == ((Decimal(20), Decimal(1)), (Decimal(100), Decimal("2.5")))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('["kid"]', '["kit"]', "did you mean 'kid'"),
        ('["kid"]', '["calf"]', "another leather of the job file for calf"),
        ('["kid"]', '["knit"]', "another leather of the job file for calf"),
        ("calf = [", "cafl = [", "did you mean 'calf'"),
        ("20 = 1", "20 = 100", "less than 100 percent off"),
        ("31.50", "-1", "a price of 0 or more"),
    ],
)
def test_faults_are_said(job_folder, old, new, said):
    """A name that is not known, or an amount that cannot be, is refused with a remedy."""
    assert old in COSTING
    with pytest.raises(InputProblems, match=said):
        read_job(with_more(job_folder, COSTING.replace(old, new)))


def test_allowances_of_a_size(job_folder):
    """A size with an allowance of its own keeps the style's at the other parts; its pieces grow by it."""
    before = read_job(job_folder / "job.toml").styles[0]
    replace_in("job.toml", "back_mm = 10", 'back_mm = 10\nby_size = { "38" = { toe_mm = 20 } }')(job_folder)
    after = read_job(job_folder / "job.toml").styles[0]
    own = after.allowances.for_size("38")
    assert (own.toe_mm, own.side_mm, own.back_mm) == (20, 12, 10)
    assert after.allowances.for_size("37") == before.allowances
    areas = [[area(piece.cut_outline) for piece in make_pieces(style, ["37", "38"])[0]] for style in (before, after)]
    half = len(areas[0]) // 2
    assert areas[0][:half] == areas[1][:half]
    assert areas[1][half] > areas[0][half] + 8 * 80  # 8 mm more round a toe 100 mm wide


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('{ "38" = { toe_mm = 5 } }', "toe_mm not below least_toe_mm for size 38"),
        ('{ "banana" = { toe_mm = 15 } }', "banana"),
        ('{ "38" = { heel_mm = 15 } }', "heel_mm"),
    ],
)
def test_faults_of_a_size(job_folder, table, said):
    """An allowance below the least, no size, or an unknown part is refused."""
    replace_in("job.toml", "back_mm = 10", f"back_mm = 10\nleast_toe_mm = 8\nby_size = {table}")(job_folder)
    with pytest.raises(InputProblems, match=said):
        read_job(job_folder / "job.toml")


def test_pairs_a_year_by_style_or_shared(job_folder):
    """One number is shared as the order's pairs are; a table gives each style its own; unknown styles are refused."""
    lines = (OrderLine("a", "38", 30), OrderLine("a", "39", 30), OrderLine("b", "38", 20))
    shared = Costing(pairs_per_year=8000)
    assert [shared.pairs_a_year(style, lines) for style in "ab"] == [6000, 2000]
    assert sum(shared.pairs_a_year(style, lines) for style in "ab") == 8000
    own = Costing(pairs_per_year_by_style=(("a", 500),))
    assert (own.pairs_a_year("a", lines), own.pairs_a_year("b", lines)) == (500, None)
    assert Costing().pairs_a_year("a", lines) is None
    path = with_more(job_folder, COSTING.replace("9000", '{ box = 700 }'))
    style = read_job_or_problems(path)
    assert "a style of the job file" in style and "'box'" in style
    path.write_text(path.read_text(encoding="utf-8").replace("{ box = 700 }", '{ box = -1 }'), encoding="utf-8")
    assert "a whole number from 0" in read_job_or_problems(path)


def test_pairs_a_year_of_a_style_are_read(job_folder):
    """A table by style is kept by style."""
    name = read_job(job_folder / "job.toml").styles[0].name
    job = read_job(with_more(job_folder, COSTING.replace("9000", f'{{ "{name}" = 700 }}')))
    assert job.settings.costing.pairs_per_year_by_style == ((name, 700),) and not job.settings.costing.pairs_per_year


def read_job_or_problems(path) -> str:
    """What is said of a job that cannot be used."""
    with pytest.raises(InputProblems) as caught:
        read_job(path)
    return str(caught.value)


def test_prices_of_hides_have_a_unit(job_folder):
    """A price's unit is read; where it is not given though areas are in another, it is said which is taken."""
    index, drawn = job_folder / "hides.csv", "A1,a1.dxf,calf,1,1.4,59.9,dm2"
    head = "id,file,leather,class,thickness_mm,area,unit,price"
    index.write_text(f"{head},price_unit\n{drawn},3.25,ft2\n", encoding="utf-8")
    (hide,) = read_job(job_folder / "job.toml").hides
    assert (hide.price, hide.price_unit) == (Decimal("3.25"), "ft2")
    assert cost_of_hides([hide], Leather("calf", Decimal(1), "m2")) == round(
        Fraction(hide.measured_area_mm2) / Fraction("92903.04"), 9) * Fraction("3.25")
    index.write_text(f"{head}\n{drawn},35\n", encoding="utf-8")
    job = read_job(job_folder / "job.toml")
    unit = job.leathers[0].price_unit
    assert job.hides[0].price_unit == ""
    assert any(f"35 taken per {unit}" in one for one in job.warnings) == (unit != "dm2")
    index.write_text(f"{head},price_unit\n{drawn},35,acre\n", encoding="utf-8")
    assert "price_unit" in read_job_or_problems(job_folder / "job.toml")
