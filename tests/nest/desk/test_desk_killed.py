"""A desk that is killed, two hundred times, opens again at its last step. Slow: pytest -m slow."""

import multiprocessing
import random
from pathlib import Path

import httpx
import pytest
from edited_plans import two_hides

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from nest.desk.session import JOURNAL
from nest.edits.journal import Journal

pytestmark = pytest.mark.slow

MOMENTS = 200
A_FOLDER = 20
"""Kills until a journal begins anew, or it would grow long."""


def _served(folder: str, told) -> None:
    from nest.desk.app import Writers
    from nest.desk.serve import serve

    serve(two_hides(), Path(folder), Writers(lambda plan, begun: {}, lambda plan, hide, table: b""), told.send)


def test_at_two_hundred_moments(tmp_path):
    """Killed while steps arrive: what was answered is there, and at most the one in hand beside it."""
    context, dice, lost = multiprocessing.get_context("forkserver"), random.Random(7), 0
    context.set_forkserver_preload(["nest.desk.serve", "nest.edits"])
    revision = 0
    for moment in range(MOMENTS):
        folder = tmp_path / f"out-{moment // A_FOLDER}"
        if not folder.exists():
            folder.mkdir()
            revision = 0
        ours, theirs = context.Pipe(duplex=False)
        process = context.Process(target=_served, args=(str(folder), theirs), daemon=True)
        process.start()
        assert ours.poll(60)
        url = ours.recv()
        root, last = url.partition("/?")[0], dice.randrange(6)
        with httpx.Client(follow_redirects=True, timeout=30) as client:
            client.get(url)
            for n in range(last + 1):
                x = 120.0 + 0.5 * (n % 3)
                step = {"do": "move", "hide": "H1", "number": 1, "x": x, "y": 70.0, "heading_deg": 0}
                body = {"revision": revision, "step": step}
                try:
                    if n == last:  # killed while this one is on its way
                        soon = dice.uniform(1e-4, 0.02)
                        client.post(f"{root}/step", json=body, headers={"origin": root}, timeout=soon)
                    else:
                        answer = client.post(f"{root}/step", json=body, headers={"origin": root})
                    if n < last:
                        revision = answer.json()["revision"]
                except httpx.HTTPError:
                    break
        process.kill()
        process.join()
        with Journal(folder / JOURNAL, two_hides()) as journal:
            assert revision <= journal.steps <= revision + 1
            lost += journal.steps == revision
            revision = journal.steps
    assert 0 < lost < MOMENTS  # the moments lie on both sides of the disk
