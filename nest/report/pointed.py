"""What is written on a piece, and what is said of a piece, zone or flaw that is pointed at, in short lines."""

from collections.abc import Mapping, Sequence


def label_lines(size: str, foot: str, pair: int) -> list[str]:
    """What is written on a piece: size and foot, and below it the pair."""
    return [size + {"left": " L", "right": " R"}.get(foot, ""), *([f"·{pair}"] if pair else [])]


def homes_of(drawings: Sequence[Mapping]) -> dict[int, list[str]]:
    """The hides that the pieces of each pair lie on."""
    homes: dict[int, list[str]] = {}
    for drawing in drawings:
        for placed in drawing["placed"] if drawing["kind"] == "hide" else ():
            if placed[4]:
                homes.setdefault(placed[4], []).append(drawing["id"])
    return homes


def zone_words(zone: Mapping) -> list[str]:
    """Zone and class, or roll; its stretch."""
    name = f"Roll {zone['id']}" if zone["quality"] is None else f"Zone {zone['id']}, class {zone['quality']}"
    return [name, "stretch unknown" if zone["stretch"] is None else f"stretches most at {zone['stretch']:g}°"]


def flaw_words(flaw: Mapping) -> list[str]:
    """Kind and severity; its number, and what may lie over it."""
    rule = {
        "tears": "tears: nothing may be cut over it", "coverable": "may lie under the trim-off band",
        "clear": "may lie under no piece",
    }[flaw["rule"]]
    return [f"{flaw['kind']}, severity {flaw['severity']}", f"flaw {flaw['id']}: {rule}"]


def piece_words(data: Mapping, drawing: Mapping, placed: Sequence, homes: Mapping[int, Sequence[str]]) -> list[str]:
    """Size, foot and pair; style; how it lies to the stretch; the zones under it; where its partner is."""
    index, _, _, _, pair, away, lies, zones = placed
    piece = data["pieces"][index]
    foot = "either foot" if piece["foot"] == "either" else piece["foot"]
    lines = [f"Size {piece['size']}, {foot}" + (f", pair {pair}" if pair else ""), f"{piece['style']}, {piece['role']}"]
    limit = f"up to {data['limits'][piece['style']]:g}° allowed"
    if away is None:
        lines.append({
            "wrong": "on unknown stretch: WRONG", "bias": "on unknown stretch, with leave for bias",
        }.get(lies, "direction not judged: no zone lies under it"))
    elif lies == "bias":
        lines.append(f"at bias, with leave: {away:g}° off 45° to the stretch, {limit}")
    else:
        lines.append(f"{away:g}° off across the stretch, {limit}" + (": WRONG" if lies == "wrong" else ""))
    if drawing["kind"] == "hide":
        under = [f"{drawing['zones'][i]['id']} (class {drawing['zones'][i]['quality']})" for i in zones]
        if under:
            lines.append(f"net area on {', '.join(under)}")
        elsewhere = [one for one in homes.get(pair, ()) if one != drawing["id"]] if pair else []
        if elsewhere:
            lines.append(f"its partner lies on hide {elsewhere[0]}")
    return lines
