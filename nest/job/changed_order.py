"""Another order for a job that is already read."""

from dataclasses import replace
from pathlib import Path

from nest.job.files import Source, checked_source
from nest.job.findings import Findings
from nest.job.job import Job
from nest.job.order import read_order
from nest.job.schema import GradingSection


def with_order(job: Job, path: Path | str) -> Job:
    """Return the job with the order in the CSV or XLSX file at `path` in place of its own.

    Raises
    ------
    InputProblems
        Everything that is wrong with the order.
    """
    path = Path(path)
    findings = Findings()
    gradings = {
        style.name: GradingSection(system=style.grading.system, base_size=style.grading.base_size)
        for style in job.styles
    }
    source = checked_source(Source(path, path.name), path.name, findings)
    order = read_order(source, gradings, findings) if source else ()
    findings.raise_problems()
    return replace(job, order=order, warnings=(*job.warnings, *findings.warnings))
