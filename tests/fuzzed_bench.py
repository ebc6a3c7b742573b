"""A populated bench inside this process, whose requests start no process but are heard."""

import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from solidcopy.actions.run import RunOptions, run_campaign
from solidcopy.actions.workspace import Workspace
from solidcopy.signals.audio_file import write_audio

CAMPAIGN, PLAN, RECORDING = "harbour", "pump", "pump.wav"
TEXT = """
title = "Harbour"
mode = "ft8"
root_seed = 3
axis = { start = -22, stop = -18, step = 4 }
stop = { trials_per_point = 2, nothing_sent = 1 }

[[conditions]]
name = "quiet band"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[receivers]]
kind = "builtin"
effort = "belief-propagation"
"""


def populated(folder: Path, text: str = TEXT) -> Workspace:
    """A finished campaign of a few trials with its plan, a plan not begun, a recording."""
    space = Workspace.at(folder)
    for name in (CAMPAIGN, PLAN):
        (folder / f"{name}.toml").write_text(text)
    for _ in run_campaign(folder / f"{CAMPAIGN}.toml", RunOptions(n_workers=1)):
        pass
    hiss = np.random.default_rng(1).normal(scale=0.05, size=12_000 * 16)
    write_audio(folder / "recordings" / RECORDING, hiss, sample_rate_hz=12_000, subtype="PCM_16")
    return space


def finished_look(client) -> str:
    """Key of a look at the recording, worked out by its real process."""
    asked = {"kind": "health", "recording": RECORDING}
    end_s = time.monotonic() + 60.0
    while (look := client.post("/api/looks", json=asked).json())["state"] != "done":
        assert time.monotonic() < end_s and look["state"] in ("working", "waiting"), look
        time.sleep(0.2)
    return look["key"]


STRANGE = (
    *("5", "-1", "nan", "1e300", "true", "[]", "{}", '"axis"', '"\\u0000"', "1979-05-27"),
    *("9" * 5000, "[" * 3000 + "]" * 3000, '"../../x.wav"', '[{ kind = "recording" }]'),
)
"""Values in place of a plan's own."""


def strange_text(draw: int) -> str:
    """The plan with one value changed."""
    lines = TEXT.strip().splitlines()
    places = [place for place, line in enumerate(lines) if " = " in line]
    place = places[draw % len(places)]
    field = lines[place].partition(" = ")[0]
    lines[place] = f"{field} = {STRANGE[draw // 64 % len(STRANGE)]}"
    return "\n".join(lines)


class HeardProcesses:
    """In place of `subprocess.Popen`: notes what would be started, and starts what does nothing.

    The border of the process is the only thing that is stood in for; what a started process would
    do has tests of its own (tests/browser, tests/processes).
    """

    def __init__(self, folder: Path) -> None:
        self._popen = subprocess.Popen
        self._folder = folder
        self.words: list[list[str]] = []

    def __call__(self, words, **more):
        self.words.append([str(word) for word in words])
        return self._popen([sys.executable, "-c", "pass"], **more)

    def foreign(self) -> list[list[str]]:
        """What is no command of ours on a file in the folder."""
        ours = [sys.executable, "-m"]
        return [words for words in self.words if words[:2] != ours or not self._is_here(words)]

    def _is_here(self, words: list[str]) -> bool:
        paths = [Path(word) for word in words[3:] if "/" in word]
        return words[2].startswith("solidcopy") and all(
            self._folder in path.resolve().parents for path in paths
        )
