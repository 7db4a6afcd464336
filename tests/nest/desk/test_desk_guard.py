"""Who may talk to the desk: this machine's browser with the key of this run; forty ways in that do not lead in."""

import asyncio
from dataclasses import replace

import pytest
from edited_plans import two_hides

pytest.importorskip("starlette")
from starlette.testclient import TestClient

from nest.desk import guard
from nest.desk.app import Writers, application
from nest.desk.guard import COOKIE, MOST_BODY_BYTES, Guard
from nest.desk.session import Desk
from nest.edits.commands import PlaceAgain
from nest.planfile import plan_text

WRITERS = Writers(lambda plan, begun: {"folder": "out", "words": "verified"}, lambda plan, hide, table: b"PK")
HOST = "127.0.0.1:4711"
ORIGIN = f"http://{HOST}"
MOVE = {"revision": 0, "step": {"do": "move", "hide": "H1", "number": 1, "x": 121.0, "y": 70.0, "heading_deg": 0.0}}


@pytest.fixture
def desk(tmp_path):
    """A desk on a plan whose names would be markup."""
    plan = replace(two_hides(), name="<script>alert(1)</script>")
    made = Desk(plan, tmp_path)
    yield made
    made.close()


@pytest.fixture
def client(desk):
    """A browser on this machine that was let in with the key."""
    guarded = Guard(application(desk, WRITERS), "the-key", frozenset({HOST}))
    with TestClient(guarded, base_url=ORIGIN, follow_redirects=False, raise_server_exceptions=False) as made:
        answer = made.get("/?key=the-key")
        assert answer.status_code == 303 and answer.headers["location"] == "/"
        assert "HttpOnly" in answer.headers["set-cookie"] and "SameSite=Strict" in answer.headers["set-cookie"]
        yield made


def post(client, path="/step", data=MOVE, **headers):
    """A change as the desk's own page sends it, but for these headers."""
    return client.post(path, json=data, headers={"origin": ORIGIN} | headers)


def test_the_page_itself_may_do_everything(client, desk):
    """With key, host, origin and kind of content right: page, pictures, steps; names are text, never markup."""
    page = client.get("/")
    assert page.status_code == 200 and "<script>alert" not in page.text and "&lt;script&gt;alert" in page.text
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert client.get("/plan").json()["hides"][0]["pieces"] == 4
    assert client.get("/hide/H1").json()["picture"].count('class="piece ') == 4
    assert client.get("/static/desk.js").status_code == 200 and client.get("/style.css").status_code == 200
    assert post(client).json() == {"revision": 1}
    assert desk.state.plan != desk.first


REFUSED = {
    "another host": ("GET", "/plan", {"host": "evil.example"}, 421),
    "a name that leads here": ("GET", "/plan", {"host": "rebound.example:4711"}, 421),
    "no port": ("GET", "/plan", {"host": "127.0.0.1"}, 421),
    "another port": ("GET", "/plan", {"host": "127.0.0.1:80"}, 421),
    "an empty host": ("GET", "/plan", {"host": ""}, 421),
    "a host with a user": ("GET", "/plan", {"host": f"evil@{HOST}"}, 421),
    "another origin": ("POST", "/step", {"origin": "http://evil.example"}, 403),
    "the origin of another port": ("POST", "/step", {"origin": "http://127.0.0.1:80"}, 403),
    "https in place of http": ("POST", "/step", {"origin": f"https://{HOST}"}, 403),
    "the null origin": ("POST", "/step", {"origin": "null"}, 403),
    "another origin that only reads": ("GET", "/plan", {"origin": "http://evil.example"}, 403),
    "from another site": ("GET", "/plan", {"sec-fetch-site": "cross-site"}, 403),
    "from the same site, another origin": ("GET", "/plan", {"sec-fetch-site": "same-site"}, 403),
    "no cookie": ("GET", "/plan", {"cookie": ""}, 403),
    "a wrong key": ("GET", "/plan", {"cookie": f"{COOKIE}=wrong"}, 403),
    "an empty key": ("GET", "/plan", {"cookie": f"{COOKIE}="}, 403),
    "part of the key": ("GET", "/plan", {"cookie": f"{COOKIE}=the-ke"}, 403),
    "the key under another name": ("GET", "/plan", {"cookie": "key=the-key"}, 403),
    "a cookie that is none": ("GET", "/plan", {"cookie": "\x01;;=;"}, 403),
    "a key in bytes": ("GET", "/plan", {"cookie": f"{COOKIE}=\xe4".encode("latin-1")}, 403),
    "a wrong key in the address": ("GET", "/?key=wrong", {"cookie": ""}, 403),
    "two keys in the address": ("GET", "/?key=the-key&key=wrong", {"cookie": ""}, 403),
    "the key at another path": ("GET", "/plan?key=the-key", {"cookie": ""}, 403),
    "an empty key in the address": ("GET", "/?key=", {"cookie": ""}, 403),
    "the page without a key": ("GET", "/", {"cookie": ""}, 403),
    "a file without a key": ("GET", "/static/desk.js", {"cookie": ""}, 403),
    "events without a key": ("GET", "/events", {"cookie": ""}, 403),
    "a form": ("POST", "/step", {"content-type": "application/x-www-form-urlencoded"}, 415),
    "plain text": ("POST", "/step", {"content-type": "text/plain"}, 415),
    "no kind of content": ("POST", "/step", {"content-type": ""}, 415),
    "json in a parameter alone": ("POST", "/step", {"content-type": "text/plain; x=application/json"}, 415),
    "a body too long": ("POST", "/step", {"content-length": str(MOST_BODY_BYTES + 1)}, 413),
    "a length that is none": ("POST", "/step", {"content-length": "-1"}, 413),
    "a step by GET": ("GET", "/step", {}, 405),
    "a search stopped by GET": ("GET", "/stop", {}, 405),
    "files written by GET": ("GET", "/files", {}, 405),
    "files of a hide by GET": ("GET", "/hide-files/H1", {}, 405),
    "files of a hide from another origin": ("POST", "/hide-files/H1", {"origin": "http://evil.example"}, 403),
    "a price by GET": ("GET", "/price", {}, 405),
    "a price from a form": ("POST", "/price", {"content-type": "multipart/form-data"}, 415),
    "the day without a key": ("GET", "/day", {"cookie": ""}, 403),
    "the way of a hide out of the folder": ("GET", "/way/..%2f..%2fetc%2fpasswd", {}, 404),
    "another method": ("PUT", "/step", {}, 405),
    "out of the folder": ("GET", "/static/../app.py", {}, 404),
    "out of the folder, in escapes": ("GET", "/static/%2e%2e/app.py", {}, 404),
    "out of the folder, twice escaped": ("GET", "/static/%252e%252e%252fapp.py", {}, 404),
    "a path of the system": ("GET", "/static//etc/passwd", {}, 404),
    "a hide out of the folder": ("GET", "/hide/..%2f..%2fetc%2fpasswd", {}, 404),
}


@pytest.mark.parametrize("name", REFUSED)
def test_no_other_way_leads_in(name, client, desk):
    """Each is refused with the code that says why, nothing is changed, and no secret is in the answer."""
    method, path, headers, code = REFUSED[name]
    if "cookie" in headers:
        client.cookies.clear()
    sent = {"origin": ORIGIN} | headers if method != "GET" else headers
    answer = client.request(method, path, json=None if method == "GET" else MOVE, headers=sent)
    assert answer.status_code == code
    assert "the-key" not in answer.text and "root:" not in answer.text
    assert desk.revision == 0 and desk.state.plan is desk.first


def test_a_change_needs_an_origin(client, desk):
    """A browser always sends one with a change; what sends none is no page of this desk."""
    assert client.post("/step", json=MOVE).status_code == 403
    assert desk.revision == 0


@pytest.mark.parametrize(("body", "words"), [
    (b"{", "no JSON"), (b"\xff", "cannot be read"), (b"[]", "load the page again"),
    (b'{"revision": "0"}', "load the page again"), (b'{"revision": true}', "load the page again"),
    (b'{"revision": 0, "step": {"do": "<script>"}}', "expected a command"), (b"[" * 100_000, "without end"),
    (b'{"revision": 0, "step": {"do": "take_out", "hide": "<b>", "number": 1}}', "no hide named"),
])
def test_bodies_that_are_no_step(client, desk, body, words):
    """One sentence as JSON, and nothing done."""
    answer = client.post("/step", content=body, headers={"origin": ORIGIN, "content-type": "application/json"})
    assert answer.status_code == 422 and words in answer.json()["said"]
    assert answer.headers["content-type"] == "application/json"
    assert desk.revision == 0


def test_what_is_not_there_is_said(client):
    """A hide, piece or heading that is none."""
    assert "no hide named H9" in client.get("/hide/H9").json()["said"]
    assert "no piece no. 9" in client.get("/places/H1/9?heading=0").json()["said"]
    assert client.get("/places/H1/1?heading=x").status_code == 400
    assert client.get("/places/H1/1?heading=nan").status_code == 400
    assert client.get("/picture/found/H1").json() == {"picture": ""}
    assert "no version 7" in client.get("/picture/7/H1").json()["said"]
    assert "no hide named" in client.get("/picture/0/H9").json()["said"]
    assert "has a number" in client.get("/picture/x/H1").json()["said"]


def test_too_many_requests_are_refused(client, monkeypatch):
    """More than a hand can make in ten seconds; then it goes on."""
    monkeypatch.setattr(guard, "MOST_REQUESTS", 30)
    codes = [client.get("/static/desk.css").status_code for _ in range(30)]
    assert codes[0] == 200 and codes[-1] == 429
    monkeypatch.setattr(guard, "WINDOW_S", -1.0)
    assert client.get("/plan").status_code == 200


def test_a_body_that_grows_beyond_its_length_is_cut_off():
    """What says it is short and is not ends the connection before it is read."""
    told = []

    async def app(scope, receive, send):
        while (message := await receive())["type"] == "http.request":
            told.append(len(message["body"]))

    async def receive():
        return {"type": "http.request", "body": b"x" * 500_000, "more_body": True}

    headers = [(b"host", HOST.encode()), (b"origin", ORIGIN.encode()), (b"content-type", b"application/json"),
               (b"content-length", b"10"), (b"cookie", f"{COOKIE}=the-key".encode())]
    scope = {"type": "http", "method": "POST", "path": "/step", "query_string": b"", "headers": headers}
    asyncio.run(Guard(app, "the-key", frozenset({HOST}))(scope, receive, None))
    assert sum(told) <= MOST_BODY_BYTES


def test_two_windows_never_overwrite_each_other(client, desk):
    """A step made for an earlier state is refused with a word, and the other's stays."""
    assert post(client).status_code == 200
    kept = plan_text(desk.state.plan)
    answer = post(client, data=MOVE | {"step": MOVE["step"] | {"x": 130.0}})
    assert answer.status_code == 409 and "at another window" in answer.json()["said"]
    assert plan_text(desk.state.plan) == kept


def test_a_search_is_answered_before_it_has_found_anything(client, desk, monkeypatch):
    """The answer names the revision that the search begins from, and says that it goes on."""
    begun = []
    monkeypatch.setattr(type(desk), "search", lambda desk, command, base: begun.append((command, base)))
    answer = post(client, data={"revision": 0, "step": {"do": "place_again", "hides": ["H1"], "passes": 1}})
    assert answer.json() == {"revision": 0, "searching": True}
    assert begun == [(PlaceAgain(("H1",), passes=1), 0)]


def test_what_is_asked_for_has_its_limits(client):
    """Two hundred characters are looked for, and an angle has a million degrees at most; more is cut off, refused."""
    for blanks, found in ((197, {"H1": [1, 2, 3, 4], "H2": [1, 2, 3, 4]}), (198, {})):
        assert client.get("/find", params={"words": " " * blanks + "box"}).json() == {"found": found}
    for heading, status in (("1e6", 200), ("-1e6", 200), ("1000001", 400), ("-1000001", 400)):
        assert client.get(f"/places/H1/1?heading={heading}").status_code == status
