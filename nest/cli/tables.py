"""Results as tables for people; the figures are those of `nest.cli.result`."""

from decimal import Decimal
from typing import Any

from rich.table import Table
from rich.text import Text

from nest.cli.costing_tables import NONE, plain_table
from nest.pieces.quantities import RejectPairs
from nest.urgency import row_words

_MOST_LINES = 5
"""Lines of cost that fit across a terminal."""
_SHORT = {"reinforcement": "reinf.", "scrap_credit": "scrap\ncredit", "spoilage": "spoilage"}


def summary_table(result: dict[str, Any]) -> Table:
    """The end of a run: material, yield, consumption, cost, verdict, and where it was written."""
    table = Table(title=Text(result["plan"]), title_justify="left", show_header=False)
    table.add_column(style="bold")
    table.add_column(overflow="fold")
    hides, order = result["hides"], result["order"]
    leather, backing, cost = result["leather"], result["reinforcement"], result["cost"]
    whole = next((row for row in cost["per_pair"] if not row["style"]), None)
    rows = [
        ("pairs", _pairs(order)),
        ("hides", _hides(hides["used"], hides["whole"])),
        *((("already cut", ", ".join(hides["cut_already"])), ("still to cut", ", ".join(hides["to_cut"]) or "none"))
          if hides["cut_already"] else ()),
        ("leather", _yields(leather)),
        ("leather per pair cut", _number(leather["dm2_per_pair"], "dm²")),
    ]
    rows += [line for one in result["issue"] for line in _issue(one, cost["currency"], len(result["issue"]) > 1)]
    if backing["metres_by_roll"]:
        rolls = ", ".join(f"{length:.2f} m of {roll}" for roll, length in backing["metres_by_roll"].items())
        rows += [
            ("rolls", rolls),
            ("reinforcement", _yields(backing)),
            ("reinforcement per pair cut", _number(backing["dm2_per_pair"], "dm²")),
        ]
    parts = (f"{line.replace('_', ' ')} {cost[line]}" for line in cost["lines"] if line in cost)
    rows.append(("cost", f"{cost['total']} {cost['currency']}: {', '.join(parts)}"))
    if whole is not None:
        rows += [
            ("cost per good pair", f"{whole['good_pair']} {cost['currency']}, spoilage {whole['spoilage']} of it"
             + _standard(result["standard"])),
            ("trim-off per pair cut", f"{whole['trim_off_share'] or NONE} {cost['currency']}"
             f", avoidable {whole['trim_off_avoidable'] or NONE} of it"),
        ]
    short = [f"{row['style']} {row['size']} by {row['pairs']:g}" for row in order["pairs_short"]]
    if short:
        rows.append(("pairs short", ", ".join(short)))
    if order["rows"]:
        met = sum(not row["short"] for row in order["rows"])
        rows.append(("rows met in full", f"{met} of {len(order['rows'])}"))
        sacrificed = [
            f"{row['short']} of {row['pairs']} {row['style']} {row['size']} "
            f"{row_words(row['due'] or '', row['priority'] or 0)}" for row in order["rows"] if row["short"]
        ]
        if sacrificed:
            rows.append(("rows short", ", ".join(sacrificed)))
    if result.get("to_buy", {}).get("words"):
        rows.append(("to buy", "\n".join(result["to_buy"]["words"])))
    if result["search"]:
        rows.append(("search", " ".join(result["search"])))
    rows.append(("verdict", result["verdict"]["words"]))
    if result["folder"] is not None:
        rows.append(("written to", result["folder"]))
    for name, value in rows:
        table.add_row(name, Text(value))
    return table


def _standard(found: dict[str, Any] | None) -> str:
    """The standard cost beside it, and the reasons of the difference."""
    order = found and found["rows"][-1]
    if not order or order["standard"] is None:
        return ""
    why = ", ".join(f"{name} {amount}" for name, amount in order["reasons"].items())
    return f"; standard cost {order['standard']} ± {order['within_95']}" + (f": {why}" if why else "")


def _pairs(order: dict[str, Any]) -> str:
    """Pairs wanted and to cut, and by which rule more are cut than wanted."""
    more = order["pairs_to_cut"] - order["pairs_wanted"]
    said = f"{order['pairs_wanted']} wanted, {order['pairs_to_cut']} to cut"
    return said + (f": {more} for rejects, {RejectPairs(order['pairs_for_rejects']).words}" if more else "")


def _issue(one: dict[str, Any], currency: str, named: bool) -> list[tuple[str, str]]:
    """What the choice of hides saves against greedy orders, and how far it may be off the least possible."""
    of = f" of {one['leather']}" if named else ""
    greedy = "; ".join(
        f"{line['cost']} {currency} in {line['order']}, saved {line['saving']}" if not line["missing_dm2"]
        else f"in {line['order']} {line['missing_dm2']:.1f} dm² of the order are missing" for line in one["greedy"]
    )
    return [
        (f"choice of hides{of}",
         f"{one['cost']} {currency} for {one['hides']} whole hides; the same layouts: {greedy}"),
        (f"least cost{of}", f"{one['least_by_area']} {currency} by area, proved (gap {one['gap']:.1%}); "
         f"{one['least_of_layouts']} by these layouts; {one['reference']} at lattice density, no bound"),
    ]


def cost_table(result: dict[str, Any]) -> Table:
    """Cost of a pair by size, style after style, and for the order; many lines are added up but for the first ones."""
    if len(result["lines"]) > _MOST_LINES:
        apart = ("leather", "reinforcement", "spoilage")
        more = [line for line in result["lines"] if line not in apart]
        result = result | {"lines": [*apart, "other"], "per_pair": [
            row | {"other": str(sum(Decimal(row[line]) for line in more))} for row in result["per_pair"]
        ]}
    table = plain_table(
        f"Cost of a pair in {result['currency']}", "",
        ("pairs\ncut", "leather\ndm²", "reinf.\nm", *(_SHORT.get(line, line) for line in result["lines"]), "good\npair",
         "trim-off", "avoidable"),
    )
    rows, lines = result["per_pair"], result["lines"]
    for style in dict.fromkeys(row["style"] for row in rows if row["style"]):
        table.add_row(Text(style, style="bold"))
        own = [row for row in rows if row["style"] == style]
        for row in own:
            table.add_row(Text(f"  {row['size'] or 'all'}"), *_cost_cells(row, lines), end_section=row is own[-1])
    for row in rows:
        if not row["style"]:
            table.add_row(Text("order", style="bold"), *_cost_cells(row, lines))
    return table


def _cost_cells(row: dict[str, Any], lines: list[str]) -> tuple[str, ...]:
    return (
        f"{row['pairs_cut']:g}",
        _number(row["leather_dm2"]),
        _number(row["reinforcement_m"], digits=3),
        *(row[name] for name in (*lines, "good_pair")),
        row["trim_off_share"] or "",
        row["trim_off_avoidable"] or "",
    )


def checks_table(result: dict[str, Any]) -> Table:
    """What was checked, with the sentences of what is wrong."""
    table = Table(show_header=False)
    table.add_column()
    table.add_column(overflow="fold")
    for check in result["checks"]:
        wrong = check["wrong"]
        table.add_row(Text("WRONG" if wrong else "right"), Text(check["check"], style="bold" if wrong else ""))
        for sentence in wrong:
            table.add_row("", Text(sentence))
    for name in ("short", "over"):
        for sentence in result[name]:
            table.add_row(name, Text(sentence))
    return table


def pieces_table(pieces: list[dict[str, Any]]) -> Table:
    """Areas of the vamp and its reinforcement by size, style after style; left and right pieces are alike."""
    table = plain_table(
        "Areas of the pieces in dm²", "", ("rough\nvamp", "net\nvamp", "trim-off", "trim-off\n%", "reinf.", "feet"),
    )
    for style in dict.fromkeys(piece["style"] for piece in pieces):
        own = [piece for piece in pieces if piece["style"] == style]
        backs = {piece["size"]: piece["cut_dm2"] for piece in own if piece["role"] == "reinforcement"}
        vamps = {piece["size"]: piece for piece in own if piece["role"] == "vamp"}
        table.add_row(Text(style, style="bold"))
        for size, vamp in vamps.items():
            areas = vamp["cut_dm2"], vamp["net_dm2"], vamp["trim_off_dm2"]
            table.add_row(
                Text(f"  {size}"), *map(_number, areas), f"{areas[2] / areas[0]:.1%}", _number(backs.get(size)),
                "either" if vamp["foot"] == "either" else "left, right", end_section=size == [*vamps][-1],
            )
    return table


def _hides(used: list[str], whole: list[str]) -> str:
    return f"{len(used)} of {len(used) + len(whole)} cut, {len(whole)} left whole" + (
        f": {', '.join(whole)}" if whole else ""
    )


def _yields(use: dict[str, Any]) -> str:
    if use["cutting_yield"] is None:
        return NONE
    paid, outline = f"{use['area_m2']:.2f}", f"{use['drawn_m2']:.2f}"
    drawn = "" if paid == outline else f" as measured; of {outline} m² drawn"
    return (f"{paid} m² paid for{drawn}, cutting yield {use['cutting_yield']:.1%}, "
            f"net yield {use['net_yield']:.1%}")


def _number(value: float | None, unit: str = "", digits: int = 2) -> str:
    return NONE if value is None else f"{value:.{digits}f} {unit}".rstrip()
