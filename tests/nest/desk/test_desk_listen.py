"""A desk on the network: TLS and a password, or refused; and a job placed first."""

import datetime
import ipaddress
import ssl
import threading
from base64 import b64encode

import httpx
import pytest
from edited_plans import two_hides

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")
from starlette.testclient import TestClient

from nest.cli import main
from nest.desk import guard, serve
from nest.desk.app import Writers, application
from nest.desk.guard import COOKIE, Guard
from nest.desk.serve import Listening
from nest.edits import EditProblem
from nest.planfile import plan_text, read_plan, write_plan

HOST = "10.0.0.5:8443"
ORIGIN = f"https://{HOST}"
PASSWORD = "correct horse battery"
WRITERS = Writers(lambda plan, begun: {"folder": "out", "words": "verified"}, lambda plan, hide, table: b"PK")
STEP = {"revision": 0, "step": {"do": "take_out", "hide": "H1", "number": 1}}


def basic(password, name="anna"):
    """The header with which a browser sends a password (RFC 7617)."""
    return {"authorization": "Basic " + b64encode(f"{name}:{password}".encode()).decode()}


@pytest.fixture
def client(desk):
    """A browser in the shop, not yet let in."""
    guarded = Guard(application(desk, WRITERS), "the-key", frozenset({HOST}), PASSWORD)
    with TestClient(guarded, base_url=ORIGIN, follow_redirects=False, raise_server_exceptions=False) as made:
        yield made


def test_the_password_lets_in(client, desk):
    """As the browser sends it with every request: page, events, steps."""
    asked = client.get("/")
    assert asked.status_code == 401 and asked.headers["www-authenticate"].startswith("Basic ")
    assert client.get("/", headers=basic(PASSWORD)).status_code == 200
    assert client.get("/plan", headers=basic(PASSWORD, "")).status_code == 200
    answer = client.post("/step", json=STEP, headers={"origin": ORIGIN} | basic(PASSWORD))
    assert answer.json() == {"revision": 1} and desk.revision == 1


REFUSED = {
    "no password": ({}, 401),
    "a wrong password": (basic("incorrect horse"), 401),
    "an empty password": (basic(""), 401),
    "part of the password": (basic(PASSWORD[:-1]), 401),
    "the password as the name": (basic("", PASSWORD), 401),
    "the password without a name": ({"authorization": "Basic " + b64encode(PASSWORD.encode()).decode()}, 401),
    "the password in another way": ({"authorization": f"Bearer {PASSWORD}"}, 401),
    "no base64": ({"authorization": "Basic \xff!"}, 401),
    "the key of the loopback in its place": ({"cookie": f"{COOKIE}=the-key"}, 401),
    "the password from another host": ({"host": "rebound.example:8443"} | basic(PASSWORD), 421),
    "the password from the loopback's name": ({"host": "127.0.0.1:8443"} | basic(PASSWORD), 421),
    "the password from another origin": ({"origin": "https://evil.example"} | basic(PASSWORD), 403),
    "the password from the same address without TLS": ({"origin": f"http://{HOST}"} | basic(PASSWORD), 403),
    "the password from a page of another site": ({"sec-fetch-site": "cross-site"} | basic(PASSWORD), 403),
    "the password in a form": ({"content-type": "application/x-www-form-urlencoded"} | basic(PASSWORD), 415),
}


@pytest.mark.parametrize("name", REFUSED)
def test_nothing_else_does(name, client, desk):
    """Each is refused with the code that says why, and nothing is changed or told."""
    headers, code = REFUSED[name]
    sent = {key: value.encode("latin-1") for key, value in ({"origin": ORIGIN} | headers).items()}
    answer = client.post("/step?key=the-key", json=STEP, headers=sent)
    assert answer.status_code == code and PASSWORD not in answer.text
    assert client.get("/?key=the-key", headers={"origin": ORIGIN}).status_code == 401
    assert desk.revision == 0


def test_who_guesses_too_often_waits(client, monkeypatch):
    """After ten wrong passwords not even the right one is looked at for a minute."""
    codes = [client.get("/", headers=basic(f"guess {n}")).status_code for n in range(11)]
    assert codes == [401] * 10 + [429]
    assert client.get("/", headers=basic(PASSWORD)).status_code == 429
    monkeypatch.setattr(guard, "GUESS_WINDOW_S", -1.0)
    assert client.get("/", headers=basic(PASSWORD)).status_code == 200


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    """A certificate of the loopback address and its key in one file."""
    x509 = pytest.importorskip("cryptography.x509")
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key, name = ec.generate_private_key(ec.SECP256R1()), x509.Name([])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(1).not_valid_before(now).not_valid_after(now + datetime.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), True)
        .sign(key, hashes.SHA256())
    )
    path = tmp_path_factory.mktemp("tls") / "desk.pem"
    path.write_bytes(made.public_bytes(serialization.Encoding.PEM) + key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()))
    return path


def test_it_is_served_by_tls_alone(certificate, tmp_path, monkeypatch):
    """A browser that knows the certificate is let in with the password; without TLS there is no answer."""
    told, ready, servers = [], threading.Event(), []

    class Kept(serve._Server):
        """Remembers itself, so that it can be stopped."""

        def __init__(self, *words):
            super().__init__(*words)
            servers.append(self)

        def install_signal_handlers(self):
            """None in a thread."""

    monkeypatch.setattr(serve, "_Server", Kept)
    listening = Listening("127.0.0.1", certificate, PASSWORD)
    thread = threading.Thread(target=serve.serve, daemon=True, args=(
        two_hides(), tmp_path, WRITERS, lambda url: (told.append(url), ready.set()), 0, listening))
    thread.start()
    assert ready.wait(30)
    url = told[0]
    assert url.startswith("https://127.0.0.1:") and "key" not in url
    trusted = ssl.create_default_context(cafile=str(certificate))
    with httpx.Client(verify=trusted) as client:
        assert client.get(url).status_code == 401
        assert client.get(url, auth=("anna", PASSWORD)).status_code == 200
        with pytest.raises(httpx.HTTPError):
            client.get(url.replace("https", "http"))
    servers[0].should_exit = True
    thread.join(30)


def test_without_all_of_it_the_network_is_refused(certificate, tmp_path, capsys):
    """No certificate, no password, a short one, a file that is none, every address: one sentence, exit code 2."""
    write_plan(two_hides(), tmp_path / "plan.json")
    folder, words = str(tmp_path), tmp_path / "password"
    for given, text, said in (
        (["--listen", "127.0.0.1"], PASSWORD, "needs a certificate"),
        (["--tls", str(certificate)], PASSWORD, "are for --listen"),
        (["--listen", "127.0.0.1", "--tls", str(certificate), "--password-file", str(words)], "short", "at least 12"),
        (["--listen", "0.0.0.0", "--tls", str(certificate), "--password-file", str(words)], PASSWORD, "one address"),
        (["--listen", "127.0.0.1", "--tls", folder + "/plan.json", "--password-file", str(words)], PASSWORD, "PEM"),
        (["--listen", "127.0.0.1", "--tls", folder + "/no.pem", "--password-file", str(words)], PASSWORD, "PEM"),
        (["--listen", "192.0.2.1", "--tls", str(certificate), "--password-file", str(words)], PASSWORD, "cannot be"),
        (["--listen", "127.0.0.1", "--tls", str(certificate), "--password-file", folder], PASSWORD, "cannot be read"),
    ):
        words.write_text(text + "\n")
        assert main(["desk", folder, *given]) == 2
        assert said in capsys.readouterr().err
    with pytest.raises(EditProblem, match="at least 12"):
        serve.serve(two_hides(), tmp_path, WRITERS, print, 0, Listening("127.0.0.1", certificate, "x" * 11))


def test_a_job_is_placed_first(tmp_path, monkeypatch, capsys):
    """The desk opens on its plan, in the folder that is named."""
    from small_jobs import small_job

    served = []
    monkeypatch.setattr("nest.planning.make.make_plan", lambda job, **limits: two_hides())
    monkeypatch.setattr(serve, "serve", lambda plan, folder, *more: served.append((plan, folder)))
    job = small_job(tmp_path / "job", pairs={"38": 1})
    assert main(["desk", str(job), "--out", str(tmp_path / "new"), "--passes", "1", "--quiet"]) == 0
    ((plan, folder),) = served
    assert folder == tmp_path / "new" and plan_text(plan) == plan_text(read_plan(folder / "plan.json"))
    assert main(["desk", str(folder), "--out", str(tmp_path / "other")]) == 2
    assert "--out is for a job" in capsys.readouterr().err
    monkeypatch.chdir(tmp_path)
    assert main(["desk"]) == 2
    assert "out: expected the folder of a run" in capsys.readouterr().err


def test_pieces_are_found_by_size_number_pair_and_style():
    """Several words must fit one piece."""
    from nest.desk.session import matching
    from nest.edits import State

    state = State(two_hides())
    assert matching(state, "38") == {"H1": [1, 2, 3, 4], "H2": [1, 2, 3, 4]}
    assert matching(state, "no. 2") == {"H1": [2], "H2": [2]} == matching(state, "No.2 BOX")
    assert matching(state, "pair 3") == {"H2": [1, 2]} and matching(state, "pair 3 no. 2") == {"H2": [2]}
    assert matching(state, "h1") == {"H1": [1, 2, 3, 4]} and matching(state, "39") == {} == matching(state, " ")


@pytest.mark.parametrize(("port", "names"), [
    (443, {"127.0.0.1:443", "localhost:443", "127.0.0.1", "localhost"}), (444, {"127.0.0.1:444", "localhost:444"}),
])
def test_a_browser_leaves_the_port_of_https_out(tmp_path, monkeypatch, port, names):
    """At port 443 (RFC 9110, section 4.2.2) the bare name is the desk's too, at any other it is not."""
    class Bound:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

        def getsockname(self):
            return "127.0.0.1", port

    known = []
    monkeypatch.setattr(serve, "_bound", lambda address, port: Bound())
    monkeypatch.setattr(serve, "Guard", lambda app, token, hosts, password: known.append(hosts))
    monkeypatch.setattr(serve._Server, "run", lambda self, sockets: None)
    serve.serve(two_hides(), tmp_path, WRITERS, print)
    assert known == [names]
