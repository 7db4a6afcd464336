"""A PostgreSQL cluster for tests: started in a temporary folder, by a user who is not root, and ended with them."""

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

_NUMBER = count(1)


class Address(str):
    """Address of a cluster; `server` is the number of its process."""

    server: int

    @contextmanager
    def no_file_beyond(self, size: int) -> Iterator[None]:
        """Let no file of the server grow beyond a size: a full disk, as far as a program can tell."""
        before = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        limited = [*before, "prlimit", "--pid", str(self.server)]
        subprocess.run([*limited, f"--fsize={size}:"], check=True)
        try:
            yield
        finally:
            subprocess.run([*limited, "--fsize=unlimited:"], check=True)


def programs() -> Path | None:
    """The folder of the newest server's programs; None where there is none, or nobody but root to run it."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    on_path = shutil.which("initdb")
    place = found[-1].parent if found else Path(on_path).parent if on_path else None
    if os.geteuid() == 0 and (shutil.which("runuser") is None or not _is_user("postgres")):
        return None
    return place


def _is_user(name: str) -> bool:
    return subprocess.run(["id", name], capture_output=True, check=False).returncode == 0


@contextmanager
def cluster() -> Iterator[str]:
    """Start a cluster, yield its address without the name of a database, and stop it."""
    # Not among the temporary folders of pytest, which are root's alone where root runs the tests.
    with tempfile.TemporaryDirectory(prefix="ledger-", ignore_cleanup_errors=True) as folder:
        yield from _running(Path(folder))


def _running(folder: Path) -> Iterator[str]:
    place = programs()
    data, root = folder / "data", os.geteuid() == 0
    if root:
        shutil.chown(folder, "postgres")

    def run(*words: str) -> None:
        before = ["runuser", "-u", "postgres", "--"] if root else []
        subprocess.run([*before, *words], check=True, stdout=subprocess.DEVNULL, cwd=folder)

    run(f"{place}/initdb", "-D", str(data), "-A", "trust", "-U", "tester", "--no-sync")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    # Durability is not what these tests can look at: nobody pulls the plug of the machine.
    settings = f"-c port={port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off"
    run(f"{place}/pg_ctl", "-D", str(data), "-w", "-l", str(folder / "log"), "-o", settings, "start")
    try:
        address = Address(f"postgresql://tester@127.0.0.1:{port}")
        address.server = int((data / "postmaster.pid").read_text().split()[0])
        yield address
    finally:
        run(f"{place}/pg_ctl", "-D", str(data), "-m", "immediate", "stop")


def new_database(address: str) -> str:
    """Room for a new ledger in a cluster: a schema of its own, for databases take long to make; returns its address."""
    import psycopg

    name = f"ledger{next(_NUMBER)}"
    with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {name}")
    return f"{address}/postgres?options=-csearch_path%3D{name}"
