"""Serve a desk, on the loopback address or with TLS and a password on another, until it is stopped."""

import secrets
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn

from nest.desk.app import Writers, application
from nest.desk.guard import LEAST_PASSWORD, Guard
from nest.desk.session import Desk
from nest.edits import EditProblem
from nest.plan import Plan

LOOPBACK = "127.0.0.1"

HTTPS = 443
"""Browsers leave this port out of the address."""

_EVERYWHERE = ("", "0.0.0.0", "::", "*")


@dataclass(frozen=True, slots=True)
class Listening:
    """Where the desk is heard beyond this machine: an address, a PEM file with certificate and key, a password."""

    address: str
    certificate: Path
    password: str


def serve(
    plan: Plan, folder: Path, writers: Writers, ready: Callable[[str], None], port: int = 0,
    listening: Listening | None = None,
) -> None:
    """Serve the plan in a folder; `ready` gets the address, with its key, once the desk answers.

    port : 0 for any that is free. listening : on another address than the loopback.

    Raises
    ------
    EditProblem
        If the journal in the folder is another plan's or open elsewhere, the address or port cannot be used, or the
        certificate or the password is none.
    """
    if listening is not None:
        _check(listening)
    address = LOOPBACK if listening is None else listening.address
    desk = Desk(plan, folder)
    try:
        with _bound(address, port) as bound:
            here = bound.getsockname()[1]
            names = (LOOPBACK, "localhost") if listening is None else (_in_address(address),)
            token = secrets.token_urlsafe(24)
            guarded = Guard(
                application(desk, writers), token,
                frozenset(f"{name}:{here}".lower() for name in names) | (set(names) if here == HTTPS else set()),
                "" if listening is None else listening.password,
            )
            secure: dict[str, Any] = {} if listening is None else {"ssl_certfile": str(listening.certificate)}
            config = uvicorn.Config(
                guarded, log_level="warning", access_log=False, server_header=False, timeout_keep_alive=30,
                timeout_graceful_shutdown=2, h11_max_incomplete_event_size=65_536, limit_concurrency=64, lifespan="off",
                **secure,
            )
            url = f"http://{LOOPBACK}:{here}/?key={token}" if listening is None else f"https://{names[0]}:{here}/"
            server = _Server(config, lambda: ready(url), desk.let_go)
            server.run([bound])
    finally:
        desk.close()


def _bound(address: str, port: int) -> socket.socket:
    """A socket on an address of this machine."""
    try:
        family, kind, _, _, where = socket.getaddrinfo(address, port, type=socket.SOCK_STREAM)[0]
        bound = socket.socket(family, kind)
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind(where)
    except (OSError, OverflowError, UnicodeError) as error:
        raise EditProblem(
            f"port {port} of {address} cannot be used ({error}); choose another with --port, or an address of this "
            "machine."
        ) from error
    return bound


def _in_address(address: str) -> str:
    """An address as it stands before a port (RFC 3986, section 3.2.2)."""
    return f"[{address}]" if ":" in address else address


def _check(listening: Listening) -> None:
    """EditProblem if a desk may not be heard so."""
    if len(listening.password) < LEAST_PASSWORD:
        raise EditProblem(f"a desk on the network needs a password of at least {LEAST_PASSWORD} characters.")
    if listening.address in _EVERYWHERE:
        raise EditProblem("name one address of this machine, not all of them: the page is held to it.")
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(listening.certificate, password="")
    except (OSError, ValueError) as error:  # ssl.SSLError is an OSError
        raise EditProblem(
            f"{listening.certificate}: expected a certificate and its key without a passphrase in one PEM file "
            f"({error}); see vampyield guide edit."
        ) from error


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
