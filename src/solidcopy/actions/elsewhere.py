"""Workers on other machines, as a person names them."""

from dataclasses import dataclass
from pathlib import Path

from solidcopy.campaigns.remote_crew import PATIENCE_S, Cluster, TlsFiles
from solidcopy.errors import WorkersError


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """What was said of a scheduler; nothing in here can alter an outcome.

    Args:
        scheduler: its address; None: the work is done on this machine.
        tls_ca, tls_cert, tls_key: PEM files; none, or all three.
        patience_s: how long to wait for workers; None: as usual.
    """

    scheduler: str | None = None
    tls_ca: Path | None = None
    tls_cert: Path | None = None
    tls_key: Path | None = None
    patience_s: float | None = None

    def cluster(self) -> Cluster | None:
        """Where the work is done; None on this machine. Raises WorkersError for half an answer."""
        files = (self.tls_ca, self.tls_cert, self.tls_key)
        given = [file for file in files if file is not None]
        if self.scheduler is None:
            if given:
                raise WorkersError(
                    "certificates are for workers on other machines: give --scheduler as well, or "
                    "leave them out"
                )
            return None
        if 0 < len(given) < len(files):
            raise WorkersError("give all three of --tls-ca, --tls-cert and --tls-key, or none")
        tls = TlsFiles(*given) if given else None
        patience_s = PATIENCE_S if self.patience_s is None else self.patience_s
        return Cluster(self.scheduler, tls, patience_s)
