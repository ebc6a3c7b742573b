"""A Dask scheduler and workers as a person starts them: by the engine's own commands."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

DASK_COMMAND = Path(sys.executable).with_name("dask")
PAGE = Path(__file__).parents[2] / "docs" / "howto" / "use-several-machines.md"
START_S = 60.0


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def make_certificates(folder: Path) -> Path:
    """An authority and a certificate signed by it, by the very commands of the page."""
    folder.mkdir(parents=True)
    commands = PAGE.read_text(encoding="utf-8").partition("```sh\n")[2].partition("```")[0]
    done = subprocess.run(
        ["sh", "-euc", commands], cwd=folder, check=True, capture_output=True, text=True
    )
    assert done.stdout.endswith("cert.pem: OK\n")
    return folder


@dataclass(slots=True)
class ClusterProcesses:
    """A scheduler and its workers, each a process group of its own."""

    folder: Path
    tls: Path | None = None
    """Folder of certificates."""
    inside: Sequence[str] = ()
    """Command in front of the scheduler's, e.g. to enter a network namespace."""
    host: str = "127.0.0.1"
    port: int = field(default_factory=free_port)
    scheduler: "subprocess.Popen[bytes] | None" = None
    workers: "list[subprocess.Popen[bytes]]" = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"{'tcp' if self.tls is None else 'tls'}://{self.host}:{self.port}"

    def start_scheduler(self) -> None:
        more = ["--host", self.host, "--port", str(self.port), "--dashboard-address", ":0"]
        self.scheduler = self._start("scheduler", [*more, *self._tls_options()], self.inside)

    def start_worker(
        self,
        name: str,
        *,
        more: Sequence[str] = (),
        inside: Sequence[str] = (),
        environment: dict[str, str] | None = None,
    ) -> "subprocess.Popen[bytes]":
        """One worker process below a nanny that starts it again if it dies."""
        options = ["--nworkers", "1", "--nthreads", "1", "--name", name, "--no-dashboard"]
        arguments = [self.address, *options, *more, *self._tls_options()]
        process = self._start("worker", arguments, inside, environment)
        self.workers.append(process)
        return process

    def end(self) -> None:
        for process in [*self.workers, *([self.scheduler] if self.scheduler else [])]:
            end_group(process)

    def _tls_options(self) -> list[str]:
        if self.tls is None:
            return []
        names = {"ca": "ca.pem", "cert": "cert.pem", "key": "key.pem"}
        asked = [
            [f"--tls-{what}{'-file' * (what == 'ca')}", str(self.tls / name)]
            for what, name in names.items()
        ]
        return [part for option in asked for part in option]

    def _start(
        self,
        what: str,
        arguments: Sequence[str],
        inside: Sequence[str],
        environment: dict[str, str] | None = None,
    ) -> "subprocess.Popen[bytes]":
        number = len(list(self.folder.glob("*.log")))
        with (self.folder / f"{number}-{what}.log").open("wb") as log:
            return subprocess.Popen(
                [*inside, str(DASK_COMMAND), what, *arguments],
                cwd=self.folder,
                stdout=log,
                stderr=log,
                stdin=subprocess.DEVNULL,
                env={**os.environ, **(environment or {})},
                start_new_session=True,
            )

    def await_log(self, text: str, n_times: int = 1) -> None:
        """Return when the logs together say something so often."""
        deadline = time.monotonic() + START_S
        while sum(log.read_text().count(text) for log in self.folder.glob("*.log")) < n_times:
            assert time.monotonic() < deadline, f"never said: {text}"
            time.sleep(0.1)


def end_group(process: "subprocess.Popen[bytes]") -> None:
    """End a process and all it started."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
