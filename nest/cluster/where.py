"""Where work is done: by worker processes of this machine, or by the workers of a scheduler."""

import re
from dataclasses import dataclass
from pathlib import Path

from nest.errors import PlanProblem

CA_FILE, CERTIFICATE_FILE, KEY_FILE = "ca.pem", "cert.pem", "key.pem"
"""What a folder of certificates holds: whom to trust, who we are, and the key that proves it."""

_ADDRESS = re.compile(r"(tcp|tls)://(\[[0-9A-Fa-f:.]+\]|[^\s:/\[\]]+):(\d{1,5})")


@dataclass(frozen=True, slots=True)
class Where:
    """The address of a running scheduler, or how many worker processes to start here; neither: in this process.

    certificates : folder with CA_FILE, CERTIFICATE_FILE and KEY_FILE, for an address that begins with tls://.

    Raises
    ------
    PlanProblem
        If the address is none, or the certificates are missing or serve no purpose.
    """

    scheduler: str | None = None
    local: int | None = None
    certificates: Path | None = None

    def __post_init__(self):
        if self.scheduler is not None and self.local is not None:
            raise PlanProblem("a scheduler and local workers exclude each other; leave one of them out")
        if self.scheduler is None:
            if self.certificates is not None:
                raise PlanProblem("certificates are for a scheduler at tls://...; leave them out, or give its address")
            return
        found = _ADDRESS.fullmatch(self.scheduler)
        if found is None or not 0 < int(found[3]) < 65536:
            raise PlanProblem(
                f"{self.scheduler!r} is not the address of a scheduler; write it like tls://10.0.0.5:8786"
            )
        if self.encrypted != (self.certificates is not None):
            raise PlanProblem(
                f"{self.scheduler} takes certificates: name the folder that holds them by --certificates"
                if self.encrypted else f"{self.scheduler} takes no certificates; write tls://, or leave them out"
            )
        for path in self.files:
            if not path.is_file():
                raise PlanProblem(
                    f"{path} is missing; a folder of certificates holds {CA_FILE}, {CERTIFICATE_FILE} and {KEY_FILE}"
                )

    @property
    def encrypted(self) -> bool:
        """Whether the scheduler is reached by TLS."""
        return self.scheduler is not None and self.scheduler.startswith("tls://")

    @property
    def files(self) -> tuple[Path, ...]:
        """The files of certificates: CA, certificate, key; none without a folder."""
        folder = self.certificates
        return () if folder is None else (folder / CA_FILE, folder / CERTIFICATE_FILE, folder / KEY_FILE)
