"""Reach the workers of a scheduler, or start some on this machine that nobody else can reach.

Whoever can speak to a Dask scheduler or worker can have it run anything. What is started here therefore listens on the
loopback address alone and speaks TLS with a certificate that is made for the occasion and never leaves these processes
(`distributed.Security.temporary`): other users of the machine cannot join. A scheduler that is there already is as safe
as whoever set it up made it; over tcp:// a warning says so.
"""

import logging
import ssl
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager

from geometry.processors import CORES_VARIABLE, processor_cores
from nest.cluster.where import Where
from nest.errors import PlanProblem

ANSWER_SECONDS = 8.0
"""A scheduler that does not answer within this is not there; one that has no worker within half of it has none."""

_KEPT: dict[str, list | None] = {
    # a worker is lost only with its process: long compiled loops must not look like a dead one
    "distributed.scheduler.worker-ttl": None,
    # pages for browsers know no certificates
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
}


@contextmanager
def connected(where: Where, say: Callable[[str], None] = lambda sentence: None) -> Iterator:
    """A Dask client of the scheduler, or of a cluster of our own that lives as long as the block.

    Raises
    ------
    PlanProblem
        If Dask is not installed, the certificates cannot be used, the scheduler does not answer or has no worker, or
        no workers can be started here.
    """
    try:
        import dask
        import distributed
        from distributed.utils import silence_logging_cmgr
    except ImportError as error:
        raise _not_installed() from error
    with dask.config.set(_KEPT), silence_logging_cmgr(logging.CRITICAL):
        if where.scheduler is None:
            with _own(distributed, where.local or 1) as local, distributed.Client(local) as client:
                yield client
        else:
            with _found(distributed, where, say) as client:
                yield client


@contextmanager
def _own(distributed, workers: int):
    """Worker processes on this machine; each may use its share of the cores, and files of its own."""
    try:
        security = distributed.Security.temporary()
    except ImportError as error:
        raise _not_installed() from error
    with tempfile.TemporaryDirectory(prefix="vampyield-", ignore_cleanup_errors=True) as folder:
        try:
            local = distributed.LocalCluster(
                n_workers=workers, threads_per_worker=1, host="127.0.0.1", protocol="tls://", security=security,
                silence_logs=logging.CRITICAL, local_directory=folder, memory_limit=None,
                scheduler_kwargs={"dashboard": False, "dashboard_address": "127.0.0.1:0"},
                preload=["nest.cluster.deaf"], env={CORES_VARIABLE: str(max(1, processor_cores() // workers))},
            )
        except (RuntimeError, OSError) as error:
            few = "a worker" if workers == 1 else f"{workers} workers"
            raise PlanProblem(
                f"{few} could not be started on this machine ({' '.join(str(error).split()).rstrip('.')}); close other "
                "programs for memory and open files" + (", or ask for fewer." if workers > 1 else ".")) from error
        with local:
            yield local


def _found(distributed, where: Where, say: Callable[[str], None]):
    """A client of a scheduler that is there already, and has a worker."""
    address = where.scheduler
    try:
        security = None
        if where.encrypted:
            ca, certificate, key = map(str, where.files)
            security = distributed.Security(
                require_encryption=True, tls_ca_file=ca, tls_client_cert=certificate, tls_client_key=key
            )
            security.get_connection_args("client")
        else:
            say(f"{address} is neither encrypted nor guarded: whoever reaches it can run programs on its workers.")
    except (OSError, ValueError) as error:  # ssl.SSLError is an OSError
        raise PlanProblem(f"{where.certificates}: the certificates cannot be used ({error}).") from error
    try:
        client = _in_time(lambda: distributed.Client(address, timeout=ANSWER_SECONDS, security=security))
    except Exception as error:  # whatever comes of it that somebody else answers there, also MemoryError
        cause: BaseException | None = error
        while cause is not None and not isinstance(cause, ssl.SSLError):
            cause = cause.__cause__
        hint = "that its certificates are from the same CA" if cause else "that it runs"
        raise PlanProblem(f"the scheduler {address} does not answer; check its address, and {hint}.") from error
    try:
        client.wait_for_workers(1, timeout=ANSWER_SECONDS / 2)
    except TimeoutError as error:
        client.close()
        raise PlanProblem(f"the scheduler {address} has no worker; start some, see the guide's page on clusters.") \
            from error
    return client


def _in_time(make: Callable):
    """What `make` returns; Dask itself waits for ever for somebody who takes the call and says nothing."""
    made: Future = Future()

    def attempt() -> None:
        try:
            made.set_result(make())
        except BaseException as error:
            made.set_exception(error)

    threading.Thread(target=attempt, daemon=True).start()
    return made.result(timeout=1.2 * ANSWER_SECONDS)


def _not_installed() -> PlanProblem:
    return PlanProblem('workers need Dask: install the extra "cluster" (pip install "vampyield[cluster]").')


def as_they_come(futures: Mapping) -> Iterator[tuple]:
    """What each future stands for and the future, in the sequence in which they end."""
    from distributed import as_completed

    for future in as_completed(futures):
        yield futures[future], future
