"""[[rejects]]: reject rates of a style by class of ground and deviation from across, as `teach` writes them."""

from collections.abc import Sequence
from dataclasses import replace

from nest.job.findings import Findings
from nest.job.jobfile import JobFile
from nest.pieces.rejects import RejectRates
from nest.pieces.style import Style
from nest.stock.ground import class_shares
from nest.stock.material import Hide


def with_rejects(
    job_file: JobFile, styles: Sequence[Style], hides: Sequence[Hide], margin_mm: float, findings: Findings
) -> tuple[Style, ...]:
    """The styles with the rates that the job file has for them; problems where one is of no style, or there twice."""
    names = [style.name for style in styles]
    found: dict[str, RejectRates] = {}
    for i, section in enumerate(job_file.repeated["rejects"]):
        if section is None:
            continue
        where = job_file.where("rejects", i, "style")
        if section.style in found:
            findings.refuse(where, "rates of each style once", f"{section.style} again", "take one out")
        elif section.style not in names:
            if len(names) == len(job_file.raw_items("style")):  # else it may be one that was refused
                findings.refuse_name(where, "a style of the job", section.style, names)
        else:
            found[section.style] = RejectRates(
                tuple(section.up_to_deg),
                tuple((quality, tuple(row)) for quality, row in sorted(section.percent_by_class.items())),
                section.bias_percent,
            )
    return tuple(
        replace(style, rates=replace(found[style.name], ground=class_shares(
            [hide for hide in hides if hide.leather == style.leather], margin_mm)))
        if style.name in found else style for style in styles
    )
