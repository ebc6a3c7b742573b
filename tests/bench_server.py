"""The bench as a process of its own."""

import re
import signal
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit


class Server:
    """`solidcopy web` in a process of its own.

    Args:
        more: options of the command.
        program: what Python runs.
    """

    def __init__(
        self,
        folder: Path,
        port: int = 0,
        *more: str,
        program: tuple[str, ...] = ("-m", "solidcopy"),
    ) -> None:
        self.process = subprocess.Popen(
            [sys.executable, *program, "web", str(folder), "--port", str(port), *more],
            stdout=subprocess.PIPE,
            text=True,
        )
        self.said = self.process.stdout.readline()
        self.url = re.search(r"http://\S+/", self.said)[0]

    @property
    def port(self) -> int:
        return urlsplit(self.url).port

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()
