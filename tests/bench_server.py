"""The bench as a process of its own."""

import re
import signal
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit


class Server:
    """`solidcopy web` in a process of its own."""

    def __init__(self, folder: Path, port: int = 0) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "solidcopy", "web", str(folder), "--port", str(port)],
            stdout=subprocess.PIPE,
            text=True,
        )
        said = self.process.stdout.readline()
        self.url = re.search(r"http://\S+/", said)[0]

    @property
    def port(self) -> int:
        return urlsplit(self.url).port

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()
