"""Cost sheets, what-ifs, comparisons and trials as tables for people; figures are those of `costing_result`."""

from collections.abc import Iterator
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

NONE = "–"
_SHORT = {"reinforcement": "reinf.", "scrap credit": "scrap\ncredit", "spoilage": "spoilage"}


def plain_table(title: str, first: str, numbers: tuple[str, ...]) -> Table:
    """A table without side lines: one column of names, then columns of numbers."""
    table = Table(title=Text(title), title_justify="left", box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False)
    table.add_column(first)
    for name in numbers:
        table.add_column(name, justify="right", vertical="bottom", no_wrap=True)
    return table


def sheet_tables(data: dict[str, Any]) -> tuple[Table, ...]:
    """The cost of a good pair line by line; then other materials beside it, and where it comes from."""
    rows = data["rows"]
    lines = [line for line in rows[-1]["amounts"] if any(float(row["amounts"][line]) for row in rows)]
    tables = list(_upright(data, lines)) if len(lines) > _MOST_ACROSS else [_across(data, lines)]
    if data["candidates"]:
        tables += _candidates(data)
    if "trace" in data:
        trace = Table("style", "size", "line", "source", "amount", title=Text("Where it comes from"),
                      title_justify="left", box=SIMPLE_HEAD)
        for one in data["trace"]:
            trace.add_row(*(Text(one[key]) for key in ("style", "size", "line", "source", "amount")))
        tables.append(trace)
    return tuple(tables)


_MOST_ACROSS, _MOST_SIZES = 6, 7
"""Lines that fit across a terminal of 80 columns, and sizes that do."""


def _upright(data: dict[str, Any], lines: list[str]) -> Iterator[Table]:
    """Many lines stand one below the other, sizes beside each other: a table a style, then one of styles and order."""
    sizes: dict[str, list[dict[str, Any]]] = {}
    for row in data["rows"]:
        if row["size"]:
            sizes.setdefault(row["style"], []).append(row)
    for style, mine in sizes.items():
        for i in range(0, len(mine), _MOST_SIZES):
            some = mine[i : i + _MOST_SIZES]
            yield _columns(f"Cost of a good pair in {data['currency']}: {data['title']}, {style}",
                           {row["size"]: row for row in some}, lines)
    yield _columns(f"Cost of a good pair in {data['currency']}: {data['title']}",
                   {row["style"] or "order": row for row in data["rows"] if not row["size"]}, lines)


def _columns(title: str, rows: dict[str, dict[str, Any]], lines: list[str]) -> Table:
    table = plain_table(title, "", tuple(rows))
    table.add_row("pairs cut", *(f"{row['pairs_cut']:g}" for row in rows.values()))
    table.add_row("pairs good", *(f"{row['pairs_good']:g}" for row in rows.values()), end_section=True)
    for line in lines:
        table.add_row(line, *((row["per_pair"] or {}).get(line, NONE) for row in rows.values()))
    table.add_row(Text("good pair", style="bold"), *(row["good_pair"] or NONE for row in rows.values()))
    table.add_row("all pairs", *(row["total"] for row in rows.values()))
    return table


def _across(data: dict[str, Any], lines: list[str]) -> Table:
    """Few lines stand beside each other, sizes one below the other."""
    rows = data["rows"]
    table = plain_table(
        f"Cost of a good pair in {data['currency']}: {data['title']}", "",
        ("pairs\ncut", "pairs\ngood", *(_SHORT.get(line, line) for line in lines), "good\npair", "all\npairs"),
    )
    for row in rows:
        each = row["per_pair"] or {}
        table.add_row(
            named(row), f"{row['pairs_cut']:g}", f"{row['pairs_good']:g}", *(each.get(line, NONE) for line in lines),
            row["good_pair"] or NONE, row["total"], end_section=not row["size"],
        )
    return table


def _candidates(data: dict[str, Any]) -> Iterator[Table]:
    """A good pair with each candidate, size by size, beside what it costs now; then the same by the standard cost."""
    now = {(row["style"], row["size"]): row["good_pair"] for row in data["rows"]}
    others = [_one_candidate(one, "good_pair", one["dearer_per_pair"]) for one in data["candidates"]]
    yield _side_by_side("A good pair with other materials", data, now, others)
    if data.get("standard") and all(one["standard"] for one in data["candidates"]):
        now = {(row["style"], row["size"]): row["standard"] for row in data["standard"]["rows"]}
        others = [_one_candidate(one, "standard", one["standard_dearer"]) for one in data["candidates"]]
        yield _side_by_side("Standard cost of a good pair with other materials", data, now, others)


def _one_candidate(one: dict[str, Any], name: str, dearer: str | None) -> dict[Any, str | None]:
    """A candidate's figures by style and size, of the order, and how much dearer it is."""
    figures = {(row["style"], row["size"]): row["good_pair"] for row in one[f"{name}_by_size"]}
    return figures | {("", ""): one[name], "dearer": dearer}


def _side_by_side(title: str, data: dict[str, Any], now: dict, others: list[dict]) -> Table:
    names = [f"{one['name']}\nfor {one['replaces']}" for one in data["candidates"]]
    table = plain_table(title, "", ("now", *names))
    for row in data["rows"]:
        if row["size"] or not row["style"]:
            key = row["style"], row["size"]
            table.add_row(named(row), *(one.get(key) or NONE for one in (now, *others)))
    table.add_row(Text("dearer by"), "", *(one["dearer"] or NONE for one in others))
    return table


def what_if_tables(data: dict[str, Any]) -> tuple[Table, ...]:
    """The price of a millimetre by style and part, then the price of each rule."""
    tables = []
    if data["allowances"]:
        year = any(one["per_mm_year"] for one in data["allowances"])
        table = plain_table(
            f"One mm more of allowance costs, in {data['currency']} ({data['how']})", "",
            ("a pair", "± (95 %)", "order", *(("a year",) if year else ()), "a pair by size"),
        )
        for one in data["allowances"]:
            pair = one["per_mm_pair"]
            sizes = ", ".join(f"{row['size']}: {row['value']:.3f}" for row in one["per_mm_by_size"])
            table.add_row(
                Text(f"{one['style']}, {one['part']}"), f"{pair['value']:.4f}", _error(pair),
                f"{one['per_mm_order']['value']:.2f}",
                *((f"{one['per_mm_year']['value']:.0f}" if one["per_mm_year"] else NONE,) if year else ()), sizes,
            )
        tables.append(table)
    if data["rules"]:
        table = plain_table(f"A rule costs, in {data['currency']}", "", ("a pair", "± (95 %)", "order"))
        for one in data["rules"]:
            table.add_row(Text(one["rule"]), f"{one['pair']['value']:+.4f}", _error(one["pair"]),
                          f"{one['order']['value']:+.2f}")
        tables.append(table)
    return tuple(tables)


def comparison_tables(data: dict[str, Any]) -> tuple[Table, ...]:
    """Both plans, then the causes; they add up to the change."""
    before, after = data["before"], data["after"]
    table = plain_table("Two plans", "", (before["plan"], after["plan"]))
    for name, key, form in (
        ("pairs wanted", "pairs_wanted", "d"), ("pairs cut", "pairs_cut", "g"),
        ("leather as measured, m²", "leather_m2", ".3f"), ("the same a pair cut, dm²", "dm2_per_pair", ".2f"),
        ("cutting yield, as drawn", "cutting_yield", ".1%"), ("net yield, as drawn", "net_yield", ".1%"),
        ("reinforcement, m²", "reinforcement_m2", ".3f"),
    ):
        table.add_row(name, *(NONE if one[key] is None else format(one[key], form) for one in (before, after)))
    table.add_row(f"cost, {data['currency']}", before["cost"], after["cost"])
    for name, key in (("a good pair", "good_pair"), ("the same by the standard cost", "standard")):
        table.add_row(name, *((one["standard"] or {}).get(key) or NONE for one in (before, after)))
    causes = plain_table("What changed the cost", "", ("leather", "reinf.", "in all"))
    for one in data["causes"]:
        causes.add_row(one["cause"], one["leather"], one["reinforcement"], one["amount"])
    causes.add_row(Text("change", style="bold"), "", "", data["change"])
    return table, causes


def trial_tables(data: dict[str, Any]) -> tuple[Table, ...]:
    """Shortages first; what was measured and what follows; then what it saves."""
    tables = []
    for one in data["styles"]:
        short = plain_table(f"{one['style']}: SHORT of the template line, these spoil pieces", "", ("short, mm",))
        for row in one["shortages"]:
            short.add_row(Text(f"size {row['size']}, {row['part']}", style="bold"), f"{row['short_mm']:.1f}")
        if one["shortages"]:
            tables.append(short)
        table = plain_table(
            f"{one['style']}: trim left after crimping, mm; {one['rule']}. Sides: allowance at the widest "
            "place, widening taken off", "",
            ("pieces", "mean", "sd", "least", "wanted", "k", "allowance", "new"),
        )
        for row in one["parts"]:
            table.add_row(
                Text(f"size {row['size']}, {row['part']}"), str(row["pieces"]), f"{row['mean_mm']:.1f}",
                *(NONE if row[key] is None else f"{row[key]:.1f}" for key in ("sd_mm", "worst_mm", "wanted_mm")),
                NONE if row["factor"] is None else f"{row['factor']:.2f}", f"{row['now_mm']:.1f}",
                f"{row['new_mm']:.1f}",
            )
        new = plain_table(f"{one['style']}: allowances, mm", "", ("toe", "side", "back", ""))
        for row in one["allowances"]:
            cells = (f"{row[f'{part}_before_mm']:g} → {row[f'{part}_mm']:g}" for part in ("toe", "side", "back"))
            new.add_row(Text(f"size {row['size']}"), *cells, "tried" if row["tried"] else "interpolated")
        tables += [table, new]
    return (*tables, saving_table(data))


def saving_table(data: dict[str, Any]) -> Table:
    """What a good pair costs before and after, and what that comes to."""
    saving = plain_table(f"A good pair in {data['currency']} ({data['how']})", "",
                         ("before", "after", "change", "± (95 %)", "order", "a year"))
    for row in data["saving"]:
        saving.add_row(
            Text(row["what"]), *(f"{row[key]:.3f}" for key in ("before", "after")), f"{row['pair']['value']:+.3f}",
            _error(row["pair"]), f"{row['order']:+.2f}", NONE if row["year"] is None else f"{row['year']:+.0f}",
        )
    return saving


def named(row: dict[str, Any]) -> Text:
    """Style and size of a row, or what it adds up."""
    if not row["style"]:
        return Text("order", style="bold")
    return Text(f"{row['style']} {row['size']}" if row["size"] else f"{row['style']}, all",
                style="" if row["size"] else "bold")


def _error(figure: dict[str, float | None]) -> str:
    if figure["half_width_95"] is None:
        return NONE
    return f"{figure['half_width_95']:.4f}" + ("" if figure["sign_told"] else ", cannot tell")
