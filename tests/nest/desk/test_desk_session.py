"""A plan at the desk: where a piece may lie, searches beside a hand, and a desk that is killed."""

import asyncio
import os
import re
import signal
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from any_commands import ANY
from desk_threads import InThreads
from edited_plans import after, rules_broken, two_hides
from hypothesis import given, settings
from hypothesis import strategies as st

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

import nest
from nest.desk import searching
from nest.desk.app import _events
from nest.desk.session import GONE, Desk, Stale, Told, summary
from nest.edits import EditProblem, State, findings_on
from nest.edits.commands import Hold, MarkFlaw, MovePiece, PlaceAgain, SetLayouts, TakeOut
from nest.edits.reach import allowed_headings, positions
from nest.planfile import plan_text, write_plan
from nest.verify import verify


def region(rings):
    """The ground within rings by the even-odd rule."""
    whole = shapely.Polygon()
    for ring in rings:
        whole = whole.symmetric_difference(shapely.Polygon(ring).buffer(0))
    return whole


@settings(max_examples=25, deadline=None)
@given(st.floats(0.0, 1000.0), st.floats(0.0, 500.0), st.sampled_from([0.0, 8.0, 180.0, 45.0]))
def test_where_a_piece_may_lie_is_where_the_judge_lets_it(x, y, heading):
    """Inside the positions the judge finds nothing, outside he finds something; only on their edge may they differ."""
    state = after(two_hides(), MarkFlaw("H1", "scar", 2, ((500.0, 300.0),), width_mm=20.0, tears=True))
    ground = region(positions(state, "H1", 2, heading))
    point = shapely.Point(x, y)
    found = findings_on(after(state.plan, MovePiece("H1", 2, x, y, heading)).plan, "H1")
    if ground.boundary.distance(point) > 0.2 or ground.is_empty:
        assert bool(found) != ground.contains(point)


def test_a_heading_that_is_not_allowed_has_no_place():
    """Toes lie across the stretch, within ten degrees, either way."""
    state = State(two_hides())
    assert positions(state, "H1", 1, 45.0) == []
    assert region(positions(state, "H1", 1, 10.0)).area > 0.0
    turns = allowed_headings(state, "H1", 1)
    assert set(turns) == {float(turn % 360) for turn in (*range(-10, 11), *range(170, 191))}


def test_a_piece_slides_along_its_neighbours():
    """Beside a rectangle 224 mm long at x = 120 another one of the row may lie from x = 344 and the gap on."""
    plan = two_hides()
    ground = region(positions(State(plan), "H1", 2, 0.0))
    row = ground.intersection(shapely.LineString([(0.0, 70.0), (500.0, 70.0)]))
    least = 120.0 + 224.0 + plan.settings.hide_apart_mm
    assert np.isclose(row.bounds[0], least, atol=0.1)


PATIENCE_S = 900.0
"""Until a search is said to hang: a process that has a thirtieth of a processor begins, searches and ends in it."""


class Heard(list):
    """What a desk tells, with a bell for the end of a search."""

    def __init__(self, desk):
        super().__init__()
        self.ended = threading.Event()
        desk.listeners.append(self.hear)

    def hear(self, told):
        """Note it."""
        self.append(told)
        if told.data.get("ended"):
            self.ended.set()


def test_a_search_beside_a_hand(desk, monkeypatch):
    """It ends as one step; a hand that was quicker keeps its own, and what was found is not used."""
    heard = Heard(desk)
    desk.do(TakeOut("H1", 1), 0)
    desk.search(PlaceAgain(("H1",), passes=4), 1)
    with pytest.raises(EditProblem, match="search is running"):
        desk.search(PlaceAgain(("H1",), passes=4), 1)
    assert heard.ended.wait(PATIENCE_S)
    assert desk.revision == 2 and not rules_broken(desk.state.plan)
    heard.ended.clear()
    quicker = threading.Event()

    def search(state, command, **how):
        assert quicker.wait(PATIENCE_S)
        return SetLayouts((state.layout("H2"),))

    monkeypatch.setattr(searching, "_SPAWN", InThreads)
    monkeypatch.setattr(searching, "searched", search)
    desk.search(PlaceAgain(("H2",), passes=4), 2)
    desk.do(Hold("H1", (2,)), 2)
    quicker.set()
    held = desk.state
    assert heard.ended.wait(PATIENCE_S)
    assert desk.state is held and "not used" in heard[-1].data["said"]


def test_a_search_that_cannot_be_made_says_so(desk, monkeypatch):
    """The sentence comes to the listener; the plan stays as it is."""
    monkeypatch.setattr(searching, "_SPAWN", InThreads)
    heard = Heard(desk)
    desk.search(PlaceAgain(("H1",), seconds=0.0), 0)
    assert heard.ended.wait(PATIENCE_S)
    assert "up to 3600 seconds" in heard[-1].data["said"] and desk.revision == 0
    with pytest.raises(Stale):
        desk.search(PlaceAgain(("H1",), passes=1), 7)
    with pytest.raises(EditProblem, match="start it as one"):
        desk.do(PlaceAgain(("H1",), passes=1), 0)


@settings(max_examples=12, deadline=None)
@given(st.lists(ANY, min_size=2, max_size=6))
def test_nothing_unverified_is_called_verified(tmp_path_factory, steps):
    """Whatever was done: the page says of the plan what the judge says of that very plan, or that he is busy."""
    desk, judged = Desk(two_hides(), tmp_path_factory.mktemp("desk")), threading.Event()
    desk.listeners.append(lambda told: judged.set() if told.kind == "judged" else None)
    try:
        for step in steps:
            judged.clear()
            with suppress(EditProblem):
                desk.do(step, desk.revision)
            verdict = verify(desk.state.plan)
            told = summary(desk)
            assert (not told["judged"] and not told["ok"] and not told["met"]) or right(told, verdict)
            assert told["judged"] or (judged.wait(PATIENCE_S) and right(summary(desk), verdict))
    finally:
        desk.close()


def right(told, verdict):
    """Whether the page says what the judge says."""
    return told["judged"] and (told["ok"], told["met"]) == (verdict.ok, verdict.order_met)


def test_one_desk_a_plan(desk, tmp_path):
    """A second desk on the same folder is refused while the first is open."""
    with pytest.raises(EditProblem, match="open at another desk"):
        Desk(two_hides(), tmp_path)


def test_a_desk_that_is_killed_opens_again_at_its_last_step(tmp_path):
    """By the command: it prints its address, is killed, and the steps that were done are there the next time."""
    folder = tmp_path / "out"
    folder.mkdir()
    write_plan(two_hides(), folder / "plan.json")
    words = [sys.executable, "-c", "import sys; from nest.cli import main; sys.exit(main())", "desk", str(folder)]
    environment = {**os.environ, "PYTHONPATH": str(Path(nest.__file__).parent.parent)}
    with subprocess.Popen(words, stderr=subprocess.PIPE, text=True, env=environment) as process:
        line = process.stderr.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+/\?key=\S+", line)
        assert address, line
        import httpx

        with httpx.Client(follow_redirects=True) as client:
            root = address[0].partition("/?")[0]
            assert client.get(address[0]).status_code == 200
            step = {"revision": 0, "step": {"do": "take_out", "hide": "H1", "number": 1}}
            assert client.post(f"{root}/step", json=step, headers={"origin": root}).json() == {"revision": 1}
        process.send_signal(signal.SIGKILL)
    again = Desk(two_hides(), folder)
    assert again.revision == 1 and len(again.state.layout("H1").placed) == 3
    again.close()
    assert plan_text(two_hides()) == (folder / "plan.json").read_text()


def test_a_folder_that_holds_no_plan_is_refused(tmp_path, capsys):
    """One sentence, exit code 2."""
    from nest.cli import main

    assert main(["desk", str(tmp_path / "nothing")]) == 2
    assert "give the folder that holds plan.json" in capsys.readouterr().err


def test_a_plan_that_is_not_judged_yet_is_not_called_right(desk, monkeypatch):
    """Neither verified nor met, nothing short, nothing wrong, until the judge has spoken."""
    monkeypatch.setattr(Desk, "verdict", lambda self: None)
    told = summary(desk)
    assert [told[name] for name in ("judged", "ok", "met", "short", "elsewhere")] == [False, False, False, [], []]
    assert not any(one["wrong"] for one in told["hides"])
    monkeypatch.setattr(Desk, "verdict", lambda self: verify(self.state.plan))
    assert summary(desk)["judged"] is True
    for x in (340.0, 330.0):  # on its neighbour, then on the edge of the next too
        desk.do(MovePiece("H1", 1, x, 70.0, 0.0), desk.revision)
        found = [one.where for one in verify(desk.state.plan).wrong]
        assert {one["id"]: one["wrong"] for one in summary(desk)["hides"]} == {
            one: found.count(one) for one in ("H1", "H2", "H3")}
        assert found.count("H1") > 0


def test_a_judge_that_fails_judges_again(desk, monkeypatch):
    """What goes wrong once does not leave the plan unjudged for good."""
    def fails(plan):
        raise MemoryError

    verdict = verify(desk.state.plan)
    desk._judging = True
    monkeypatch.setattr("nest.desk.session.verify", fails)
    with pytest.raises(MemoryError):
        desk._judge()
    assert not desk._judging
    monkeypatch.setattr("nest.desk.session.verify", lambda plan: verdict)
    monkeypatch.setattr("nest.desk.session.threading.Thread", lambda target, daemon: SimpleNamespace(start=target))
    assert desk.verdict() is None and desk.verdict() is verdict and not desk._judging


def test_a_search_that_does_not_stop_is_killed(monkeypatch):
    """After twenty seconds, if it is still alive; one that has stopped is left in peace."""
    for alive in (True, False):
        done = []
        process = SimpleNamespace(join=done.append, is_alive=lambda alive=alive: alive,
                                  kill=lambda done=done: done.append("killed"))
        one = object.__new__(searching.Search)
        one._process, one._stopping = process, threading.Event()
        threads = []
        monkeypatch.setattr(searching.threading, "Thread", lambda threads=threads, **how: threads.append(how) or (
            SimpleNamespace(start=how["target"])))
        one.stop()
        monkeypatch.undo()
        # The desk may be left meanwhile.
        assert one._stopping.is_set() and threads[0]["daemon"] is True
        assert done == [20.0, *["killed"] * alive]


def test_what_happens_is_told_as_it_comes(desk, monkeypatch):
    """The revision first, the verdict if it is there, then each change; a sign of life in silence, and an end."""
    waiting = []

    async def in_time(one, seconds):
        waiting.append(seconds)
        if len(waiting) == 2:
            one.close()
            raise TimeoutError
        return await one

    async def told(judged, *changes):
        monkeypatch.setattr(Desk, "verdict", lambda self: judged)
        found = []
        events = _events(desk)
        found.append(await anext(events))
        if judged:
            found.append(await anext(events))
        for change in changes:
            desk.listeners[-1](change)
        async for one in events:
            found.append(one)
        return found

    monkeypatch.setattr(asyncio, "wait_for", in_time)
    first = 'event: changed\ndata: {"revision": 0}\n\n'
    search = Told("search", {"hide": "H1"})
    before = len(desk.listeners)
    assert asyncio.run(told(None, search, Told(GONE, {}))) == [
        first, 'event: search\ndata: {"hide": "H1"}\n\n', ": still here\n\n"]
    waiting.extend([0, 0])
    assert asyncio.run(told(verify(desk.state.plan), Told(GONE, {}), search)) == [
        first, first.replace("changed", "judged")]
    assert set(waiting) == {15.0, 0} and len(desk.listeners) == before
