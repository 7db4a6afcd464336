"""A job from its files: everything read and checked, every problem of all files reported together."""

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from nest.job.checks import check_costing, check_materials, check_names, check_tool, check_weights
from nest.job.costing import PLAIN_COSTING, Costing
from nest.job.crimping import check_crimping, crimping_of
from nest.job.drawing import Prevailing
from nest.job.files import Folder, Source, checked_source, source_within
from nest.job.findings import Findings, listed
from nest.job.hides import read_hides
from nest.job.job import Job, Settings
from nest.job.jobfile import JobFile, read_job_file
from nest.job.measured_stretch import read_measured_stretch, with_measured_stretch
from nest.job.order import read_order
from nest.job.rates import hides_in_own_currency, in_own_currency, rates_in
from nest.job.rejects import with_rejects
from nest.job.schema import GradingSection, StyleSection
from nest.job.tablefile import table_of
from nest.job.template import read_template
from nest.limits import LARGEST_JOB_FILE_BYTES
from nest.pieces.grading import default_steps
from nest.pieces.piece import Template
from nest.pieces.sizing import SizeError
from nest.pieces.style import Allowances, Grading, OrderLine, Style, WeightRow
from nest.rules import Rules
from nest.stock.currencies import Rate
from nest.stock.material import Hide, Leather, Roll
from nest.units import MM2_PER_DM2, MM_PER_LENGTH_UNIT


def read_job(path: Path | str, *, outside: bool = False, alone: bool = False, index: Path | str | None = None) -> Job:
    """Read the job file at `path` and every file it names, all within its folder unless `outside` allows more.

    alone : its order and its hides are not read, for a ledger holds them.
    index : with `alone`, a hide index to read, whose drawings lie in the index's own folder.

    Raises
    ------
    InputProblems
        Every problem found in any of the files.
    """
    path = Path(path)
    findings = Findings()
    source = checked_source(Source(path, path.name), path.name, findings, LARGEST_JOB_FILE_BYTES)
    job_file = None if source is None else read_job_file(source, findings)
    if job_file is None:
        raise findings.error()
    folder, unit = Folder(path.resolve().parent, outside), _unit(job_file)
    check_names(job_file, findings)
    check_weights(job_file, findings)
    check_costing(job_file, findings)
    check_crimping(job_file, findings)
    styles: Sequence[Style] = [
        style for i, item in enumerate(job_file.raw_items("style"))
        if (style := _style(job_file, i, item, folder, unit, findings)) is not None
    ]
    order = () if alone else _order(job_file, folder, findings)
    offered = {
        item["name"].strip(): section
        for item, section in zip(job_file.raw_items("leather"), job_file.repeated["leather"], strict=False)
        if isinstance(item.get("name"), str)
    }
    hides: tuple[Hide, ...] = ()
    if not alone and (hides_source := _named(job_file, "hides", folder, findings)):
        hides = read_hides(hides_source, folder, offered, job_file.layers, unit, findings)
    if index is not None and (listed_source := checked_source(Source(Path(index), str(index)), str(index), findings)):
        beside = Folder(Path(index).resolve().parent, outside)
        hides = read_hides(listed_source, beside, offered, job_file.layers, unit, findings)
    rates = rates_in(job_file, findings)
    rolls = _rolls(job_file, rates)
    settings = _settings(job_file, hides, findings, alone=alone)
    hides = _with_measured_margins(job_file, hides, findings)
    if not alone:
        check_materials(job_file, styles, order, hides, rolls, settings, findings)
    check_tool(job_file, settings, findings)
    styles = with_rejects(job_file, styles, hides, settings.edge_room_mm, findings)
    stretch_source = _named(job_file, "stretch", folder, findings)
    measured = read_measured_stretch(stretch_source, findings) if stretch_source else ()
    if alone:  # it may name hides of any lot
        names = {*(hide.hide_id for hide in hides), *(roll.roll_id for roll in rolls), *offered}
        measured = tuple(line for line in measured if line.material in names)
    findings.raise_problems()
    # Names of materials are known to be right from here on, and no section was refused.
    assert job_file.job is not None
    leathers = _leathers(job_file, rates)
    hides, rolls = with_measured_stretch(measured, hides, rolls, leathers, findings)
    findings.raise_problems()
    if not alone:
        _say_splices(rolls, findings)
    return Job(
        name=job_file.job.name,
        styles=tuple(styles),
        order=order,
        leathers=leathers,
        hides=hides_in_own_currency(hides, leathers),
        rolls=rolls,
        weight_table=tuple(
            WeightRow(row.upper_to_mm, row.least_g_m2, row.most_g_m2) for row in job_file.repeated["weight_table"]
        ),
        settings=settings,
        warnings=tuple(findings.warnings),
        notes=tuple(findings.notes),
        measured_margins=_margins_measured(job_file),
    )


def _order(job_file: JobFile, folder: Folder, findings: Findings) -> tuple[OrderLine, ...]:
    """The order that the job file names; every job in a folder has one."""
    if job_file.job is not None and job_file.job.order is None:
        findings.refuse(job_file.where("order"), "a value for order", "none", "add order")
    source = _named(job_file, "order", folder, findings)
    return read_order(source, gradings_of(job_file), findings) if source else ()


def _named(job_file: JobFile, key: str, folder: Folder, findings: Findings) -> Source | None:
    """The file that a key at the top of the job file names, if it does."""
    name = job_file.raw_text(key)
    return source_within(folder, name, job_file.where(key), findings) if name else None


def _unit(job_file: JobFile) -> str | None:
    """Unit of drawings that state none; mm in place of one that was refused, so that it is reported once."""
    unit = job_file.raw.get("unit")
    unit = unit if unit is None or (isinstance(unit, str) and unit in MM_PER_LENGTH_UNIT) else "mm"
    return Prevailing(unit) if unit is not None and job_file.raw.get("unit_prevails") is True else unit


def gradings_of(job_file: JobFile) -> dict[str, GradingSection | None]:
    """Grading of each style by name; None for a style that was refused."""
    gradings: dict[str, GradingSection | None] = {}
    for item, section in zip(job_file.raw_items("style"), job_file.repeated["style"], strict=False):
        if isinstance(item.get("name"), str):
            gradings[item["name"].strip()] = section.grading if section else None
    return gradings


def _style(
    job_file: JobFile, index: int, raw: dict, folder: Folder, unit: str | None, findings: Findings
) -> Style | None:
    """One style; its drawings are read even if its section was refused."""
    section: StyleSection | None = job_file.repeated["style"][index]
    name = section.name if section else str(raw.get("name", index + 1))
    templates: list[Template] = []
    places: dict[str, str] = {}
    drawings = _drawings(section, raw)
    for key, size, file in drawings:
        where = job_file.where("style", index, *key)
        if section:
            try:
                size = section.grading.label(size)
            except SizeError as error:
                findings.refuse(where, error.expected, error.found, "correct the size")
                continue
        if size in places:
            findings.refuse(where, "one drawing for a size", f"size {size} again", f"see {places[size]}")
            continue
        places[size] = where
        file, block = _file_and_block(file, folder.path)
        source = source_within(folder, file, where, findings)
        template = read_template(source, job_file.layers, name, size, unit, findings, block) if source else None
        if template:
            templates.append(template)
    if section is None or len(templates) < len(drawings):
        return None
    base = min(templates, key=lambda template: template.size != section.grading.label(section.grading.base_size))
    return Style(
        name=name,
        leather=section.leather,
        roll=section.roll,
        templates=tuple(templates),
        grading=_grading(section, base),
        allowances=_allowances(job_file, index, section, findings),
        widening_percent=section.widening_percent,
        reinforcement_inset_mm=section.reinforcement_inset_mm,
        reject_percent=section.reject_percent,
        reject_percent_by_quality=tuple(sorted(section.reject_percent_by_class.items())),
        thickness_mm=section.thickness_mm,
        rules=Rules(**dict(section.rules)),
        notes=tuple(section.notes),
        crimping=crimping_of(job_file.single["crimping"], section.name, job_file.where("crimping"), findings),
    )


def _file_and_block(name: str, folder: Path) -> tuple[str, str | None]:
    """"file.dxf#BLOCK" as the file and the block within it that holds the template."""
    file, mark, block = name.rpartition("#")
    if not mark or not block or "\0" in name or os.path.isfile(folder / name):
        return name, None
    return file, block


def _drawings(section: StyleSection | None, raw: dict) -> list[tuple[tuple[str, ...], str, str]]:
    """Key, size and file of each drawing of a style, as far as they are known."""
    template, templates = raw.get("template"), raw.get("templates")
    if isinstance(templates, dict):
        return [(("templates", size), size, file) for size, file in templates.items() if isinstance(file, str)]
    if isinstance(template, str):
        return [(("template",), section.grading.base_size if section else "", template)]
    return []


def _grading(section: StyleSection, base: Template) -> Grading:
    """Grading with its steps, derived from the size system where they are not given."""
    grading = section.grading
    base_size = grading.label(grading.base_size)
    length, width = grading.length_step_mm, grading.width_step_mm
    if length is None or width is None:
        steps = default_steps(grading.system, base.size, base)
        length = steps[0] if length is None else length
        width = steps[1] if width is None else width
    return Grading(grading.system, base_size, length, width)


def _allowances(job_file: JobFile, index: int, section: StyleSection, findings: Findings) -> Allowances:
    """Allowances of a style; a size with its own has the style's where it leaves one out."""
    given = dict(section.allowances)
    own: dict[str, tuple[str, float, float, float]] = {}
    for size, mine in given.pop("by_size").items():
        try:
            label = section.grading.label(size)
        except SizeError as error:
            where = job_file.where("style", index, "allowances", "by_size")
            findings.refuse(where, error.expected, error.found, "correct the size")
            continue
        values = (getattr(mine, key) for key in ("toe_mm", "side_mm", "back_mm"))
        usual = (given[key] for key in ("toe_mm", "side_mm", "back_mm"))
        own[label] = (label, *(other if one is None else one for one, other in zip(values, usual, strict=True)))
    return Allowances(**given, by_size=tuple(own.values()))


def _settings(job_file: JobFile, hides: tuple[Hide, ...], findings: Findings, *, alone: bool) -> Settings:
    """The settings, usual ones in place of a section that was refused.

    A margin that is to be the measured one is each hide's own: see `_with_measured_margins`.
    """
    section = dict(job_file.single["settings"] or ())
    if "edge_margin_mm" in section and section["edge_margin_mm"] is None:
        where = job_file.where("settings", "edge_margin_mm")
        unknown = [hide.hide_id for hide in hides if hide.within_mm is None]
        if unknown or not (hides or alone or findings.problems):
            found = f"none for {listed(unknown[:8])}" if unknown else "no hides"
            findings.refuse(where, "hides whose drawings say how sure their outline is", found, "give the margin in mm")
        section["edge_margin_mm"] = 0.0
    table, costing = table_of(job_file.single["table"]), _costing(job_file)
    return Settings(**section, table=table, costing=costing)


def _margins_measured(job_file: JobFile) -> bool:
    section = job_file.single["settings"]
    return section is not None and section.edge_margin_mm is None


def _with_measured_margins(job_file: JobFile, hides: tuple[Hide, ...], findings: Findings) -> tuple[Hide, ...]:
    """The hides, each with what its outline is unsure by as its margin, where the job asks for that."""
    if not hides or not _margins_measured(job_file):
        return hides
    widths = [hide.within_mm or 0.0 for hide in hides]
    text = f"{min(widths):g} to {max(widths):g} mm, each hide's own: what its outline is unsure by"
    findings.note(job_file.where("settings", "edge_margin_mm"), text)
    return tuple(replace(hide, margin_mm=own) for hide, own in zip(hides, widths, strict=True))


def _costing(job_file: JobFile) -> Costing:
    """Settings of the cost sheet."""
    if not job_file.single["costing"]:
        return PLAIN_COSTING
    section = job_file.single["costing"].model_dump()
    pairs = ((name, other) for name, others in section["candidates"].items() for other in others)
    by_style = section["pairs_per_year"]
    del section["rates_on"]
    return Costing(**section | {
        "freight_percent": tuple(section["freight_percent"].items()),
        "duty_percent": tuple(section["duty_percent"].items()),
        "candidates": tuple(pairs), "pairs_per_year": by_style.pop("", 0),
        "pairs_per_year_by_style": tuple(by_style.items()),
    })


def _leathers(job_file: JobFile, rates: dict[str, Rate]) -> tuple[Leather, ...]:
    sections = job_file.repeated["leather"]
    return in_own_currency([
        Leather(
            leather.name, leather.price, leather.price_unit, tuple(sorted(leather.price_by_class.items())),
            leather.one_way, None if leather.mean_hide_dm2 is None else leather.mean_hide_dm2 * MM2_PER_DM2,
            None if leather.unfit_percent is None else leather.unfit_percent / 100.0,
            tuple(sorted(leather.breaks.items())),
        )
        for leather in sections
    ], [leather.price_currency for leather in sections], rates)


def _say_splices(rolls: tuple[Roll, ...], findings: Findings) -> None:
    """Splices are kept clear of by lays of several plies only: say so."""
    for roll in rolls:
        if roll.splices_mm:
            said = "only the command lays keeps clear of its splices, not a plan's one long lay"
            findings.warn(f"roll {roll.roll_id}", said)


def _rolls(job_file: JobFile, rates: dict[str, Rate]) -> tuple[Roll, ...]:
    sections = [roll for roll in job_file.repeated["roll"] if roll]
    return in_own_currency([
        Roll(
            roll_id=roll.name,
            width_mm=roll.width_mm,
            selvedge_mm=roll.selvedge_mm,
            length_mm=roll.length_m * 1000.0,
            stretch=roll.stretch,
            weight_g_m2=roll.weight_g_m2,
            price_per_m=roll.price_per_m,
            adhesive_one_side=roll.adhesive_one_side,
            one_way=roll.one_way,
            end_loss_mm=roll.end_loss_mm,
            splices_mm=tuple(sorted(1000.0 * splice for splice in roll.splices_m)),
            breaks=tuple(sorted(roll.breaks.items())),
        )
        for roll in sections
    ], [roll.price_currency for roll in sections], rates)
