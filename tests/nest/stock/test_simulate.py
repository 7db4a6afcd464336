"""Simulated hides are believable, whole, and the same for the same seed."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from nest.planning.grounds import outline_ground
from nest.rules import Rules
from nest.stock.distribution import SIDES, ZONE_NAMES, like
from nest.stock.simulate import simulate_hides
from nest.units import MM2_PER_M2


@pytest.fixture(scope="module")
def sides():
    """Forty sides."""
    return simulate_hides(SIDES, 40, seed=11, leather="calf")


def test_same_seed_same_hides(sides):
    """The same seed gives the same hides, whatever their number; another seed gives others."""
    again = simulate_hides(SIDES, 3, seed=11, leather="calf")
    for hide, same in zip(sides, again, strict=False):
        assert shapely.equals_exact(hide.outline, same.outline, 0.0)
        assert [f.kind for f in hide.flaws] == [f.kind for f in same.flaws]
        assert hide.measured_area_mm2 == same.measured_area_mm2
    other = simulate_hides(SIDES, 1, seed=12, leather="calf")[0]
    assert not shapely.equals_exact(other.outline, sides[0].outline, 1.0)


def test_zones_partition_the_outline(sides):
    """Zones cover the hide without gap or overlap and share their edges' points exactly."""
    for hide in sides:
        shapes = [zone.outline for zone in hide.zones]
        assert [zone.zone_id for zone in hide.zones] == list(ZONE_NAMES)
        assert shapely.coverage_is_valid(shapes)
        assert shapely.symmetric_difference(shapely.union_all(shapes), hide.outline).area < 1e-6
        assert all(shape.geom_type == "Polygon" and shape.is_valid for shape in shapes)


def test_what_is_made_of_a_hide_is_not_bound_to_its_grid(sides):
    """Ground offered on a simulated side keeps off the edge by all of the margin; its corners lie on no grid.

    The margin's own definition, asked of shapely's distances.
    """
    for hide in sides[:10]:
        ground = outline_ground(hide, Rules(), 3.0)
        assert shapely.distance(hide.outline.exterior, ground) >= 3.0
        assert shapely.area(shapely.difference(ground, hide.outline)) == 0.0
        parts = [hide.outline, *(zone.outline for zone in hide.zones), *(flaw.outline for flaw in hide.flaws)]
        assert not shapely.get_precision(parts).any()


def test_zone_shares_are_those_asked_for(sides):
    """Every zone has its share of the area to a tenth of a percent; another distribution gives its own shares."""
    for hide in sides:
        for zone, kind in zip(hide.zones, SIDES.zones, strict=True):
            assert zone.outline.area / hide.outline.area == pytest.approx(kind.share, abs=1e-3)
    shares = (0.30, 0.20, 0.14, 0.08, 0.15, 0.07, 0.02, 0.04)
    zones = tuple(replace(kind, share=share) for kind, share in zip(SIDES.zones, shares, strict=True))
    hide = simulate_hides(replace(SIDES, zones=zones), 1, seed=3, leather="calf")[0]
    found = [zone.outline.area / hide.outline.area for zone in hide.zones]
    assert found == pytest.approx(shares, abs=1e-3)


def test_default_shares_lie_where_the_trade_puts_them():
    """Croupon (butt and ribs) 45-50 %, shoulder with neck 20-25 %, belly with flank and shanks 25-30 %.

    From memory; common practice, no source.
    """
    share = {kind.name: kind.share for kind in SIDES.zones}
    assert 0.45 <= share["butt"] + share["ribs"] <= 0.50
    assert 0.20 <= share["shoulder"] + share["neck"] <= 0.25
    assert 0.25 <= sum(share[name] for name in ("belly", "flank", "hind shank", "fore shank")) <= 0.30


def test_areas_follow_the_distribution(sides):
    """Mean and spread of the area are those asked for within four standard errors; the range holds.

    A side measures about 18-27 square feet (from memory): the defaults' range lies about that.
    """
    areas = np.array([hide.outline.area for hide in sides])
    error = SIDES.area_sd_mm2 / np.sqrt(len(areas))
    assert abs(areas.mean() - SIDES.area_mean_mm2) < 4.0 * error
    assert abs(areas.std(ddof=1) - SIDES.area_sd_mm2) < 4.0 * error / np.sqrt(2.0)
    assert SIDES.area_range_mm2[0] * 0.999 < areas.min() and areas.max() < SIDES.area_range_mm2[1] * 1.001
    measured = np.array([hide.measured_area_mm2 for hide in sides]) / areas - 1.0
    assert 0.0 < np.abs(measured).max() < 5.0 * SIDES.measure_sd


def test_a_side_looks_like_a_side(sides):
    """About 2.2 × 1.1 m, spine nearly straight along the top, shanks drawn out, simple outline without holes."""
    for hide in sides:
        length, height = hide.outline.bounds[2:]
        assert 1800.0 < length < 2800.0 and 900.0 < height < 1450.0
        assert hide.outline.is_valid and not hide.outline.interiors
        points = np.array(hide.outline.exterior.coords)
        spine = points[(points[:, 0] > 0.15 * length) & (points[:, 0] < 0.9 * length) & (points[:, 1] > 0.8 * height)]
        assert np.ptp(spine[:, 1]) < 0.03 * height
        assert 0.70 < hide.outline.area / (length * height) < 0.90
        assert hide.outline.area / hide.outline.convex_hull.area < 0.95


def test_flaws_lie_on_the_hide(sides):
    """Five to twenty-five flaws of several kinds; none over the edge; what tears is not coverable."""
    for hide in sides:
        assert 5 <= len(hide.flaws) <= 25
        assert all(hide.outline.buffer(0.1).covers(flaw.outline) for flaw in hide.flaws)
        assert not any(flaw.tears and flaw.coverable for flaw in hide.flaws)
        assert len({flaw.flaw_id for flaw in hide.flaws}) == len(hide.flaws)
    assert {flaw.kind for hide in sides for flaw in hide.flaws} == {kind.name for kind in SIDES.flaws}


def test_class_follows_the_usable_share(sides):
    """A hide's class grows worse as less of its area is good and clear of flaws."""
    usable = {}
    for hide in sides:
        good = shapely.union_all([zone.outline for zone in hide.zones if zone.quality <= 2])
        flawed = shapely.union_all([flaw.outline for flaw in hide.flaws])
        usable.setdefault(hide.quality, []).append(good.difference(flawed).area / hide.outline.area)
    assert min(usable[1]) >= 0.75 > max(usable[2]) and min(usable[2]) >= 0.60


def test_no_flaws_when_the_rate_is_nil():
    """A supply without flaw kinds has clean hides."""
    hide = simulate_hides(replace(SIDES, flaws=(), flaw_range=(0, 0)), 1, seed=1, leather="calf")[0]
    assert hide.flaws == ()


def test_like_takes_area_from_stock(sides):
    """A supply like a stock has its mean and spread of measured area."""
    supply = like(sides)
    areas = [hide.measured_area_mm2 for hide in sides]
    assert supply.area_mean_mm2 == pytest.approx(np.mean(areas))
    assert supply.area_sd_mm2 == pytest.approx(np.std(areas, ddof=1))
    assert supply.area_range_mm2[0] <= min(areas) and supply.area_range_mm2[1] >= max(areas)
    with pytest.raises(ValueError, match="at least two"):
        like(sides[:1])


@pytest.mark.parametrize(
    "change",
    [
        {"area_mean_mm2": 3.0 * MM2_PER_M2},
        {"zones": SIDES.zones[:-1]},
        {"zones": (*SIDES.zones[1:], SIDES.zones[0])},
        {"flaw_range": (7, 3)},
    ],
)
def test_distribution_checks_itself(change):
    """A mean outside its range, shares that do not add up, zones out of order and a range upside down are refused."""
    with pytest.raises(ValueError, match="expected"):
        replace(SIDES, **change)


def test_negative_count_is_refused():
    """A negative number of hides is an error."""
    with pytest.raises(ValueError, match="0 or more"):
        simulate_hides(SIDES, -1, seed=1, leather="calf")
