"""What the second judge counts: names, pairs, the order, rolls; it shares no code with the program either."""

from collections import Counter, defaultdict
from dataclasses import dataclass, field

from shapely.geometry import Polygon, shape

NEAR = 0.01
"""What rounding may cost a gap or a margin, mm (README, Promises)."""


@dataclass
class Opinion:
    """Which promises are broken, and which measures are too near their limit to tell; pieces short and over."""

    broken: set[str] = field(default_factory=set)
    close: set[str] = field(default_factory=set)
    short: dict[str, int] = field(default_factory=dict)
    over: dict[str, int] = field(default_factory=dict)

    def hold(self, promise: str, amount: float, most: float, rounding: float) -> bool:
        """Note a measure that should be no more than `most`; True where the promise is broken."""
        if abs(amount - most) <= rounding:
            self.close.add(promise)
        if amount > most:
            self.broken.add(promise)
        return amount > most


@dataclass
class Lying:
    """A piece where it lies."""

    name: str
    piece: dict
    pair: int
    where: str
    heading: float
    cut: Polygon
    net: Polygon
    plies: int = 1
    grade: int | None = None


def names_agree(plan: dict, pieces: dict, styles: dict, said: Opinion) -> None:
    """Names are given once and lead somewhere; what is cut, withdrawn and ordered agrees with the plan."""
    begun, hides = plan["begun"], [one["hide_id"] for one in plan["hides"]]
    rolls, lays = [one["roll_id"] for one in plan["rolls"]], [one["lay_id"] for one in plan["lays"]]
    once = [
        [one["piece_id"] for one in plan["pieces"]], hides, rolls, lays, [one["hide_id"] for one in plan["layouts"]],
        [(one["style"], one["size"]) for one in plan["order"]], [one["hide_id"] for one in begun["hides"]],
        begun["lays"], begun["withdrawn"],
    ]
    cut, withdrawn = {one["hide_id"] for one in begun["hides"]}, set(begun["withdrawn"])
    filled = {one["hide_id"] for one in plan["layouts"] if one["placed"]}
    wrong = [
        any(len(set(names)) < len(names) for names in once),
        any(one["style"] not in styles for one in (*plan["pieces"], *plan["order"])),
        any(one["hide_id"] not in hides for one in plan["layouts"]),
        any(one["roll_id"] not in rolls for one in plan["lays"]),
        any(one["piece_id"] not in pieces for group in (*plan["layouts"], *plan["lays"]) for one in group["placed"]),
        any(one["pairs_to_cut"] < one["pairs_wanted"] for one in plan["order"]),
        not cut <= filled, bool(cut & withdrawn), bool(withdrawn & (filled - cut)), not set(begun["lays"]) <= set(lays),
    ]
    gone = {one["roll_id"] for one in begun["rolls"] if one["withdrawn"]}
    wrong.append(any(one["roll_id"] in gone and one["placed"] and one["lay_id"] not in begun["lays"]
                     for one in plan["lays"]))
    kinds = {one["piece_id"]: (one["style"], one["size"]) for one in plan["pieces"]}
    have = Counter(kinds.get(one["piece_id"]) for group in plan["layouts"] if group["hide_id"] in cut
                   for one in group["placed"])
    lost = Counter()
    for one in begun["spoiled"]:
        lost[one["style"], one["size"]] += one["count"] * (2 if one["side"] == "pair" else 1)
    wrong.append(bool(cut) and any(number > have[kind] for kind, number in lost.items()))
    for hide in plan["hides"]:
        area = shape(hide["outline"]).area
        wrong.append(not area / 2 <= hide["measured_area_mm2"] <= 2 * area)
    if any(wrong):
        said.broken.add("agree")


def _kind(piece: dict) -> tuple[str, str, str]:
    return piece["style"], piece["size"], piece["role"]


def pairs_are_pairs(laid: list[Lying], styles: dict, said: Opinion) -> None:
    """Pairs are pairs, from one hide and one class where the rules want it."""
    groups = defaultdict(list)
    for one in laid:
        if one.pair:
            groups[one.pair].append(one)
    for group in groups.values():
        rules = styles[group[0].piece["style"]]["rules"]
        alike = len({(*_kind(one.piece), one.plies) for one in group}) == 1
        feet = sorted(one.piece["foot"] for one in group)
        wrong = len(group) != 2 or not alike or feet not in (["left", "right"], ["either", "either"])
        if not wrong and group[0].piece["role"] == "vamp":
            wrong |= rules["pairs_from_one_hide"] and group[0].where != group[1].where
            grades = {one.grade for one in group} - {None}
            wrong |= rules["pairs_same_class"] and len(grades) == 2
        if wrong:
            said.broken.add("pairs")


def order_is_met(plan: dict, laid: list[Lying], pieces: dict, styles: dict, said: Opinion) -> None:
    """Sizes short or over are named. What was spoiled is cut again, singles as singles."""
    lines = {(one["style"], one["size"]): one for one in plan["order"]}
    kinds = {(*line, role) for line in lines for role in ("vamp", "reinforcement")
             if role == "vamp" or styles[line[0]]["roll"]}
    kinds |= {_kind(one.piece) for one in laid}
    for style, size, role in kinds:
        line = lines.get((style, size), {"pairs_to_cut": 0, "pairs_wanted": 0})
        either = any(one["foot"] == "either" for one in pieces.values() if (one["style"], one["size"]) == (style, size))
        feet = ("either",) if either else ("left", "right")
        each, pairs = (2 if either else 1), line["pairs_to_cut"]
        again = Counter()
        for one in plan["begun"]["spoiled"]:
            if (one["style"], one["size"]) == (style, size) and (role == "vamp" or one["backed"]):
                for foot in feet if one["side"] == "pair" else (one["side"],):
                    again[foot] += one["count"] * (each if one["side"] == "pair" else 1)
        if plan["begun"]["rejects_cover"]:
            spare = line["pairs_to_cut"] - line["pairs_wanted"]
            again = Counter({foot: max(0, number - each * spare) for foot, number in again.items()})
        rules = styles[style]["rules"]
        strict = role == "vamp" and (rules["pairs_from_one_hide"] or rules["pairs_same_class"])
        mine = [one for one in laid if _kind(one.piece) == (style, size, role)]
        lacking = more = 0
        for foot in feet:
            paired = sum(one.plies for one in mine if one.piece["foot"] == foot and (one.pair or not strict))
            alone = sum(one.plies for one in mine if one.piece["foot"] == foot and not (one.pair or not strict))
            need = each * pairs + again[foot]
            lacking += max(0, need - paired - min(alone, again[foot]))
            more += max(0, paired + alone - need)
        name = f"{role} {style} {size}"
        if lacking:
            said.short[name] = lacking
        if more:
            said.over[name] = more


def lays_fit_rolls(plan: dict, said: Opinion) -> None:
    """Lays fit their rolls, ends and what was taken off before included."""
    off = {one["roll_id"]: one["length_mm"] or 0.0 for one in plan["begun"]["rolls"]}
    for roll in plan["rolls"]:
        cut = rest = 0.0
        for lay in plan["lays"]:
            if lay["roll_id"] == roll["roll_id"]:
                need = lay["plies"] * (lay["length_mm"] + 2 * roll["end_loss_mm"])
                cut, rest = (cut + need, rest) if lay["lay_id"] in plan["begun"]["lays"] else (cut, rest + need)
        said.hold("rolls", max(cut, off.get(roll["roll_id"], 0.0)) + rest - roll["length_mm"], NEAR, 2e-4)
