"""What [crimping] of a job file, or a file of its own, states of each style."""

from pathlib import Path

from nest.job.crimping_schema import CrimpingSection
from nest.job.findings import Findings
from nest.job.jobfile import JobFile, read_alone, read_section_file
from nest.pieces.crimping import Crimping


def crimping_of(section: CrimpingSection | None, style: str, where: str, findings: Findings) -> Crimping:
    """What is stated of one style; `where` names the section in problems."""
    if section is None:
        return Crimping()
    given = {key: value for key, value in section if key != "by_style" and value is not None}
    own = section.by_style.get(style)
    given |= {key: value for key, value in own or () if value is not None}
    least, most = given.get("bag_least_h", 0.0), given.get("bag_most_h")
    if most is not None and least > most:
        findings.refuse(where, f"bag_least_h of {style} not above its bag_most_h", f"{least:g} above {most:g}",
                        "correct one of the two")
    plates, heel = given.pop("plate_by_heel_mm", {}), given.get("heel_mm")
    if plates and heel is not None:
        plate = next((plate for most_mm, plate in plates.items() if heel <= most_mm), None)
        if plate is None:
            findings.refuse(where, f"a plate for the heel of {style}, {heel:g} mm high",
                            f"none above {max(plates)} mm", "add it to plate_by_heel_mm, or correct heel_mm")
        given["plate"] = plate or ""
    return Crimping(**given)


def check_crimping(job_file: JobFile, findings: Findings) -> None:
    """Styles with values of their own are those of the job."""
    styles = [str(item.get("name", "")).strip() for item in job_file.raw_items("style")]
    _check_names(job_file.single["crimping"], styles, job_file.where("crimping", "by_style"), findings)


def _check_names(section: CrimpingSection | None, styles: list[str], where: str, findings: Findings) -> None:
    for name in section.by_style if section else ():
        if name not in styles:
            findings.refuse_name(where, "a style of the job", name, styles)


def read_crimping_file(path: Path | str, styles: list[str]) -> dict[str, Crimping]:
    """What a file with the keys of [crimping], its heading there or not, states of each of these styles.

    Raises
    ------
    InputProblems
        Every problem found in it.
    """
    section, path, findings = read_alone(
        path, lambda source, findings: read_section_file(source, "crimping", CrimpingSection, findings))
    _check_names(section, styles, f"{path.name}, by_style", findings)
    found = {style: crimping_of(section, style, path.name, findings) for style in styles}
    findings.raise_problems()
    return found
