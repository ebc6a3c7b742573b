"""A crew of workers on other machines, behind a scheduler that runs already."""

import asyncio
import re
import ssl
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from distributed import Client, Security, rpc
from tornado.iostream import StreamClosedError

from solidcopy.campaigns.admission import Admission
from solidcopy.campaigns.crew import Crew, DaskCrew
from solidcopy.campaigns.local_workers import CLOSE_S
from solidcopy.campaigns.quiet import quiet_engine
from solidcopy.campaigns.reference import Reference
from solidcopy.campaigns.roster import FROZEN_S, Roster
from solidcopy.errors import WorkersError

ANSWER_S = 30.0
"""For the scheduler to answer; also to come back, if the connection breaks."""
PATIENCE_S = 60.0
"""For a first worker to come, or another one when none is left."""
ADDRESS = re.compile(r"(tcp|tls)://[^/\s]+:\d{1,5}")


@dataclass(frozen=True, slots=True)
class TlsFiles:
    """Certificates, as PEM files, by which both ends of a connection know one another.

    Args:
        ca: of the authority that signed everybody's certificate.
        cert: our own certificate.
        key: its private key.
    """

    ca: Path
    cert: Path
    key: Path

    def security(self) -> Security:
        """For the engine. Raises WorkersError if a file is not a certificate or key."""
        try:
            context = ssl.create_default_context(cafile=self.ca)
            context.load_cert_chain(self.cert, self.key)
        except OSError as error:  # what OpenSSL complains of is one, too
            raise WorkersError(
                f"the certificates {self.ca}, {self.cert} and {self.key} cannot be used "
                f"({error.strerror or error}); give PEM files of an authority, of a certificate "
                "that it signed, and of that certificate's key"
            ) from None
        return Security(
            require_encryption=True,
            tls_ca_file=str(self.ca),
            tls_client_cert=str(self.cert),
            tls_client_key=str(self.key),
        )


@dataclass(frozen=True, slots=True)
class Cluster:
    """Where the workers are.

    Args:
        address: "tcp://host:port" or "tls://host:port" of the scheduler.
        tls: certificates; None: those that the engine's own configuration names, if any.
        patience_s: how long to wait for workers before the run ends.
        frozen_s: a worker without a sign of life for so long gets no work.
    Raises: WorkersError for an address that is none, or certificates without tls.
    """

    address: str
    tls: TlsFiles | None = None
    patience_s: float = PATIENCE_S
    frozen_s: float = FROZEN_S

    def __post_init__(self) -> None:
        if not ADDRESS.fullmatch(self.address):
            raise WorkersError(
                f"scheduler {self.address!r}: give its address as tcp://HOST:PORT or "
                "tls://HOST:PORT, as `dask scheduler` prints it"
            )
        if self.tls is not None and not self.address.startswith("tls:"):
            raise WorkersError(
                f"scheduler {self.address}: certificates need an address that begins with tls://"
            )
        if self.patience_s <= 0:
            raise WorkersError(f"wait for workers longer than {self.patience_s:g} s")


@contextmanager
def remote_crew(
    cluster: Cluster, reference: Reference, *, answer_s: float = ANSWER_S
) -> Iterator[Crew]:
    """Workers of a scheduler that runs already; they need this very program.

    Args:
        cluster: where they are.
        reference: trials that each of them makes first; its plan is the one they will work on.
        answer_s: how long to wait for the scheduler.
    Raises: WorkersError if nobody answers there, no worker comes, or one is unlike this program;
        AudioFileError if a recording of the plan has gone.
    """
    with ExitStack() as stack:
        stack.enter_context(quiet_engine())
        client = _connected(cluster, answer_s)
        stack.callback(client.close, timeout=CLOSE_S)
        roster = Roster(client, Admission(client, reference), frozen_s=cluster.frozen_s)
        crew = DaskCrew(client, roster, patience_s=cluster.patience_s)
        crew.await_one()
        yield crew


def _connected(cluster: Cluster, answer_s: float) -> Client:
    """Ask the scheduler who it is first: a client that cannot connect would not end by itself."""
    security = Security() if cluster.tls is None else cluster.tls.security()
    try:
        asyncio.run(_answered(cluster.address, security, answer_s))
    # The engine raises each of these for one of the ways in which a connection can fail.
    except (OSError, ValueError, TypeError, RuntimeError) as error:
        raise WorkersError(f"scheduler {cluster.address}: {_why(cluster, error)}") from None
    return Client(cluster.address, timeout=answer_s, set_as_default=False, security=security)


async def _answered(address: str, security: Security, answer_s: float) -> None:
    how = security.get_connection_args("client")
    async with rpc(address, connection_args=how, timeout=answer_s) as scheduler:
        await asyncio.wait_for(scheduler.identity(n_workers=0), answer_s)


def _why(cluster: Cluster, error: Exception) -> str:
    chain = list(_causes(error))
    if cluster.address.startswith("tls:"):
        said = _why_not_tls(chain)
    elif isinstance(error, RuntimeError):
        said = f"the engine's configuration asks for tls ({error}); use a tls:// address"
    elif any(isinstance(cause, ConnectionResetError) for cause in chain):
        said = (
            "took the connection and closed it; if it was started with certificates, use its "
            "tls:// address and give them"
        )
    else:
        said = None
    reason = next((str(cause) for cause in reversed(chain) if str(cause)), "no reason given")
    return said or (
        f"does not answer ({reason}); start it with `dask scheduler`, see that nothing stands "
        "between (firewall, cable), or leave the address out to work on this machine"
    )


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    """An error, what caused it, and so on."""
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__


def _why_not_tls(chain: list[BaseException]) -> str | None:
    """None if it is not about certificates."""

    def has(*kinds: type[BaseException]) -> bool:
        return any(isinstance(cause, kinds) for cause in chain)

    if has(TypeError):
        return (
            "tls needs certificates: give --tls-ca, --tls-cert and --tls-key, or name them in the "
            "engine's configuration file"
        )
    if has(ssl.SSLCertVerificationError):
        return (
            "its certificate is not signed by the authority that was given; give the one with "
            "which the scheduler was started"
        )
    if has(ssl.SSLEOFError, ConnectionResetError) or (
        has(StreamClosedError) and not has(ConnectionRefusedError)
    ):
        return (
            "took the connection and closed it: it does not know the authority that signed our "
            "certificate; use one that is signed by the scheduler's authority"
        )
    if has(ssl.SSLError, ValueError):
        return "does not speak tls; if it was started without certificates, use its tcp:// address"
    return None
