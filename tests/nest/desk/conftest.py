"""A desk that is served in a thread, and its page in Chromium; without that the tests that ask for it are skipped."""

import threading

import pytest
from edited_plans import two_hides


@pytest.fixture
def desk_plan():
    """The plan at the desk; a file of tests may have its own."""
    return two_hides()


@pytest.fixture
def desk_writers():
    """What writes files at the desk: here nothing; a file of tests may have the real ones."""
    from nest.desk.app import Writers

    return Writers(lambda plan, begun: {"folder": "out-desk-1", "words": "verified"}, lambda plan, hide, table: b"PK")


@pytest.fixture
def desk(tmp_path):
    """A desk on four pairs."""
    from nest.desk.session import Desk

    made = Desk(two_hides(), tmp_path)
    yield made
    made.close()


@pytest.fixture
def address(tmp_path, desk_plan, desk_writers):
    """A desk that is served in a thread until the test ends."""
    from nest.desk import serve as module
    from nest.desk.serve import serve

    told, ready, servers = [], threading.Event(), []

    class Kept(module._Server):
        """Remembers itself, so that it can be stopped."""

        def __init__(self, *words):
            super().__init__(*words)
            servers.append(self)

        def install_signal_handlers(self):
            """None in a thread."""

    def hear(url):
        told.append(url)
        ready.set()

    original, module._Server = module._Server, Kept
    thread = threading.Thread(target=serve, args=(desk_plan, tmp_path, desk_writers, hear), daemon=True)
    thread.start()
    assert ready.wait(30)
    module._Server = original
    yield told[0]
    servers[0].should_exit = True
    thread.join(30)


@pytest.fixture
def page(browser, address):
    """The desk's page; at the end there must have been no error and no request to anywhere else."""
    wrong = []
    made = browser.new_page(viewport={"width": 1440, "height": 900})
    made.set_default_timeout(120_000)  # as long as a starved machine takes
    made.on("pageerror", lambda error: wrong.append(str(error)))
    made.on("console", lambda message: wrong.append(message.text) if "favicon" not in str(message.location) else None)
    root = address.partition("/?")[0]
    made.on("request", lambda request: None if request.url.startswith((root, "data:")) else wrong.append(request.url))
    made.goto(address)
    made.wait_for_selector("body[data-ready]")
    yield made
    made.close()
    assert wrong == []
