"""One job of a batch from its file to its folder; runs on a worker."""

import time
from math import fsum

from nest.batch.jobs import BatchJob, BatchLimits, BatchRow, check_places, finished_row, write_record
from nest.errors import VampYieldError


def run_one(job: BatchJob, limits: BatchLimits, mark: str) -> BatchRow:
    """Read, place, judge, account and write one job; what its user must mend stands in its row and is not raised.

    A thread of Dask is a core, unless the worker's environment says otherwise. If another worker has finished the job
    meanwhile (a worker that was given up but lived on), its result is kept.
    """
    from geometry.processors import one_core
    from nest.accounts import account
    from nest.job.read import read_job
    from nest.output import write_outputs
    from nest.planning.keeping import keeper_for
    from nest.planning.make import make_plan
    from nest.verify import verify

    done = finished_row(job, mark)
    if done is not None:
        return done
    one_core()
    begin = time.monotonic()
    try:
        check_places(job)
        loaded, keeper = read_job(job.path), keeper_for(job.out)
        plan = make_plan(
            loaded, seconds=limits.seconds, passes=limits.passes, seed=limits.seed, engine=keeper.keeping()
        )
        keeper.engine.release()
        verdict = verify(plan)
        accounts = account(plan)
        job.out.parent.mkdir(parents=True, exist_ok=True)
        write_outputs(plan, accounts, verdict, job.out, figures=limits.figures)
    except VampYieldError as error:
        return BatchRow(job.name, "refused", seconds=time.monotonic() - begin, message=" ".join(str(error).split()))
    except Exception as error:  # also MemoryError: what failed here fails again, only a lost worker is worth a retry
        said = f"{type(error).__name__}: {error}"
        return BatchRow(job.name, "failed", seconds=time.monotonic() - begin, message=" ".join(said.split()))
    row = _row(job.name, plan, accounts, verdict, time.monotonic() - begin)
    write_record(job, mark, row)
    keeper.forget()
    return row


def _row(name: str, plan, accounts, verdict, seconds: float) -> BatchRow:
    from nest.pieces.piece import Role

    leather = accounts.leather
    rough = fsum(row.rough_mm2 for row in accounts.leather_consumption[-1:])
    return BatchRow(
        name=name,
        state="wrong" if not verdict.ok else "met" if verdict.order_met else "short",
        pairs_to_cut=sum(line.pairs_to_cut for line in plan.order),
        pieces_placed=sum(len(layout.placed) for layout in plan.layouts),
        hides_used=sum(bool(layout.placed) for layout in plan.layouts),
        leather_m2=round(fsum(row.gross_mm2 for row in accounts.leather_consumption[-1:]) / 1e6, 4),
        cutting_yield=round(rough / leather.material_mm2, 4) if leather.material_mm2 else None,
        reinforcement_m=round(fsum(use.length_mm for use in accounts.uses if use.role is Role.REINFORCEMENT) / 1e3, 3),
        cost=str(accounts.cost.total),
        currency=accounts.cost.currency,
        seconds=round(seconds, 1),
        message="; ".join(finding.sentence for finding in (verdict.findings or verdict.short)[:3]),
    )
