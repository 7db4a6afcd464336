"""What a desk asks its other processes, what they answer, and when it gives up on them; no process is started here."""

import sys
import threading
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

sys.path.append(str(Path(__file__).parents[1] / "planning"))
import box_jobs
from box_jobs import job, roll, style

from nest.desk import pricing
from nest.desk.pricing import Pricing
from nest.desk.searching import Search
from nest.edits import EditProblem
from nest.pieces.piece import Part
from nest.scenarios.atonce import AtOnceCosts
from nest.stock.material import Leather


def test_what_can_be_moved_is_what_the_order_uses():
    """Only leathers and rolls of the estimated styles are listed, with their price and unit."""
    leathers = tuple(Leather(name, Decimal(price), "m2") for name, price in (("calf", 30), ("kid", 40), ("goat", 20)))
    rolls = roll(), replace(roll(), roll_id="felt"), replace(roll(), roll_id="web", price_per_m=Decimal("1.5"))
    rules = replace(box_jobs.STRAIGHT, pairs_from_one_hide=True)
    wide = replace(box_jobs.EVEN, toe_mm=15.0)
    asked = job(
        styles=[style("sock", roll="felt", reject_percent=9.0), style(roll="knit", rules=rules, reject_percent=2.5),
                style("case", leather="goat", roll="web", allowances=wide)],
        rolls=rolls, leathers=leathers)
    ranges = {("box", Part.TOE): (-4.0, 4.0), ("case", Part.TOE): (-4.0, 5.0), ("case", Part.SIDE): (-3.0, 5.0)}
    found = pricing._movable(SimpleNamespace(
        job=asked, ranges=ranges, at=lambda moved: AtOnceCosts("EUR", (), 0.5, ())))
    assert [tuple(one.values()) for one in found["stock"]] == [
        ("calf", 30.0, "m2"), ("goat", 20.0, "m2"), ("knit", 3.2, "m"), ("web", 1.5, "m")]
    assert found["leathers"] == [[one, ["calf", "kid", "goat"]] for one in ("calf", "goat")]
    assert found["rejects"] == [{"style": "box", "now": 2.5}, {"style": "case", "now": 0.0}]
    assert [tuple(one.values()) for one in found["parts"]] == [
        ("box", "toe", -4.0, 4.0, 12.0), ("case", "toe", -4.0, 5.0, 15.0), ("case", "side", -3.0, 5.0, 12.0)]
    assert found["rules"]["tolerance_deg"] == 0.0 and found["rules"]["pairs_from_one_hide"] is True
    assert found["currency"] == "EUR" and found["costs"]["half"] == 0.5


class Pipe:
    """A pipe that returns the given answers, then ends; it records what was sent and how long it was polled."""

    def __init__(self, *given, late=False):
        self.given, self.late, self.sent, self.waited = [*given], late, [], []

    def recv(self):
        """The next answer; EOFError after the last."""
        if not self.given:
            raise EOFError
        return self.given.pop(0)

    def send(self, one):
        """Record what was sent."""
        self.sent.append(one)

    def poll(self, seconds):
        """Whether there is an answer in time."""
        self.waited.append(seconds)
        return not self.late


class Process:
    """A process that is alive or not, and counts how often it is killed."""

    def __init__(self, alive=True):
        self.alive, self.killed, self.joined = alive, 0, []

    def is_alive(self):
        """As given when it was made."""
        return self.alive

    def join(self, seconds):
        """Record how long it was waited for."""
        self.joined.append(seconds)

    def kill(self):
        """Count the kill."""
        self.killed += 1


def priced(made=None, pipe=None, process=None):
    """The estimates of a desk in this state."""
    bare = Pricing.__new__(Pricing)
    bare._made, bare._pipe, bare._process, bare._lock = made, pipe, process or Process(), threading.Lock()
    bare.told = []
    bare._ready = lambda: bare.told.append(bare.made)
    return bare


@pytest.mark.parametrize(("made", "alive", "ended"), [
    (None, True, False), (None, False, False), ({"parts": []}, True, False), ({"parts": []}, False, True),
    ({"said": "no estimate"}, True, False), ({"said": "no estimate"}, False, False),
])
def test_estimates_have_ended_when_they_were_made_and_their_process_is_gone(made, alive, ended):
    """They have not ended while they are being made, nor where there were none to make."""
    assert priced(made, process=Process(alive)).ended is ended


def test_an_answer_is_waited_for_two_minutes():
    """An answer in time is returned and a text is an error; a late answer or a broken pipe ends the process."""
    pipe = Pipe({"rows": []}, "no style named 'sock'")
    with pytest.raises(EditProblem, match="still being made"):
        priced(None, pipe).ask("moved", None)
    asked = priced({}, pipe)
    assert asked.ask("moved", ("box", "toe")) == {"rows": []} and pipe.sent == [("moved", ("box", "toe"))]
    with pytest.raises(EditProblem, match="named 'sock'"):
        asked.ask("moved", None)
    assert pipe.waited == [120.0, 120.0] and not asked._process.killed
    for late, killed in ((True, 1), (False, 0)):
        asked = priced({}, Pipe(late=late))
        with pytest.raises(EditProblem, match="came to an end; choose Price again"):
            asked.ask("moved", None)
        assert asked._process.killed == killed


def test_estimates_that_end_before_they_are_made_say_so():
    """Whoever waits gets the estimates, or a sentence that they ended without a result."""
    for given, made in ((({"parts": []},), {"parts": []}),
                        ((), {"said": "The estimates ended without a result; choose Price again."})):
        waiting = priced(None, Pipe(*given))
        waiting._wait()
        assert waiting.told == [made]


def test_estimates_are_asked_as_often_as_a_hand_moves(monkeypatch):
    """Each question gets the costs, the curve if it was asked for, or a sentence where there are no estimates."""
    class Lines:
        def __init__(self, asked):
            if asked is None:
                raise EditProblem("no templates")

        def at(self, moved):
            if moved == "too far":
                raise EditProblem("too far")
            return moved

        def curve(self, moved, style, part):
            return [SimpleNamespace(mm=1.5, pair=9.5, half=0.25, style=style, part=part)]

    monkeypatch.setattr(pricing, "AtOnce", Lines)
    monkeypatch.setattr(pricing, "_movable", lambda lines: "movable")
    monkeypatch.setattr(pricing, "_told", lambda found: {"at": found})
    pipe = Pipe(("a", None), ("too far", None), ("b", ("box", "toe")))
    pricing._priced("job", pipe)
    assert pipe.sent == ["movable", {"at": "a"}, "too far", {"at": "b", "curve": [[1.5, 9.5, 0.25]]}]
    pipe = Pipe(("a", None))
    pricing._priced(None, pipe)
    assert pipe.sent == [{"said": "There is no estimate of this plan: no templates"}]


@pytest.mark.parametrize("alive", [True, False])
def test_a_search_that_does_not_stop_is_killed_after_twenty_seconds(alive):
    """A search that has stopped by then is not killed."""
    search = Search.__new__(Search)
    search._process = Process(alive)
    search._lose_patience()
    assert search._process.joined == [20.0] and search._process.killed == alive
