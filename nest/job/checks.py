"""What must agree between the parts of a job: names, and sizes of pieces against the materials."""

from collections.abc import Iterable

import numpy as np

from geometry.polygon import area, convex_hull, size
from nest.job.findings import Findings
from nest.job.job import Settings
from nest.job.jobfile import JobFile
from nest.pieces.grading import template_of_size
from nest.pieces.piece import Template
from nest.pieces.sizing import SizeError
from nest.pieces.style import OrderLine, Style
from nest.stock.material import Hide, Roll


def check_names(job_file: JobFile, findings: Findings) -> None:
    """Names are given once, and styles use leathers and rolls there are."""
    names = {}
    for section in ("leather", "roll", "style"):
        items = job_file.raw_items(section)
        names[section] = [item["name"].strip() for item in items if isinstance(item.get("name"), str)]
        if section != "roll" and not items:
            findings.refuse(job_file.name, f"at least one [[{section}]]", "none", f"add a [[{section}]] section")
        first: dict[str, int] = {}
        for i, item in enumerate(items):
            name = item.get("name")
            if isinstance(name, str) and first.setdefault(name.strip().casefold(), i) != i:
                findings.refuse(
                    job_file.where(section, i, "name"), f"a {section} name of its own", f"{name!r} again", "rename one"
                )
    for i, item in enumerate(job_file.raw_items("style")):
        for section in ("leather", "roll"):
            name = item.get(section)
            if isinstance(name, str) and name not in names[section] and not (section == "roll" and name == ""):
                findings.refuse_name(job_file.where("style", i, section), f"a {section} of the job file",
                                     name, names[section])


def check_costing(job_file: JobFile, findings: Findings) -> None:
    """Candidates for a leather are leathers, those for a roll are rolls, none is named for itself; styles are known."""
    section = job_file.single["costing"]
    styles = [str(item.get("name", "")).strip() for item in job_file.raw_items("style")]
    for name in section.pairs_per_year if section else ():
        if name and name not in styles:
            findings.refuse_name(job_file.where("costing", "pairs_per_year"), "a style of the job file", name, styles)
    names = {
        kind: [str(item.get("name", "")).strip() for item in job_file.raw_items(kind)] for kind in ("leather", "roll")
    }
    for key in ("freight_percent", "duty_percent"):
        for name in getattr(section, key) if section else ():
            known = names["leather"] + names["roll"]
            if name and name not in known:
                findings.refuse_name(job_file.where("costing", key), "a leather or roll of the job file", name, known)
    for name, others in (section.candidates if section else {}).items():
        where = job_file.where("costing", "candidates")
        kind = next((kind for kind, known in names.items() if name in known), None)
        if kind is None:
            known = names["leather"] + names["roll"]
            findings.refuse_name(where, "a leather or roll of the job file", name, known)
            continue
        for other in others:
            if other not in names[kind] or other == name:
                known = [one for one in names[kind] if one != name]
                findings.refuse_name(where, f"another {kind} of the job file for {name}", other, known)


def check_weights(job_file: JobFile, findings: Findings) -> None:
    """The rows of the weight table stand from thin to thick."""
    rows = job_file.repeated["weight_table"]
    for i in range(1, len(rows)):
        if rows[i] and rows[i - 1] and rows[i].upper_to_mm <= rows[i - 1].upper_to_mm:
            findings.refuse(
                job_file.where("weight_table", i, "upper_to_mm"), f"more than {rows[i - 1].upper_to_mm:g}",
                f"{rows[i].upper_to_mm:g}", "put the rows in order, from thin to thick",
            )


def check_tool(job_file: JobFile, settings: Settings, findings: Findings) -> None:
    """A warning says what the tool's way takes beyond the outlines: that is kept free on top of gaps and margin."""
    table = settings.table
    if table.reach_mm > 0.0:
        key = "tool_radius_mm" if table.tool_radius_mm > 0.0 else "curve_mm" if table.curve_mm > 0.0 else "thin_mm"
        findings.warn(
            job_file.where("table", key),
            f"cut lines lie up to {table.reach_mm:g} mm outside the outlines, so outlines are placed "
            f"{settings.hide_apart_mm:g} mm apart on hides, {settings.roll_apart_mm:g} mm on rolls and "
            f"{settings.edge_room_mm:g} mm from the edge of a hide, for cut lines to keep the gaps and the margin; "
            "smaller gaps save material",
        )


def check_materials(
    job_file: JobFile, styles: Iterable[Style], order: Iterable[OrderLine], hides: Iterable[Hide],
    rolls: Iterable[Roll], settings: Settings, findings: Findings,
) -> None:
    """Every ordered piece can lie on every hide of its leather, and on its roll, as far as a quick look tells.

    What was refused is left out: it is compared once it is mended.
    """
    hides, by_roll = tuple(hides), {roll.roll_id: roll for roll in rolls}
    ordered: dict[str, list[str]] = {}
    for line in order:
        ordered.setdefault(line.style, []).append(line.size)
    smallest: dict[str, Template] = {}
    for style in styles:
        where = job_file.where("style", _entry(job_file, "style", style.name))
        if style.name not in ordered:
            findings.warn(where, f"style {style.name} is not in the order")
            continue
        templates = _templates(style, ordered[style.name], f"{where}, grading", findings)
        if not templates:
            continue
        least = min(templates, key=lambda template: area(template.outline))
        if style.leather not in smallest or area(least.outline) < area(smallest[style.leather].outline):
            smallest[style.leather] = least
        if style.roll in by_roll:
            _check_roll(style, templates, by_roll[style.roll], settings.strip_room_mm, job_file, findings)
        if not any(hide.leather == style.leather for hide in hides):
            findings.warn(where, f"there is no hide of leather {style.leather}; style {style.name} cannot be cut")
    for hide in hides:
        if hide.leather in smallest:
            _check_hide(hide, smallest[hide.leather], job_file, findings)


def _entry(job_file: JobFile, section: str, name: str) -> int:
    """Which entry of a repeated section has this name."""
    return next(i for i, item in enumerate(job_file.raw_items(section)) if str(item.get("name", "")).strip() == name)


def _templates(style: Style, sizes: Iterable[str], where: str, findings: Findings) -> list[Template]:
    """The templates of the ordered sizes."""
    found = []
    for name in sizes:
        try:
            found.append(template_of_size(style.templates, name, style.grading))
        except SizeError:
            continue  # said where the order was read
        except ValueError as error:
            expected, _, rest = str(error).removeprefix("expected ").partition(", found ")
            findings.refuse(where, expected, rest, "correct the steps per size")
    return found


def _check_roll(
    style: Style, templates: Iterable[Template], roll: Roll, room_mm: float, job_file: JobFile, findings: Findings
) -> None:
    """The reinforcement of the largest size fits between the selvedges, at the angle that needs least width.

    `room_mm` is kept from either edge of the strip.
    """
    largest = max(templates, key=lambda template: least_width(template.outline))
    allowances = style.allowances.for_size(largest.size)
    # The least that the reinforcement reaches out from the template, at any part.
    reach = min(allowances.toe_mm, allowances.side_mm, allowances.back_mm) - style.reinforcement_inset_mm
    needs = least_width(largest.outline) + 2.0 * (reach + room_mm)
    if needs > roll.usable_width_mm:
        findings.refuse(
            job_file.where("roll", _entry(job_file, "roll", roll.roll_id), "width_mm"),
            f"a roll that takes style {style.name}, size {largest.size}",
            f"{roll.usable_width_mm:.0f} mm between the selvedges for {needs:.0f} mm", "use a wider roll",
        )


def _check_hide(hide: Hide, template: Template, job_file: JobFile, findings: Findings) -> None:
    """The smallest template of the hide's leather is smaller than the hide."""
    outline = np.array(hide.outline.exterior.coords)[:-1]
    if area(template.outline) > hide.outline.area or least_width(template.outline) > least_width(outline):
        findings.refuse(
            f"{job_file.raw_text('hides')}, hide {hide.hide_id}", "a hide larger than the smallest piece",
            "{:.0f} × {:.0f} mm for {:.0f} × {:.0f} mm".format(*size(outline), *size(template.outline)),
            "take it out of the index, or check the unit of its drawing",
        )


def least_width(ring: np.ndarray) -> float:
    """Smallest distance between two parallel lines with `ring` (n, 2) between them, mm.

    One of the lines lies along an edge of the convex hull (rotating calipers theorem; M. Shamos, 1978). O(h²) for h
    hull vertices.
    """
    hull = convex_hull(ring)
    edges = np.roll(hull, -1, axis=0) - hull
    normals = np.column_stack((-edges[:, 1], edges[:, 0])) / np.hypot(*edges.T)[:, None]
    return float(np.ptp(hull @ normals.T, axis=0).min())
