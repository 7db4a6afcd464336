"""Nicks tell size and style: the code, and every piece of a drawing told by its nicks alone."""

import itertools
import re
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
import shapely
from table_jobs import TABLES, on_table
from tiny_plans import backing, box_plan
from vamp_plans import SIZES, vamp_pieces

from geometry.pose import Pose
from nest.cutplan.compose import lay_drawing
from nest.cutplan.dxf import VERSIONS, write_hide_dxf, write_lay_dxf
from nest.cutplan.nickcode import size_word, spelled, style_numbers, style_word
from nest.cutplan.nicksaid import not_told, plan_not_told
from nest.pieces.piece import Foot, Role
from nest.plan import HideLayout, Lay, Placed

MM = {"mm": 1.0, "cm": 10.0, "in": 25.4}
WHOLE = [str(size) for size in range(30, 40)]
RUNS = {
    "Paris": [str(size) for size in range(36, 46)],
    "Paris halves": [f"{size}{half}" for size in range(36, 46) for half in ("", ".5")],
    "Paris thirds": [f"{size}{third}" for size in range(36, 46) for third in ("", ".33", ".67")],
    "English": [f"{size}{half}" for size in range(3, 13) for half in ("", ".5")],
    "English, child to adult": ["9C", "10C", "11C", "12C", "13C", "1", "2", "3"],
    "Mondopoint": [str(size) for size in range(220, 270, 5)],
    "Mondopoint by 7.5": [f"{225 + 7.5 * step:g}" for step in range(6)],
}


@pytest.mark.parametrize("sizes", RUNS.values(), ids=RUNS)
def test_ten_sizes_in_a_row_have_words_of_their_own(sizes):
    """Within ten steps no two sizes share a word, halves and thirds and all."""
    assert len({size_word(size) for size in sizes}) == len(sizes)


def test_one_nick_misread_makes_no_other_word():
    """A nick missed or seen twice anywhere in a word gives no word of any size, nor any of a style for a style."""
    sizes = {size_word(f"{size}{part}") for size in WHOLE for part in ("", ".5", ".33", ".67")}
    styles = {style_word(number) for number in range(1, 30)}
    assert len(sizes) == 40 and len(styles) == 29 and not sizes & styles
    for words in (sizes, styles):
        for word, change in itertools.product(words, (-1, 1)):
            for place in range(len(word)):
                wrong = tuple(n for i, group in enumerate(word) if (n := group + change * (i == place)))
                assert wrong not in words


def test_whole_sizes_have_four_nicks_at_most():
    """The ten whole sizes use exactly the ten words of two and four nicks; other spellings are the same size."""
    assert sorted(sum(size_word(size)) for size in WHOLE) == [2, 2] + [4] * 8
    for one, other in (("38", "38.0"), ("38.5", "38,5"), ("38.5", "38½"), ("7.5", "7 1/2"), ("38.67", "38 2/3")):
        assert size_word(one) == size_word(other)
    assert [size_word(size) for size in ("M", "", "7/1")] == [None] * 3
    assert spelled((2, 1)) == "2-1 (||_|)"


def test_styles_are_numbered_by_the_material_they_share():
    """A style alone on its leather or roll carries no nicks there; others are counted in the order of the job."""
    (style,) = box_plan().styles
    other = replace(style, name="second", roll="another")
    numbers = style_numbers((style, other))
    assert numbers[style.name, Role.VAMP] == 1 and numbers["second", Role.VAMP] == 2
    assert numbers[style.name, Role.REINFORCEMENT] == numbers["second", Role.REINFORCEMENT] == 0


def several(role: Role):
    """Three styles that share leather and roll, in sizes a few mm apart, one of each foot; and where they lie."""
    shapes = (("ash", 0.0, SIZES[:4]), ("oak", 6.0, SIZES[2:5]), ("yew", 6.5, SIZES[1:6]))
    pieces = [piece for name, lean, sizes in shapes for piece in vamp_pieces(name, lean=lean, sizes=sizes)
              if piece.role is role]
    placed, x = [], 20.0
    for number, piece in enumerate(pieces):
        turned = Pose(0.0, 0.0, 90.0 + 180.0 * (number % 2)).apply(piece.cut_outline)
        low, high = turned.min(axis=0), turned.max(axis=0)
        placed.append(Placed(piece.piece_id, Pose(round(x - low[0], 3), round(30.0 - low[1], 3),
                                                  90.0 + 180.0 * (number % 2))))
        x += high[0] - low[0] + 5.0
    return pieces, tuple(placed), x + 20.0


def several_plan(table):
    """A lay and a hide with all of them; nobody asks whether it would pass the judge."""
    plan = box_plan()
    backs, on_roll, length = several(Role.REINFORCEMENT)
    vamps, on_hide, long = several(Role.VAMP)
    hide = replace(plan.hides[0], outline=shapely.box(0.0, 0.0, long, 400.0), zones=(), flaws=())
    styles = tuple(replace(plan.styles[0], name=name) for name in ("ash", "oak", "yew"))
    return on_table(replace(
        plan, pieces=(*backs, *vamps), styles=styles, hides=(hide,), order=(),
        rolls=(replace(plan.rolls[0], width_mm=600.0),), layouts=(HideLayout(hide.hide_id, on_hide),),
        lays=(Lay("L1", plan.rolls[0].roll_id, length, 1, on_roll),),
    ), table)


def decoded(path, unit, names):
    """Style, size and foot of every cut outline by its nicks and the legend's key, and by its label.

    Independent of the program: entities by ezdxf, nicks by the outline they lie in, sides by the heading line, order by
    the way along the outline from the toe, groups by distance (3 or 8 mm, cut at 5.5), words by the legend's table.
    """
    space = ezdxf.readfile(path).modelspace()
    texts = [text.dxf.text for text in space.query("TEXT")]

    def key(start):
        row = next((text for text in texts if text.startswith(start)), start + ".")
        return {
            tuple(map(int, word.split("-"))): name
            for name, word in re.findall(r"(?:: |; )(.+?) = ([\d-]+) \([|_]+\)", row[len(start) - 2:])
        }

    sizes, styles = key("Size nicks: "), key("Style nicks: ")

    def points(entity):
        if entity.dxftype() == "LINE":
            return np.array((entity.dxf.start, entity.dxf.end))[:, :2] * MM[unit]
        if entity.dxftype() == "LWPOLYLINE":
            return np.array(entity.get_points("xy")) * MM[unit]
        return np.array([vertex.dxf.location for vertex in entity.vertices])[:, :2] * MM[unit]

    def on(use):
        return [one for one in space if one.dxf.layer == names[use]]

    mirrored = any("Grain side down" in text for text in texts)
    nicks = [points(one) for one in on("size")]
    headings = [points(one) for one in on("heading")]
    labels = [(one.dxf.text, one.get_placement()[1]) for one in on("labels")]
    for outline in map(points, on("cut")):
        shape = shapely.Polygon(outline)
        mine = np.array([nick for nick in nicks if shape.contains(shapely.LineString(nick))])
        (axis,) = [line for line in headings if shape.contains(shapely.Point(line[0]))]
        ahead = (axis[1] - axis[0]) / np.hypot(*(axis[1] - axis[0]))
        left = np.array((-ahead[1], ahead[0])) * (-1.0 if mirrored else 1.0)
        words = {}
        for side in (1, -1):
            feet = mine[np.sign((mine[:, 0] - axis[0]) @ left) == side][:, 0] if len(mine) else mine
            toe = shape.exterior.intersection(shapely.LineString((axis[0], axis[0] + 1000.0 * ahead)))
            ways = [shape.exterior.project(shapely.Point(foot)) - shape.exterior.project(toe) for foot in feet]
            order = np.argsort([min(way % shape.length, -way % shape.length) for way in ways])
            groups = []
            for foot, last in zip(feet[order], [None, *feet[order][:-1]], strict=True):
                if last is None or np.hypot(*(foot - last)) > 5.5:
                    groups.append(0)
                groups[-1] += 1
            if groups:
                words[sum(groups) % 2] = (side, tuple(groups))
        (label,) = [text for text, at in labels
                    if shape.contains(shapely.Point(np.array((at.x, at.y)) * MM[unit]))]
        yield sizes[words[0][1]], styles[words[1][1]], words[0][0], label


@pytest.mark.parametrize(("kind", "version"), [
    pytest.param(kind, version, marks=pytest.mark.slow if (at + of) % 2 else (), id=f"{kind}-{version}")
    for at, kind in enumerate(TABLES) for of, version in enumerate(VERSIONS)
])
def test_every_piece_is_told_by_its_nicks_alone(tmp_path, kind, version):
    """From the drawing of a hide and of a lay with three styles, on every kind of table: style, size and foot."""
    table = replace(TABLES[kind], tool_radius_mm=0.0, thin_mm=0.0)
    plan = several_plan(table)
    names = {"cut": "CUT", "size": "MARK_SIZE", "heading": "REF_HEADING", "labels": "REF_LABELS"}
    if table.layer_numbers:
        names = {"cut": "1", "size": "3", "heading": "11", "labels": "4"}
    names |= dict(table.layers)
    for write, part in ((write_hide_dxf, plan.layouts[0]), (write_lay_dxf, plan.lays[0])):
        write(plan, part, tmp_path / "a.dxf", version)
        found = list(decoded(tmp_path / "a.dxf", table.unit, names))
        assert len(found) == len(part.placed)
        for size, style, side, label in found:
            assert label.startswith(f"{style} {size} ")
            assert side == (-1 if " right" in label else 1)
    assert plan_not_told(plan) == ()


def test_pieces_that_no_nicks_tell_apart_are_named_with_the_remedy():
    """A net line at the cut line leaves no band: lay drawing and page name style, sizes, lack of room and remedy."""
    plan = box_plan()
    wide = [replace(backing(), piece_id=f"B{size}", size=size, net_outline=backing().cut_outline) for size in WHOLE[:2]]
    lay = replace(plan.lays[0], placed=tuple(
        replace(one, piece_id=piece.piece_id) for one, piece in zip(plan.lays[0].placed, wide, strict=True)))
    plan = replace(plan, pieces=(*plan.pieces, *wide), lays=(lay,))
    (said,) = plan_not_told(plan)
    assert re.fullmatch(
        r"No size nicks: reinforcement of box, sizes 30, 31: the trim-off band is 0.0 mm at most, 1.75 mm are needed; "
        r"lift and tie .* from the labels of the drawing, or give an inset 1.8 mm smaller at the toe\.", said)
    assert said in [entity.text for entity in lay_drawing(plan, lay).entities if hasattr(entity, "text")]
    assert not plan_not_told(box_plan())
    one = replace(lay, placed=lay.placed[:1])
    assert not plan_not_told(replace(plan, lays=(one,)))


def test_sizes_ten_apart_on_one_roll_are_named_too():
    """28 and 38 share a word: the sentence says by how much their lengths differ."""
    small, large = backing("A", size="28"), backing("B", size="38")
    large = replace(large, cut_outline=large.cut_outline * (1.1, 1.0))
    (said,) = not_told((small, large), {})
    assert said.startswith("The same nicks: reinforcement of box 28, box 38: known by length alone, at least 20 mm")


def test_feet_do_not_share_the_blame():
    """Left and right of one size have the same word on either side: they are told, and nothing is said."""
    left, right = (replace(backing(foot.value), foot=foot) for foot in (Foot.LEFT, Foot.RIGHT))
    assert not_told((left, right), {}) == []


