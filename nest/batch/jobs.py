"""The jobs of a folder, and what is known of each from earlier: a record beside its results."""

import hashlib
import json
import tomllib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from nest.atomic import atomic_path, check_folder
from nest.errors import PlanProblem
from nest.limits import LARGEST_JOB_FILE_BYTES
from nest.plainfile import NotPlain, read_plain

PLAN_FILE = "plan.json"
RECORD_SUFFIX = ".done.json"

_JOB_KEYS = {"name", "order", "style", "leather"}
"""A TOML file without any of these is no job."""


@dataclass(frozen=True, slots=True)
class BatchLimits:
    """How each job is placed: as `nest.planning.make.make_plan`, and whether pictures are drawn."""

    seconds: float | None = None
    passes: int | None = None
    seed: int | None = None
    figures: bool = False


@dataclass(frozen=True, slots=True)
class BatchJob:
    """A job to run: its name in the batch, its file, and the folder its results go to."""

    name: str
    path: Path
    out: Path

    @property
    def record(self) -> Path:
        """The file that says that this job is finished."""
        return self.out.with_name(self.out.name + RECORD_SUFFIX)


@dataclass(frozen=True, slots=True)
class BatchRow:
    """What came of one job, a line of the summary; figures are None where there is no plan.

    state : "met", "short" (checked, but pieces are missing), "wrong" (did not pass its checks: do not cut),
        "refused" (the input cannot be used) or "failed" (a fault in the program or its worker).
    """

    name: str
    state: str
    pairs_to_cut: int | None = None
    pieces_placed: int | None = None
    hides_used: int | None = None
    leather_m2: float | None = None
    cutting_yield: float | None = None
    reinforcement_m: float | None = None
    cost: str | None = None
    currency: str = ""
    seconds: float | None = None
    message: str = ""

    @property
    def finished(self) -> bool:
        """Whether there is a plan, so that the job need not run again."""
        return self.state in ("met", "short", "wrong")


def find_jobs(folder: Path, out: Path) -> tuple[BatchJob, ...]:
    """Every job file (*.toml) in `folder` and its direct subfolders, by name; results go to a folder each in `out`.

    A file named job.toml goes by the name of its folder. TOML files of another kind, such as scenarios or a cutting
    table, are passed over; what cannot be read is a job that will be refused.

    Raises
    ------
    PlanProblem
        If there are none, `folder` is none, or `out` lies where it would be taken for a job's data.
    """
    if not folder.is_dir():
        raise PlanProblem(f"{folder} is no folder; name the folder that holds the jobs")
    if out.resolve() == folder.resolve() or out.resolve().is_relative_to(folder.resolve()):
        raise PlanProblem(f"{out} lies in the folder of the jobs; name a folder beside it for the results")
    files = [path for form in ("*.toml", "*/*.toml") for path in sorted(folder.glob(form)) if _may_be_job(path)]
    if not files:
        raise PlanProblem(f"{folder} and its subfolders hold no job files; put .toml files there")
    jobs: dict[str, BatchJob] = {}
    for path in files:
        parts = path.relative_to(folder).with_suffix("").parts
        name = parts[0] if len(parts) == 2 and parts[1] == "job" else "-".join(parts)
        stem, number = name, 1
        while name.casefold() in (taken.casefold() for taken in jobs):
            number += 1
            name = f"{stem}-{number}"
        jobs[name] = BatchJob(name, path, out / name)
    return tuple(jobs.values())


def _may_be_job(path: Path) -> bool:
    try:
        keys = tomllib.loads(read_plain(path, LARGEST_JOB_FILE_BYTES).decode("utf-8-sig")).keys()
    except (NotPlain, ValueError, RecursionError):
        return True
    return not keys or not _JOB_KEYS.isdisjoint(keys)


def fingerprint(job: BatchJob, limits: BatchLimits) -> str:
    """Changes with any file in the job's folder and with the limits, and with nothing else."""
    digest = hashlib.sha256(json.dumps(asdict(limits), sort_keys=True).encode())
    folder = job.path.parent
    digest.update(job.path.name.encode())
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            digest.update(f"\0{path.relative_to(folder).as_posix()}\0{path.stat().st_size}\0".encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()


def check_places(job: BatchJob) -> None:
    """Refuse a job whose results or record could not be written, before time is spent on it.

    Raises
    ------
    PlanProblem
        If in the place of either stands something that no earlier batch wrote.
    """
    check_folder(job.out, marker=PLAN_FILE)
    name = job.record
    if name.is_symlink() or (name.exists() and not name.is_file()):
        raise PlanProblem(f"{name} is a {'link' if name.is_symlink() else 'folder'}; its name is needed, rename it")
    if name.exists() and not job.out.exists():
        try:
            ours = "fingerprint" in json.loads(name.read_text(encoding="utf-8"))
        except (OSError, ValueError, TypeError):
            ours = False
        if not ours:
            raise PlanProblem(f"{name} is no record of a batch; its name is needed, rename it")


def finished_row(job: BatchJob, mark: str) -> BatchRow | None:
    """The row of a job that was finished with this fingerprint and whose results are still as written; else None."""
    try:
        data = json.loads(job.record.read_text(encoding="utf-8"))
        if data["fingerprint"] != mark or not _whole(job.out, data["files"]):
            return None
        return BatchRow(**data["row"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def _whole(folder: Path, files: dict[str, str]) -> bool:
    """Whether every file of the results is there, byte for byte; what else lies beside them is the user's own."""
    return PLAN_FILE in files and all(_digest(folder / name) == digest for name, digest in files.items())


def _digest(path: Path) -> str:
    with open(path, "rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def write_record(job: BatchJob, mark: str, row: BatchRow) -> None:
    """Say that a job is finished, once its results are in their place."""
    files = {
        path.relative_to(job.out).as_posix(): _digest(path) for path in sorted(job.out.rglob("*")) if path.is_file()
    }
    data = {"fingerprint": mark, "row": asdict(row), "files": files}
    with atomic_path(job.record) as part:
        part.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")


def counted(rows: Sequence[BatchRow]) -> dict[str, int]:
    """How many jobs there are in each state, in the sequence of `BatchRow.state`."""
    states = ("met", "short", "wrong", "refused", "failed")
    return {state: sum(row.state == state for row in rows) for state in states if any(r.state == state for r in rows)}
