"""Hides as GeoJSON are the hides that the same drawing gives."""

import json
from copy import deepcopy

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.hide_drawing import read_hide_shape
from nest.job.schema import LayersSection


def box(x0, y0, x1, y1):
    """A closed ring."""
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]]


def feature(part, shape, coordinates, **properties):
    """A feature as RFC 7946 has it."""
    geometry = {"type": shape, "coordinates": coordinates}
    return {"type": "Feature", "geometry": geometry, "properties": {"part": part, **properties}}


SOUND = {
    "type": "FeatureCollection",
    "features": [
        feature("hide", "Polygon", [box(0, 0, 1000, 600), box(480, 280, 500, 300)]),
        feature("zone", "Polygon", [box(0, 0, 600, 600)], name="butt", **{"class": 1}, stretch_deg=88.5),
        feature("zone", "MultiPolygon", [[box(600, 0, 1000, 290)], [box(600, 300, 1000, 600)]],
                name="belly", **{"class": 3}, stretch_deg=-10),
        feature("flaw", "Polygon", [box(100, 100, 120, 104)], kind="scratch", severity=2, coverable=True),
        feature("flaw", "LineString", [[200, 200], [240, 200]], kind="cut", severity=3, tears=True, width_mm=2),
        feature("flaw", "Point", [300.0, 300.0, 7.0], kind="tick mark", severity=1, width_mm=4.5),
    ],
}


def read(tmp_path, data, unit=None):
    """The hide's shape and what was found."""
    path = tmp_path / "hide.geojson"
    path.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
    findings = Findings()
    return read_hide_shape(Source(path, path.name), LayersSection(), unit, findings), findings


def test_everything_is_read(tmp_path):
    """Outline with its hole, zones with class and stretch (modulo 180°), flaws of all three shapes."""
    shape, findings = read(tmp_path, SOUND)
    assert not findings.problems and not findings.warnings
    assert shape.outline.area == pytest.approx(1000 * 600 - 20 * 20)
    assert [(z.zone_id, z.quality, z.stretch_deg, z.outline.area) for z in shape.zones] == [
        ("butt", 1, 88.5, 360_000.0), ("belly", 3, 170.0, 116_000.0), ("belly 2", 3, 170.0, 120_000.0)]
    scratch, cut, tick = shape.flaws
    assert (scratch.kind, scratch.severity, scratch.tears, scratch.coverable) == ("scratch", 2, False, True)
    assert cut.tears and cut.outline.area == pytest.approx(40 * 2 + 3.14159, abs=0.1)
    assert tick.outline.centroid.distance(shapely.Point(300, 300)) < 0.01


def test_stretch_may_be_unknown(tmp_path):
    """null in place of an angle; a zone that says nothing of it is refused as before."""
    data = json.loads(json.dumps(SOUND))
    data["features"][1]["properties"]["stretch_deg"] = None
    shape, findings = read(tmp_path, data)
    assert not findings.problems and [zone.stretch_deg for zone in shape.zones] == [None, 170.0, 170.0]
    del data["features"][1]["properties"]["stretch_deg"]
    assert "null where it is unknown" in str(read(tmp_path, data)[1].problems[0])


@pytest.mark.parametrize(("unit", "job", "scale"), [("cm", None, 10.0), ("cm", "in", 10.0), (None, "cm", 10.0)])
def test_units(tmp_path, unit, job, scale):
    """The file's own unit comes before the job's, and without either it is mm."""
    data = {key: value for key, value in SOUND.items() if key != "features"} | {"features": SOUND["features"][:1]}
    if unit:
        data["unit"] = unit
    shape, _ = read(tmp_path, data, job)
    assert shape.outline.bounds[2] == pytest.approx(1000.0 * scale)


def spoiled(change):
    """The sound data, changed."""
    data = deepcopy(SOUND)
    change(data)
    return data


BAD = {
    "cut off": (json.dumps(SOUND)[:-5], "GeoJSON"),
    "a list": ([1, 2], "FeatureCollection"),
    "one feature": (SOUND["features"][0], "FeatureCollection"),
    "unit": (spoiled(lambda d: d.update(unit="yard")), "unit"),
    "no hide": (spoiled(lambda d: d["features"].pop(0)), "closed outline of the hide"),
    "no part": (spoiled(lambda d: d["features"][1]["properties"].pop("part")), "the property part"),
    "open ring": (spoiled(lambda d: d["features"][0]["geometry"]["coordinates"][0].pop()), "ends where it begins"),
    "hole in a zone": (spoiled(lambda d: d["features"][1]["geometry"]["coordinates"].append(box(1, 1, 9, 9))),
                       "without holes"),
    "line as zone": (spoiled(lambda d: d["features"][1].update(geometry={"type": "LineString", "coordinates": []})),
                     "Polygon or MultiPolygon for a zone"),
    "class": (spoiled(lambda d: d["features"][1]["properties"].update({"class": 0})), "class"),
    "stretch": (spoiled(lambda d: d["features"][1]["properties"].update(stretch_deg="88")), "stretch_deg"),
    "severity": (spoiled(lambda d: d["features"][3]["properties"].update(severity=1.5)), "severity"),
    "tears": (spoiled(lambda d: d["features"][3]["properties"].update(tears="no")), "tears"),
    "no width": (spoiled(lambda d: d["features"][5]["properties"].pop("width_mm")), "width"),
    "text as number": (spoiled(lambda d: d["features"][0]["geometry"]["coordinates"][0].__setitem__(1, ["a", 0])),
                       "positions"),
    "infinite": (json.dumps(SOUND).replace("1000", "1e999"), "positions"),
    "a thousand digits": (json.dumps(SOUND).replace("1000", "9" * 1000), "positions"),
    "a stretch of a thousand digits": (
        spoiled(lambda d: d["features"][1]["properties"].update(stretch_deg=10**999)), "stretch_deg"),
    "crossing": (spoiled(lambda d: d["features"][0]["geometry"].update(
        coordinates=[[[0, 0], [9, 9], [9, 0], [0, 5], [0, 0]]])), "cross itself"),
    "null": (spoiled(lambda d: d["features"].append(None)), "geometry and properties"),
}


@pytest.mark.parametrize(("data", "words"), BAD.values(), ids=BAD)
def test_what_is_wrong_is_said(tmp_path, data, words):
    """Nothing is read, and a sentence says what was expected and found."""
    shape, findings = read(tmp_path, data)
    assert shape is None
    assert any(words in str(problem) for problem in findings.problems)


KEYS = st.sampled_from(["type", "features", "geometry", "properties", "coordinates", "part", "class"])
JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.sampled_from(["Polygon", "hide", "zone"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=5), max_leaves=12,
)


@given(st.lists(JSON, max_size=4))
def test_no_data_breaks_the_reader(tmp_path_factory, features):
    """Whatever the features are: a shape or problems, never a fault of the program."""
    shape, findings = read(tmp_path_factory.mktemp("json"), {"type": "FeatureCollection", "features": features})
    assert (shape is None) == bool(findings.problems)


@pytest.mark.parametrize(
    ("part", "kind", "coordinates"),
    [
        ("zone", "Polygon", [[[0, 0], [10, 0], [10, 0], [0, 0]]]),
        ("flaw", "Polygon", [[[5, 5]] * 4]),
        ("hide", "Polygon", [[[0, 0], [10, 0], [10, 0], [0, 0]]]),
        ("zone", "MultiPolygon", [[[[0, 0], [10, 0], [10, 0], [0, 0]]]]),
        ("flaw", "LineString", [[5, 5], [5, 5]]),
    ],
)
def test_rings_and_lines_of_too_few_different_points(tmp_path, part, kind, coordinates):
    """Four positions of which two differ enclose nothing (RFC 7946, section 3.1.6): refused with the feature."""
    properties = {"part": part, "class": 1, "stretch_deg": 90, "kind": "scar", "severity": 1, "width_mm": 2}
    one = {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [one]}))
    findings = Findings()
    read_hide_shape(Source(tmp_path / "a.geojson", "a.geojson"), LayersSection(), "mm", findings)
    (problem,) = findings.problems
    assert problem.where == "a.geojson, feature 1" and "positions that differ" in problem.expected
