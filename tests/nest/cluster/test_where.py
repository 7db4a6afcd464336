"""Where the work is done, as it is said on the command line: one sentence for what cannot be used."""

import socket
import threading
import time

import pytest
from small_jobs import small_job

from nest.cli import main
from nest.cluster.where import Where
from nest.errors import PlanProblem
from nest.placement.budget import Budget
from nest.planning.fill import ROUNDS_BY_PASSES, abreast
from nest.planning.run import Engine, Run


@pytest.mark.parametrize("address", [
    "10.0.0.5:8786", "tcp://", "tcp://host", "tcp://host:0", "tcp://host:99999", "http://host:80", "tcp://a b:1",
    "tcp://host:8786/x", "",
])
def test_what_is_no_address_is_refused_before_the_work(address):
    """An address has a way, a host and a port."""
    with pytest.raises(PlanProblem, match="is not the address of a scheduler"):
        Where(address)


def test_certificates_and_addresses_belong_together(tmp_path):
    """tls:// takes a folder with three files, tcp:// and local workers take none; nobody has both kinds of workers."""
    Where("tcp://[::1]:8786")
    for wrong, words in (
        (("tls://host:1",), "--certificates"), (("tcp://host:1", None, tmp_path), "takes no certificates"),
        ((None, 2, tmp_path), "certificates are for"), (("tls://host:1", None, tmp_path), "ca.pem is missing"),
        (("tcp://host:1", 2), "exclude each other"),
    ):
        with pytest.raises(PlanProblem, match=words):
            Where(*wrong)


@pytest.fixture
def silent():
    """The port of somebody who accepts calls and says nothing."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield server.getsockname()[1]


@pytest.fixture
def talking():
    """The port of somebody who greets in another protocol, in which a Dask client reads an endless message."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        def greet() -> None:
            while True:
                try:
                    server.accept()[0].sendall(b"220 ready when you are\r\n" * 10)
                except OSError:
                    return

        threading.Thread(target=greet, daemon=True).start()
        yield server.getsockname()[1]
        server.shutdown(socket.SHUT_RDWR)


def test_a_scheduler_that_does_not_answer_is_said(tmp_path, capsys, monkeypatch, silent, talking):
    """A closed port, one that says nothing, one that says something else: exit 2, one sentence, nothing
    written, soon."""
    pytest.importorskip("distributed")
    from nest.cluster import connect

    assert 1.5 * connect.ANSWER_SECONDS < 20.0
    monkeypatch.setattr(connect, "ANSWER_SECONDS", 1.0)
    path = small_job(tmp_path / "job", pairs={"39": 1})
    places = ("127.0.0.1:1", f"127.0.0.1:{silent}", f"127.0.0.1:{talking}")
    for address in (f"tcp://{place}" for place in places):
        begin = time.monotonic()
        code = main(["place", str(path), "--out", str(tmp_path / "out"), "-q", "--passes", "1", "--scheduler", address])
        assert code == 2 and time.monotonic() - begin < 20.0
        said = capsys.readouterr()
        assert said.err.count("\n") == 1 and f"{address} does not answer" in said.err and not said.out
        assert not (tmp_path / "out").exists() and not (tmp_path / "out.unfinished").exists()


def test_certificates_that_are_none_are_said(tmp_path, capsys):
    """Files of another kind under the names of certificates: exit 2 and one sentence."""
    pytest.importorskip("distributed")
    path = small_job(tmp_path / "job", pairs={"39": 1})
    for name in ("ca.pem", "cert.pem", "key.pem"):
        (tmp_path / name).write_text("no certificate")
    words = ["--scheduler", "tls://127.0.0.1:1", "--certificates", str(tmp_path)]
    assert main(["place", str(path), "--out", str(tmp_path / "out"), "-q", *words]) == 2
    assert "the certificates cannot be used" in capsys.readouterr().err


def test_by_passes_hides_side_by_side_depend_on_the_hides_alone():
    """However many the engine can take; against the clock it is the engine that counts."""
    def run(passes, at_once):
        return Run(Engine(at_once=lambda: at_once), 1, Budget(10.0 if passes is None else None, passes))

    for hides in (0, 1, ROUNDS_BY_PASSES, 2 * ROUNDS_BY_PASSES, 10 * ROUNDS_BY_PASSES):
        assert {abreast(run(5, at_once), hides) for at_once in (1, 2, 80)} == {max(1, hides // ROUNDS_BY_PASSES)}
        assert [abreast(run(None, at_once), hides) for at_once in (1, 2, 80)] == [
            max(1, min(at_once, hides)) for at_once in (1, 2, 80)
        ]


@pytest.mark.parametrize(("workers", "words"), [
    (1, "a worker could not be started on this machine (Nanny failed to start); close other programs"),
    (2, "2 workers could not be started on this machine (Nanny failed to start); close other programs"),
])
def test_workers_that_cannot_be_started_are_one_sentence(tmp_path, monkeypatch, capsys, workers, words):
    """As when memory or open files run out: code 2, nothing written; it was called a fault in the program."""
    distributed = pytest.importorskip("distributed")

    def failing(*given, **named):
        raise RuntimeError("Nanny failed to start.")

    monkeypatch.setattr(distributed, "LocalCluster", failing)
    out = tmp_path / "out"
    job = small_job(tmp_path / "job", pairs={"38": 1})
    assert main(["place", str(job), "--out", str(out), "--passes", "1", "--local", str(workers), "--quiet"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert words in said and "fault" not in said and ("fewer" in said) == (workers > 1)
    assert not out.exists()
