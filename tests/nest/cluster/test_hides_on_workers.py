"""The hides of one order on two worker processes: the same plan, whoever dies; and nobody else gets in."""

import os
import pickle
import signal
import socket
import ssl
import threading
import time

import psutil
import pytest
from box_jobs import hide, job, style, zone
from shapely.geometry import box

from geometry.pose import Pose
from nest.cluster import task
from nest.cluster.engine import _Away
from nest.planfile import plan_text
from nest.planning import fill
from nest.planning.make import make_plan
from nest.planning.run import Engine
from nest.verify import verify

distributed = pytest.importorskip("distributed")
pytest.importorskip("cryptography")

SEED = 3


def asked():
    """Two styles in pairs of one class, on three hides of two classes; no hide holds the order alone."""
    zones = [zone("a", box(0, 0, 400, 500), 1), zone("b", box(400, 0, 800, 500), 2, 84.0)]
    return job(
        styles=[style("lean", lean=20.0), style("even")], order=[("lean", "38", 3), ("even", "38", 3)],
        hides=[hide("A", 700, 500), hide("B", 800, 500, zones=zones), hide("C", 700, 500)],
    )


def engine_of(client, say=lambda sentence: None) -> Engine:
    """The engine that asks these workers."""
    away = _Away(client, say)
    return Engine(away.solve_region, away.here.solve_strip, away.at_once)


def planned(passes=3, **more) -> str:
    """The plan by passes, judged right, as text."""
    plan = make_plan(asked(), passes=passes, seed=SEED, **more)
    assert verify(plan).ok
    return plan_text(plan)


@pytest.fixture(scope="module")
def alone():
    """The plan that is made without workers, all hides at once, and the problems it asked to be solved."""
    here, problems = Engine.fresh(), []

    def kept(problem, *asked, **more):
        problems.append(problem)
        return here.solve_region(problem, *asked, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fill, "ROUNDS_BY_PASSES", 1)
        return planned(engine=Engine(kept, here.solve_strip)), problems


@pytest.fixture
def all_at_once(monkeypatch):
    """Hides are filled side by side in a small order too."""
    monkeypatch.setattr(fill, "ROUNDS_BY_PASSES", 1)


def test_problems_are_sent_whole_and_small(alone):
    """A problem that comes out of its pickle is the same: levels, and grounds shared as before; some ten kB."""
    leveled = [one for one in alone[1] if one.level is not None]
    assert leveled
    for problem in leveled:
        data = pickle.dumps(problem)
        back = pickle.loads(data)
        assert len(data) < 50_000
        poses = [Pose(float(x), float(y), 0.0) for x in range(0, 900, 90) for y in range(0, 600, 60)]
        for kind in range(len(problem.kinds)):
            assert [back.level(kind, pose) for pose in poses] == [problem.level(kind, pose) for pose in poses]
        shared = [[one is other for other in problem.grounds] for one in problem.grounds]
        assert [[one is other for other in back.grounds] for one in back.grounds] == shared


def test_a_plan_by_passes_is_the_same_with_two_workers_and_with_none(workers, alone, all_at_once):
    """What workers do depends on the question alone, and both had some of it to do."""
    before = done_by(workers)
    assert planned(engine=engine_of(workers)) == alone[0]
    assert all(n > before[worker] for worker, n in done_by(workers).items())


def done_by(client) -> dict[str, int]:
    """How many searches each worker has done for which engine was made."""
    return client.run(lambda: task._engine.cache_info().hits + task._engine.cache_info().misses)


def test_a_worker_killed_in_the_middle_loses_no_hide(workers, alone, all_at_once):
    """Its hide is searched again by another: the plan is that of an undisturbed run, and right."""
    pids, killed = workers.run(os.getpid), []

    def kill_a_busy_one() -> None:
        end = time.monotonic() + 30.0
        while not killed and time.monotonic() < end:
            for address, tasks in workers.processing().items():
                if tasks and address in pids:
                    os.kill(pids[address], signal.SIGKILL)
                    killed.append(address)
                    return
            time.sleep(0.005)

    killer = threading.Thread(target=kill_a_busy_one)
    killer.start()
    said = []
    found = planned(engine=engine_of(workers, said.append))
    killer.join()
    assert killed and not said
    assert found == alone[0]


def test_ctrl_c_stops_searches_on_workers_and_keeps_what_they_found(workers, all_at_once):
    """A minute's search that is stopped as soon as it runs on a worker ends at once, with pieces, and right."""
    pressed = []

    def cancelled() -> bool:
        if not pressed and any(workers.processing().values()):
            time.sleep(1.0)
            pressed.append(time.monotonic())
        return bool(pressed)

    plan = make_plan(asked(), seconds=60.0, seed=SEED, engine=engine_of(workers), cancelled=cancelled)
    assert time.monotonic() - pressed[0] < 5.0
    assert sum(len(layout.placed) for layout in plan.layouts) > 0
    assert verify(plan).ok
    assert not any(workers.processing().values())


def test_workers_pay_no_heed_to_ctrl_c_and_have_a_share_of_the_cores(workers, monkeypatch):
    """A terminal sends an interrupt to all its processes; and two workers on two cores run one search each."""
    assert set(workers.run(signal.getsignal, signal.SIGINT).values()) == {signal.SIG_IGN}
    from geometry.processors import processor_cores

    monkeypatch.delenv("VAMPYIELD_CORES", raising=False)
    assert set(workers.run(processor_cores).values()) == {max(1, processor_cores() // 2)}


def test_a_lost_cluster_costs_no_hide(alone, all_at_once):
    """Hides are searched here, and that is said once."""

    class Lost:
        """A client without a scheduler."""

        def nthreads(self):
            raise OSError

        submit = nthreads

    said = []
    assert planned(engine=engine_of(Lost(), said.append)) == alone[0]
    assert len(said) == 1 and "searched here" in said[0]


def test_a_stranger_cannot_join(workers):
    """Neither without TLS nor with a certificate of his own."""
    address = workers.scheduler.address
    assert address.startswith("tls://127.0.0.1:")
    strangers = [(address, distributed.Security.temporary()), (address.replace("tls:", "tcp:"), None)]
    for at, security in strangers:
        with pytest.raises(OSError):
            distributed.Client(at, security=security, timeout=2.0)


def test_no_port_answers_a_stranger(workers):
    """Every port of every process asks for a certificate of ours, or is a page server without pages; on loopback."""
    mine = psutil.Process()
    ports = [
        connection.laddr for process in (mine, *mine.children(recursive=True))
        for connection in process.net_connections() if connection.status == psutil.CONN_LISTEN
    ]
    assert len(ports) >= 5  # the scheduler, and two workers with their keepers
    assert {at.ip for at in ports} == {"127.0.0.1"}
    arguments = distributed.Security.temporary().get_connection_args("client")
    context = arguments["ssl_context"]
    context.verify_mode = ssl.CERT_NONE
    for at in ports:
        assert b"404" in answer(at.port, None) or answer(at.port, context) == b""


def answer(port: int, context) -> bytes:
    """What a port answers to a question for its health, through TLS with a `context`; nothing if it hangs up."""
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=2.0) as plain:
            stream = plain if context is None else context.wrap_socket(plain)
            stream.sendall(b"GET /health HTTP/1.0\r\n\r\n")
            return stream.recv(1000)
    except (OSError, ssl.SSLError) as error:
        assert not isinstance(error, TimeoutError)
        return b""
