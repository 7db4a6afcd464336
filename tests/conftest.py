"""What holds for all tests: examples made up by hypothesis may take their time; processes do not work twice."""

import os
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# Read when numpy is loaded. Threads that wait for each other in every process take four times the processor time (17 ms
# for the singular values of 600 × 120, alone 4 ms), and give the tests nothing.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_now = settings()  # in CI other than at a desk
settings.register_profile(
    "patient", _now, deadline=None, suppress_health_check=[*_now.suppress_health_check, HealthCheck.too_slow])
settings.load_profile("patient")


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session):
    """In a fresh copy the processes share the rewriting of asserts in all test files, which each would do for itself.

    pytest keeps what it has rewritten beside the sources. This uses its own functions, which are not public: where a
    release has others, or a file cannot be read, every process does its work itself, as without this.
    """
    process = getattr(session.config, "workerinput", None)
    if process is None or session.config.args != session.config.getini("testpaths"):
        return
    with suppress(Exception):
        from _pytest.assertion import rewrite

        state = session.config.stash[rewrite.assertstate_key]
        files = sorted(Path(__file__).parent.rglob("test_*.py"))
        for path in files[int(process["workerid"].lstrip("gw"))::process["workercount"]]:
            kept = rewrite.get_cache_dir(path) / (path.stem + rewrite.PYC_TAIL)
            if not kept.exists() and rewrite.try_makedirs(kept.parent):
                source, code = rewrite._rewrite_test(path, session.config)
                rewrite._write_pyc(state, code, source, kept)
