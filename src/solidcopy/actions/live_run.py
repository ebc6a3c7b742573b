"""A campaign played to a station by a process of its own, for the bench in the browser."""

import json
import subprocess
import sys
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from solidcopy.actions.background_run import RUN_LOG, begin, last_words
from solidcopy.actions.folder import folder_of
from solidcopy.actions.live_order import stations_of
from solidcopy.actions.live_wishes import Wishes
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal.lock import holder
from solidcopy.errors import DeviceError, PlanError
from solidcopy.soundcard.card import Card
from solidcopy.trials.live_setup import LiveSetUp
from solidcopy.trials.plan import read_plan

Wish = Literal["pause", "go-on", "skip"]
SHOWN_SLOTS = 40
LIST_WITHIN_S = 20.0
ENDS = ("finished", "stopped")
"""Last words of a playing that ended by itself or was asked to."""


@dataclass(frozen=True, slots=True)
class LivePlan:
    """A plan of the bench that can be played."""

    name: str
    title: str
    stations: tuple[str, ...]
    """What listens, in the words of the plan."""
    output: str
    """Sound device by number or name; empty: the system's own."""
    every: int
    gain_db: float
    is_confirmed: bool
    """The output was confirmed as safe to play into."""


@dataclass(frozen=True, slots=True)
class LiveAsk:
    """How a page asks for a campaign to be played.

    Args:
        own_ear: sound input by number or name, for our own receiver; None: the station's log,
            which was named when the bench was started.
        is_confirmed: a person has confirmed the statement just now.
    """

    output: str
    every: int
    gain_db: float
    own_ear: str | None
    is_confirmed: bool


@dataclass(frozen=True, slots=True)
class LiveState:
    """How far a playing has come."""

    is_playing: bool
    is_paused: bool
    message: str
    n_done: int
    n_planned: int
    n_void: int
    now_sent: str | None
    """The text on its way."""
    now_utc: str | None
    """Start of its slot."""
    slots: tuple[dict[str, Any], ...]
    """The newest that were judged, the latest first."""


def live_plans(space: Workspace) -> list[LivePlan]:
    """All plans of the bench with a station that listens."""
    return [found for name in space.plans() if (found := _live_plan(space, name)) is not None]


def _live_plan(space: Workspace, name: str) -> LivePlan | None:
    try:
        plan = read_plan(space.existing_plan(name))
    except PlanError:
        return None
    stations = stations_of(plan)
    if not stations:
        return None
    set_up = plan.live or LiveSetUp()
    return LivePlan(
        name,
        plan.title or name,
        tuple(f"{one.name}: {one.listener}" for one in stations.values()),
        set_up.output,
        set_up.every,
        set_up.gain_db,
        set_up.is_confirmed,
    )


def start_play(space: Workspace, name: str, asked: LiveAsk) -> None:
    """Begin, or go on.

    Raises: PlanError without an ear or where the output was not confirmed; JournalError if it is
        being carried out already, or with what it said if it failed at once.
    """
    plan = space.existing_plan(name)
    words = ["play", str(plan), "--json", f"--every={asked.every}", f"--gain-db={asked.gain_db}"]
    words.append(f"--output={asked.output}")
    if asked.own_ear is not None:
        words.append(f"--own-ear={asked.own_ear}")
    elif space.station_log is not None:
        words += ["--log", str(space.station_log)]
    else:
        raise PlanError(
            "there is no station's log: start the bench with `solidcopy web --station-log FILE`, "
            "or let our own receiver listen"
        )
    if asked.is_confirmed:
        words.append("--safe-path")
    begin(folder_of(plan), words)


def wish(space: Workspace, name: str, wanted: Wish) -> None:
    """Pause, go on, or skip the slot on its way. Raises NotThereError without a campaign."""
    wishes = Wishes(space.campaign(name))
    {"pause": wishes.pause, "go-on": wishes.go_on, "skip": wishes.skip}[wanted]()


def live_state(space: Workspace, name: str) -> LiveState:
    """How far it has come, by what the process says and the journal's lock."""
    folder = folder_of(space.existing_plan(name))
    newest: deque[dict[str, Any]] = deque(maxlen=SHOWN_SLOTS)
    last: dict[str, Any] = {}
    for last in _steps(folder / RUN_LOG):
        newest.extend(last["slots"])
    is_playing = holder(folder) is not None
    message = str(last.get("message", ""))
    if not is_playing and message not in ENDS:
        said = last_words(folder)
        message = "was ended in mid-slot; what was judged is kept" if said[:1] == "{" else said
    return LiveState(
        is_playing=is_playing,
        is_paused=is_playing and Wishes(folder).is_paused,
        message=message,
        n_done=last.get("n_done", 0),
        n_planned=last.get("n_planned", 0),
        n_void=last.get("n_void", 0),
        now_sent=last.get("now_sent") if is_playing else None,
        now_utc=last.get("now_utc") if is_playing else None,
        slots=tuple(sorted(newest, key=lambda slot: str(slot["utc"]), reverse=True)),
    )


def _steps(log: Path) -> Iterator[dict[str, Any]]:
    """Steps that a playing has told; other commands say other things into the same file."""
    try:
        text = log.read_text("utf-8", errors="replace")
    except FileNotFoundError:
        return
    for line in text.splitlines():
        if line.startswith('{"message"'):
            try:
                yield json.loads(line)
            except ValueError:
                return  # half written


def sound_cards() -> list[Card]:
    """The sound devices as they are now. Raises DeviceError.

    By a process of its own: the sound library finds devices once, when it is loaded.
    """
    words = [sys.executable, "-m", "solidcopy", "cards", "--json"]
    try:
        asked = subprocess.run(
            words, capture_output=True, text=True, timeout=LIST_WITHIN_S, check=False
        )
        found = json.loads(asked.stdout) if asked.returncode == 0 else None
    except subprocess.TimeoutExpired:
        raise DeviceError(f"no sound device answered within {LIST_WITHIN_S:g} s") from None
    except ValueError:  # it ended before it had said a word
        found = None
    if found is None:
        raise DeviceError(asked.stderr.strip().removeprefix("solidcopy: ") or "no sound device")
    return [Card(**card) for card in found]
