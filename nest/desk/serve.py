"""Serve a desk on the loopback address, until it is stopped."""

import secrets
import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from nest.desk.app import Writers, application
from nest.desk.guard import Guard
from nest.desk.session import Desk
from nest.edits import EditProblem
from nest.plan import Plan

LOOPBACK = "127.0.0.1"


def serve(
    plan: Plan, folder: Path, writers: Writers, ready: Callable[[str], None], port: int = 0
) -> None:
    """Serve the plan in a folder; `ready` gets the address, with its key, once the desk answers.

    port : 0 for any that is free.

    Raises
    ------
    EditProblem
        If the journal in the folder is another plan's or open elsewhere, or the port is taken.
    """
    desk = Desk(plan, folder)
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                listening.bind((LOOPBACK, port))
            except (OSError, OverflowError) as error:
                raise EditProblem(f"port {port} cannot be used ({error}); choose another with --port.") from error
            here = listening.getsockname()[1]
            token = secrets.token_urlsafe(24)
            guarded = Guard(
                application(desk, writers), token,
                frozenset((f"{LOOPBACK}:{here}", f"localhost:{here}")),
            )
            config = uvicorn.Config(
                guarded, log_level="warning", access_log=False, server_header=False, timeout_keep_alive=30,
                timeout_graceful_shutdown=2, h11_max_incomplete_event_size=65_536, limit_concurrency=64, lifespan="off",
            )
            server = _Server(config, lambda: ready(f"http://{LOOPBACK}:{here}/?key={token}"), desk.let_go)
            server.run([listening])
    finally:
        desk.close()


class _Server(uvicorn.Server):
    """A server that says when it answers, and that sends its listeners home before it ends."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None], let_go: Callable[[], None]):
        super().__init__(config)
        self._ready, self._let_go = ready, let_go

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End; listeners would keep it waiting."""
        self._let_go()
        await super().shutdown(sockets)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to answer, and say so."""
        await super().startup(sockets)
        self._ready()
