"""What the desk tells and how much it takes, by hand: limits by the clock and to the byte, figures of the plan."""

import asyncio
import threading
from base64 import b64encode
from dataclasses import replace
from types import SimpleNamespace

import pytest
import shapely
from edited_plans import after, two_hides

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from nest.desk import guard, searching, serve
from nest.desk.guard import Guard
from nest.desk.pricing import _told
from nest.desk.serve import Listening
from nest.desk.session import Desk, hide_told, matching, placed_mm2, summary
from nest.desk.versions import listed, standing
from nest.edits import EditProblem, History, State
from nest.edits.commands import BanHide, CutOff, Hold, NameVersion, Spoil, TakeOut
from nest.edits.history import played
from nest.scenarios.atonce import AtOnceCosts, StyleAtOnce

HOST = "127.0.0.1:4711"
GET = {"type": "http", "method": "GET", "path": "/plan", "query_string": b""}
POST = GET | {"method": "POST"}
CHANGE = {"host": HOST, "origin": f"http://{HOST}", "content-type": "application/json"}


@pytest.fixture
def clock(monkeypatch):
    """A clock that stands where it is set; a list of one number, seconds."""
    now = [1000.0]
    monkeypatch.setattr(guard.time, "monotonic", lambda: now[0])
    return now


def guarded(password=""):
    """A guard before nothing."""
    return Guard(None, "the-key", frozenset({HOST}), password)


def test_a_change_has_two_million_bytes_at_most(clock):
    """To the byte, and the sentence says how many; a length that is no number is none."""
    assert guarded()._refused(POST, CHANGE | {"content-length": "2000000"}) is None
    for length in ("2000001", "-1", "", "1e3"):
        assert guarded()._refused(POST, CHANGE | {"content-length": length}) == (
            413, "a change has at most 2000000 bytes, and says how many.")


@pytest.mark.parametrize(("size", "kind"), [(2_000_000, "http.request"), (2_000_001, "http.disconnect")])
def test_a_body_ends_at_two_million_bytes(size, kind):
    """Whatever it said of its length; what is no body is passed on."""
    parts = [{"type": "http.request", "body": b"x" * part} for part in (1_000_000, size - 1_000_000)]
    parts += [{"type": "lifespan"}]

    async def receive():
        return parts.pop(0)

    receiving = guard._bounded(receive)

    async def all_of_them():
        return [(await receiving())["type"] for _ in range(3)]

    assert asyncio.run(all_of_them()) == ["http.request", kind, "lifespan"]


def test_six_hundred_requests_in_ten_seconds(clock):
    """One more is refused until ten seconds have passed since the first; other hosts count too."""
    door = guarded()
    assert {door._refused(GET, {"host": HOST}) for _ in range(599)} == {None}
    assert door._refused(GET, {"host": "evil.example"})[0] == 421
    for passed, code in ((0.0, 429), (10.0, 429), (10.001, None)):
        clock[0] = 1000.0 + passed
        found = door._refused(GET, {"host": HOST})
        assert (found and found[0]) == code, passed


def test_ten_wrong_passwords_in_a_minute(clock):
    """Then the right one is refused for a minute too; words that base64 does not have make a password wrong."""
    right = b64encode(b"anna:correct horse battery").decode()
    door = guarded("correct horse battery")
    assert door._password_refused({"authorization": f"Basic {right}"}) is None
    assert door._password_refused({"authorization": f"basic {right}"}) is None
    assert door._password_refused({})[0] == 401 and not door._guesses
    for given in (f"Basic {right[:4]}!{right[4:]}", f"Bearer {right}", *[f"Basic {b64encode(b':x').decode()}"] * 8):
        assert door._password_refused({"authorization": given}) == (401, "the password is wrong.")
    for passed, code in ((0.0, 429), (60.0, 429), (60.001, None)):
        clock[0] = 1000.0 + passed
        found = door._password_refused({"authorization": f"Basic {right}"})
        assert (found and found[0]) == code, passed


@pytest.mark.parametrize(("status", "asked"), [(401, True), (403, False), (429, False)])
def test_only_a_missing_password_is_asked_for(status, asked):
    """The browser asks its user after 401 alone; what is said is JSON."""
    sent = []

    async def send(message):
        sent.append(message)

    asyncio.run(guard._answer(send, status, "so."))
    headers = dict(sent[0]["headers"])
    assert sent[0]["status"] == status and (b"www-authenticate" in headers) is asked
    assert sent[1]["body"] == b'{"said": "so."}' and headers[b"content-length"] == b"15"
    assert headers[b"cache-control"] == b"no-store"


def test_a_password_of_twelve_characters_is_long_enough(tmp_path):
    """Eleven are not; an address may hold colons, and stands in brackets before a port then (RFC 3986)."""
    for count, words in ((11, "at least 12 characters"), (12, "name one address")):
        with pytest.raises(EditProblem, match=words):
            serve._check(Listening("::", tmp_path / "none.pem", "x" * count))
    assert serve._in_address("fe80::1") == "[fe80::1]" and serve._in_address("10.0.0.5") == "10.0.0.5"


@pytest.fixture
def desk_at(tmp_path):
    """A desk on the state after some steps."""
    made = []

    def at(*commands, plan=None):
        desk = Desk(plan or two_hides(), tmp_path)
        made.append(desk)
        for command in commands:
            desk.do(command, desk.revision)
        return desk

    yield at
    for desk in made:
        desk.close()


def test_the_list_of_hides_by_hand(desk_at):
    """Of 50 dm² four vamps of 224 × 124 mm are 22.2 %; what is cut, banned, held or open, and how much is uncut."""
    desk = desk_at(CutOff("H1"), Hold("H2"), BanHide("H3"))
    rows = {row["id"]: row for row in summary(desk)["hides"]}
    assert {name: row["state"] for name, row in rows.items()} == {"H1": "cut", "H2": "held", "H3": "banned"}
    assert {name: (row["pieces"], row["uncut"]) for name, row in rows.items()} == {
        "H1": (4, 0), "H2": (4, 4), "H3": (0, 0)}
    assert rows["H1"] | {"area_dm2": 50.0, "yield": 22.2, "class": 1, "leather": "calf", "wrong": 0} == rows["H1"]
    assert rows["H3"]["yield"] == 0.0


def test_areas_of_the_list_are_to_a_tenth_of_a_square_decimetre(desk_at):
    """1003.7 × 500 mm are 50.2 dm², of which four vamps are 22.1 %."""
    plan = two_hides()
    longer = replace(plan.hides[0], outline=shapely.box(0.0, 0.0, 1003.7, 500.0))
    (row, *_) = summary(desk_at(plan=replace(plan, hides=(longer, *plan.hides[1:]))))["hides"]
    assert (row["area_dm2"], row["yield"]) == (50.2, 22.1)


def test_single_pieces_that_are_cut_or_wrong_are_counted(desk_at):
    """One of four is cut, and held so: three are not; by name the vamps alone are offered."""
    desk = desk_at(CutOff("H1", (2,)), TakeOut("H2", 1))
    desk.verdict()
    found = summary(desk)
    rows = {row["id"]: row for row in found["hides"]}
    assert (rows["H1"]["state"], rows["H1"]["uncut"], rows["H2"]["uncut"]) == ("open", 3, 3)
    assert found["vamps"] == ["V38"] and found["revision"] == 2 and found["undo"] and not found["redo"]
    told = hide_told(desk, "H1")
    assert [(one["number"], one["cut"], one["spoiled"], one["held"]) for one in told["pieces"]] == [
        (1, False, False, False), (2, True, False, True), (3, False, False, False), (4, False, False, False)]
    desk.do(Spoil("H1", (2,)), 2)
    desk.do(Hold("H1", (3,)), 3)
    told = hide_told(desk, "H1")["pieces"]
    assert [one["spoiled"] for one in told] == [False, True, False, False]
    assert [one["held"] for one in told] == [False, True, True, False]
    assert {(one["piece"], one["style"], one["size"], one["foot"]) for one in told} == {("V38", "box", "38", "either")}
    assert [one["pair"] for one in told] == [1, 1, 2, 2]


def test_words_find_pieces_by_part_of_their_style_from_three_letters_on():
    """Two letters, or digits alone, are no part of a name; a side is a whole word."""
    state = State(two_hides())
    every = {"H1": [1, 2, 3, 4], "H2": [1, 2, 3, 4]}
    assert matching(state, "bo") == {} and matching(state, "box") == every == matching(state, "v38")
    assert matching(state, "either") == every and matching(state, "eith") == {}
    long = replace(two_hides(), styles=(replace(two_hides().styles[0], name="box 2027"),), pieces=tuple(
        replace(one, style="box 2027") for one in two_hides().pieces))
    assert matching(State(long), "2027") == {} and matching(State(long), "box") == every


def test_what_a_plan_comes_to_by_hand():
    """An odd piece is no pair; a hide with nothing on it is not opened; nothing at all costs nothing."""
    state = after(two_hides(), TakeOut("H1", 1))
    assert placed_mm2(state.plan) == pytest.approx(7 * 224 * 124)
    assert {name: standing(state.plan)[name] for name in ("hides", "pairs", "to_cut")} == {
        "hides": 2, "pairs": 3, "to_cut": 4}
    empty = replace(two_hides(), layouts=())
    assert standing(empty) | {"hides": 0, "yield": 0.0, "pairs": 0, "cost": "0"} == standing(empty)


def test_the_last_two_hundred_versions_are_listed():
    """Of 202 states the first, the last two hundred, and those between that have a name."""
    history = History.of(State(two_hides()))
    history, _ = played(history, Hold("H2", (1,)), None)
    for number in range(201):
        history, _ = played(history, Hold("H2", (1 + number % 4,)), None)
    numbers = [one["number"] for one in listed(history)["states"]]
    count = len(history.versions)
    assert count > 201 and numbers == [0, *range(count - 200, count)]
    named, _ = played(History.of(State(two_hides())), NameVersion("noon"), None)
    assert [one["name"] for one in listed(named)["states"]] == ["noon"]


def test_prices_at_the_desk_are_in_square_decimetres():
    """A style that takes 123,400 mm² a pair takes 12.34 dm²."""
    row = StyleAtOnce.__new__(StyleAtOnce)
    values = {"style": "box", "now": 2, "pair": 1, "saving": 1.0, "half": 0.5, "takes_now_mm2": 123_400.0,
              "takes_mm2": 100_000.0, "a_year": None}
    for name in StyleAtOnce.__dataclass_fields__:
        object.__setattr__(row, name, values.get(name))
    (told,) = _told(AtOnceCosts("EUR", (row,), 0.5, ("a note",)))["rows"]
    assert (told["takes_now_dm2"], told["takes_dm2"], told["now"], told["saving"]) == (12.34, 10.0, 2.0, 1.0)


def test_findings_that_lie_on_no_hide_are_told_apart(desk_at, monkeypatch):
    """What is wrong with a lay or the whole plan stands by itself; hides count their own, and what is short is said."""
    wrong = [SimpleNamespace(where=where, sentence=f"{where} is wrong") for where in ("H1", "H2", "L1", "H1")]
    short, desk = [SimpleNamespace(sentence="two pairs are short")], desk_at()
    for ok, met in ((True, False), (False, True)):
        verdict = SimpleNamespace(wrong=wrong, short=short, ok=ok, order_met=met)
        monkeypatch.setattr(Desk, "verdict", lambda self, verdict=verdict: verdict)
        told = summary(desk)
        assert (told["elsewhere"], told["short"]) == (["L1 is wrong"], ["two pairs are short"])
        assert [one["wrong"] for one in told["hides"]] == [2, 1, 0] and (told["ok"], told["met"]) == (ok, met)


def test_what_a_search_came_to_is_told(desk_at):
    """Without one vamp of 224 × 124 mm it gains −2.78 dm². It says what cannot be done, and if a user was quicker."""
    desk = desk_at()
    heard, first = [], desk.state
    desk.listeners.append(lambda told: heard.append(told.data) if told.kind == "search" else None)
    desk._found(first, TakeOut("H9", 1))
    desk._found(first, TakeOut("H1", 1))
    desk._found(first, TakeOut("H1", 2))
    desk._found(desk.state, "nothing fits")
    assert "H9" in heard[0]["said"] and heard[0]["ended"] is True
    assert heard[1] == {"ended": True, "said": "", "anew": False, "at": 1, "gained_dm2": -2.78}
    assert heard[2]["said"].startswith("The plan was changed while it was searched") and desk.history.at == 1
    assert heard[3] == {"ended": True, "said": "nothing fits"}


def test_how_far_a_search_is(monkeypatch):
    """Progress in per cent and tenths of a second; at the end the result, or one sentence why there is none."""
    sent = []
    pipe = SimpleNamespace(send=sent.append, close=lambda: sent.append("closed"))

    def searches(state, command, cancelled, listener, better):
        listener(SimpleNamespace(material_id="H1", stage="fill", yield_so_far=0.6234, seconds=1.26))
        better("more")
        if command is not None:
            raise command
        return "all"

    monkeypatch.setattr(searching, "searched", searches)
    for command in (None, EditProblem("no room"), ValueError("odd")):
        searching._searched(None, command, pipe, threading.Event())
    assert sent[:4] == [
        ("progress", {"hide": "H1", "stage": "fill", "yield": 62.3, "seconds": 1.3}), ("better", "more"),
        ("result", "all"), "closed"]
    assert sent[6] == ("result", "no room") and sent[10][1].startswith("The search failed (ValueError odd);")
