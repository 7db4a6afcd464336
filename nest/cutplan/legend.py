"""What a cutting drawing says in words. `nest.cutplan.readback` reads some of these sentences again: see `FACTS`."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import fields

import numpy as np

from nest.cutplan.cautions import CAUTIONS
from nest.cutplan.drawing import Label, piece_name
from nest.cutplan.frame import frame_words
from nest.cutplan.grid import exact
from nest.cutplan.holding import HELD_SHARE, WEB_MM
from nest.cutplan.layers import Layers, layers_of
from nest.cutplan.nickcode import StyleNumbers
from nest.cutplan.nicksaid import nick_words
from nest.cutplan.stamp import STAMPED
from nest.cutplan.toolwords import look_out, tool_words
from nest.cutplan.work import Work
from nest.job.cutting_table import CuttingTable
from nest.pieces.piece import Piece
from nest.plan import Lay, Plan, PlannedStyle
from nest.stock.material import Hide, Roll

POINT_NAMES = "ABCD"
"""Names of the registration points, in their order."""

UNIT_WORDS = {"mm": "millimetres (mm)", "cm": "centimetres (cm)", "in": "inches (in)"}

FACTS = {
    "plan": STAMPED,
    "unit": re.compile(r"Coordinates of this file: (?P<unit>millimetres|centimetres|inches) .*"),
    "hide": re.compile(r"Hide (?P<hide_id>.*) of leather (?P<leather>.*), lot (?P<lot>.*), class (?P<quality>\d+), "
                       r"(?P<thickness>\S+) mm thick, (?P<area>\S+) mm2 measured\."),
    "lay": re.compile(r"Lay (?P<lay_id>.*) of roll (?P<roll_id>.*), (?P<plies>\d+) pl(?:y|ies) of (?P<length>\S+) mm, "
                      r"(?P<width>\S+) mm between the selvedges, most stretch at (?P<stretch>\S+) deg of the roll\."),
    "distances": re.compile(r"Cut lines at least (?P<gap>\S+) mm apart and (?P<margin>\S+) mm from the edge; "
                            r"one-way goods: (?P<one_way>yes|no)\."),
    "rules": re.compile(r"Rules of (?P<style>.*): across within (?P<tolerance>\S+) deg, bias (?P<bias>yes|no); "
                        r"net area on class (?P<net>\d+) or better, "
                        r"trim-off band on (?P<trim>any ground|class \d+ or better), "
                        r"flaws under it (?P<flaws>yes|no); pairs from one hide (?P<one_hide>yes|no), "
                        r"of one class (?P<one_class>yes|no)\."),
    "frame": re.compile(r"Hide \(X, Y\) to table \(x, y\), mm: .*"),
    "radius": re.compile(r"Cut lines are moved out by the tool's radius, (?P<mm>\S+) mm: leave it to no other\."),
    "thin": re.compile(r"Cut lines have fewer vertices: up to (?P<mm>\S+) mm outside the outline, never inside\."),
    "curves": re.compile(r"Cut lines are smooth: up to (?P<mm>\S+) mm outside the outline, never inside; "
                         r"(?P<how>arcs|chords), .*"),
    "lead": re.compile(r"Lead-ins of up to (?P<mm>\S+) mm within the trim-off band: (?P<led>\d+) of (?P<all>\d+)\."),
    "number": re.compile(r"Numbers of the pieces by (?P<how>pen|punch) "
                         r"(?P<where>within the trim-off band|inside the net area): \d+ of \d+\."),
    "registration": re.compile(r"Registration points (?P<points>[A-D] \(\S+, \S+\)(?:, [A-D] \(\S+, \S+\)){2,3}) mm; "
                               r"check .*"),
    "pieces": re.compile(r"(?P<count>\d+) pieces?\."),
    "layers": re.compile(r"Layers: (?P<layers>[a-z]+ = \S+?(?:, [a-z]+ = \S+?)*)\."),
}
"""Sentences that the drawing of a hide or a lay is read back by. Numbers are written so that they lose nothing."""


def hide_facts(plan: Plan, hide: Hide, gap_mm: float, margin_mm: float) -> list[str]:
    """What hide it is, the distances that its cut lines keep, and the rules on it."""
    one_way = any(leather.one_way for leather in plan.leathers if leather.name == hide.leather)
    return [
        f"Hide {hide.hide_id} of leather {hide.leather}, lot {hide.lot}, class {hide.quality}, "
        f"{exact(hide.thickness_mm)} mm thick, {exact(hide.measured_area_mm2)} mm2 measured.",
        _distances(gap_mm, margin_mm, one_way),
        *(_rules(style) for style in plan.styles if style.leather == hide.leather),
    ]


def lay_facts(plan: Plan, lay: Lay, roll: Roll, gap_mm: float) -> list[str]:
    """What lay it is, the distance that its cut lines keep, and the rules on it."""
    return [
        f"Lay {lay.lay_id} of roll {roll.roll_id}, {lay.plies} {'ply' if lay.plies == 1 else 'plies'} of "
        f"{exact(lay.length_mm)} mm, "
        f"{exact(roll.usable_width_mm)} mm between the selvedges, most stretch at {exact(roll.stretch_deg)} deg "
        "of the roll.",
        _distances(gap_mm, 0.0, roll.one_way),
        *(_rules(style) for style in plan.styles if style.roll == roll.roll_id),
    ]


def table_words(work: Work, pieces: Iterable[Piece], turned_over: bool) -> list[str]:
    """How the material lies on the table, how the tool goes, and what to look out for; `pieces` are those placed."""
    table = work.table
    said = () if table.registered is None else table.registered.told()
    told = [*frame_words(table, turned_over), *said, f"Hide (X, Y) to table (x, y), mm: {work.frame.told()}"]
    return [*told, *tool_words(work), *order_words(work), work.time.told(), *look_out(work, pieces)]


def order_words(work: Work) -> list[str]:
    """By which rule marks and cuts follow each other."""
    marks = "marks first" if work.table.marks_first else "the marks of a piece before its cut"
    return [
        f"Order: {marks}; then inner outlines before outer ones, and a piece while {HELD_SHARE:.0%} of its outline "
        f"still faces uncut leather wider than {WEB_MM:g} mm, or an uncut neighbour; else the shortest travel."
    ]


def units_and_nicks(pieces: Iterable[Piece], table: CuttingTable, numbers: StyleNumbers) -> list[str]:
    """Units, what the layers are for, and what the nicks of these pieces say."""
    layers = layers_of(table)
    names = {field.name: getattr(layers, field.name).name for field in fields(Layers)}
    told_names = [f"{use} = {name}" for use, name in names.items()]
    rows = [", ".join(told_names[i : i + 5]) for i in range(0, len(names), 5)]
    return [
        f"Coordinates of this file: {UNIT_WORDS[table.unit]}, full size.",
        "Cut the cut layer only. Mark layers: ticks, nicks; within the trim-off band. Ticks: on the heel-toe axis, and "
        "one on each side at the same place of vamp and reinforcement: bond them with all ticks in line. "
        "Reference layers are never cut nor drawn on the material.",
        *(f"Layers: {row}." for row in rows),
        *nick_words(pieces, numbers),
    ]


def registration_text(points) -> str:
    """Where the registration points lie on the table, and how far apart."""
    named = dict(zip(POINT_NAMES, np.asarray(points), strict=False))
    places = ", ".join(f"{name} ({x:.1f}, {y:.1f})" for name, (x, y) in named.items())
    apart = ", ".join(f"{one}-{other} {length:.1f}" for one, other, length in point_distances(points))
    return f"Registration points {places} mm; check {apart} mm."


def point_distances(points) -> list[tuple[str, str, float]]:
    """Names of two registration points and their distance, mm; as many as hold all points (3 or 4) together."""
    named = dict(zip(POINT_NAMES, np.asarray(points), strict=False))
    pairs = (("A", "B"), ("B", "C"), ("C", "A"), ("A", "D"), ("B", "D"))
    return [(one, other, float(np.hypot(*(named[other] - named[one])))) for one, other in pairs if other in named]


def counts(pieces: Sequence[Piece]) -> list[str]:
    """How many there are of each piece."""
    counted = Counter(piece_name(piece) for piece in pieces)
    told = [f"{name}: {count}" for name, count in sorted(counted.items())]
    rows = ["; ".join(told[i : i + 6]) for i in range(0, len(told), 6)]
    return [f"{len(pieces)} piece{'s' * (len(pieces) != 1)}.", *rows]


def legend(lines: Iterable[str], top_left, height: float, warning: str = "") -> list[Label]:
    """Lines of text from here downwards; a warning stands first, twice as high, and cautions last."""
    x, y = (float(value) for value in top_left)
    labels = []
    if warning:
        y -= 2.0 * height
        labels.append(Label("legend", warning, (x, y), 2.0 * height))
        y -= height
    for text in (*lines, *CAUTIONS):
        y -= 1.7 * height
        labels.append(Label("legend", text, (x, y), round(height, 1)))
    return labels


def _distances(gap_mm: float, margin_mm: float, one_way: bool) -> str:
    return (
        f"Cut lines at least {exact(gap_mm)} mm apart and {exact(margin_mm)} mm from the edge; "
        f"one-way goods: {_yes(one_way)}."
    )


def _rules(style: PlannedStyle) -> str:
    rules = style.rules
    trim = "any ground" if rules.trim_quality is None else f"class {rules.trim_quality} or better"
    return (
        f"Rules of {style.name}: across within {exact(rules.tolerance_deg)} deg, bias {_yes(rules.bias_leave)}; "
        f"net area on class {rules.net_quality} or better, trim-off band on {trim}, "
        f"flaws under it {_yes(rules.flaws_under_trim)}; pairs from one hide {_yes(rules.pairs_from_one_hide)}, "
        f"of one class {_yes(rules.pairs_same_class)}."
    )


def _yes(value: bool) -> str:
    return "yes" if value else "no"
