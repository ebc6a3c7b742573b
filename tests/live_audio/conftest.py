"""A sound server without hardware: what is played into its output can be recorded again.

Real audio through PortAudio; the output runs on the system's clock, so a drift must be simulated.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

OUTPUT, INPUT = "bench48", "bench48in"
ALSA = """
</usr/share/alsa/alsa.conf>
pcm.bench48 {{
  type pulse
  server "{socket}"
  device bench48
  hint {{
    show on
    description "bench play"
  }}
}}
pcm.bench48in {{
  type pulse
  server "{socket}"
  device bench48.monitor
  hint {{
    show on
    description "bench record"
  }}
}}
"""
STARTS_WITHIN_S = 10.0
AHEAD = ("nice", "-n", "-10")
"""Sound goes before other work, as on a desktop; where that is not allowed, it goes on all the
same."""


@dataclass(frozen=True, slots=True)
class SoundServer:
    """A running server and the environment in which a process hears it."""

    output: str
    """Name of the output for PortAudio."""
    source: str
    """Name of the input that hears that output."""
    environment: dict[str, str]
    pid: int

    def start(self, *words: str) -> subprocess.Popen:
        """A `solidcopy` command that hears this server."""
        return subprocess.Popen(
            [*AHEAD, sys.executable, "-m", "solidcopy", *words],
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.live_audio)


@pytest.fixture
def sound_server() -> Iterator[SoundServer]:
    """A server of its own for one test; ends with it."""
    with _running() as server:
        yield server


@pytest.fixture
def other_sound_server() -> Iterator[SoundServer]:
    """Another one beside it: what is played into one is not heard in the other."""
    with _running() as server:
        yield server


@contextmanager
def _running() -> Iterator[SoundServer]:
    if shutil.which("pulseaudio") is None:
        pytest.fail("no pulseaudio here: run setup/sound-server")
    # Sockets need short paths: not pytest's own folder.
    folder = Path(tempfile.mkdtemp(prefix="bench-"))
    run = folder / "pulse"
    run.mkdir(mode=0o700)
    socket = run / "native"
    (folder / "asound.conf").write_text(ALSA.format(socket=f"unix:{socket}"))
    environment = os.environ | {
        "HOME": str(folder),
        "XDG_RUNTIME_DIR": str(folder),
        "PULSE_RUNTIME_PATH": str(run),
        "PULSE_SERVER": f"unix:{socket}",
        "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
    }
    server = subprocess.Popen(_command(folder, socket), env=environment)
    try:
        _wait_for(socket, server)
        yield SoundServer(OUTPUT, INPUT, environment, server.pid)
    finally:
        server.terminate()
        try:
            server.wait(timeout=5.0)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
        shutil.rmtree(folder, ignore_errors=True)


def _command(folder: Path, socket: Path) -> list[str]:
    sink = "module-null-sink sink_name=bench48 rate=48000 channels=2 format=float32le"
    return [
        *AHEAD,
        "pulseaudio",
        "-n",
        "--daemonize=no",
        "--exit-idle-time=-1",
        "--disable-shm=yes",
        "--use-pid-file=no",
        f"--log-target=file:{folder / 'pulse.log'}",
        "-L",
        sink,
        "-L",
        f"module-native-protocol-unix auth-anonymous=1 socket={socket}",
    ]


def _wait_for(socket: Path, server: subprocess.Popen) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while not socket.exists():
        if server.poll() is not None or time.monotonic() > until:
            pytest.fail(f"the sound server did not start (exit code {server.poll()})")
        time.sleep(0.05)
