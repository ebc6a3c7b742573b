"""A user's callable behind a process border: what it hears, may return, and cannot break."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from solidcopy.errors import PlanError
from solidcopy.receivers.python_receiver import PythonReceiver, PythonSettings
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.signals.waveform import Waveform

pytestmark = pytest.mark.derived

RECEIVERS = """
import ctypes, os, signal, subprocess, sys, time
import numpy as np
from solidcopy.receivers.receiver import Decode

calls = 0

def texts(samples, sample_rate_hz):
    return ["Q1ABC", "Q2DEF"]

def figures(samples, sample_rate_hz):
    print("noise on the standard output")
    print("and on the other", file=sys.stderr)
    samples *= 2.0
    power = float(np.mean(np.square(samples, dtype=np.float64)))
    heard = f"{samples.dtype} {samples.size} {sample_rate_hz}"
    return [{"text": heard, "audio_hz": np.float32(power)}]

def values(samples, sample_rate_hz):
    return (Decode("Q1ABC", 1500.0, 0.25, -18.0, n_corrected_bits=3),)

def counting(samples, sample_rate_hz):
    global calls
    calls += 1
    return [str(calls), str(os.getpid())]

def asking(samples, sample_rate_hz):
    return [input()]

def throwing(samples, sample_rate_hz):
    raise RuntimeError("no such luck")

def leaving(samples, sample_rate_hz):
    sys.exit(3)

def vanishing(samples, sample_rate_hz):
    os._exit(4)

def dying(samples, sample_rate_hz):
    ctypes.string_at(0)

def hanging(samples, sample_rate_hz):
    subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
    if samples[0] > 0:
        while True:
            pass
    return []

def stubborn(samples, sample_rate_hz):
    libc = ctypes.PyDLL(None)  # keeps the interpreter's lock while it sleeps
    libc.sleep(600)

def sometimes(samples, sample_rate_hz):
    if samples[0] > 0:
        os.kill(os.getpid(), signal.SIGKILL)
    return ["Q1ABC"]

def resting(samples, sample_rate_hz):
    time.sleep(0.3)
    return []

def working(samples, sample_rate_hz):
    end_s = time.process_time() + 0.3
    while time.process_time() < end_s:
        pass
    return []

def delegating(samples, sample_rate_hz):
    busy = "import time; any(time.process_time() > 0.3 for _ in iter(int, 1))"
    subprocess.run([sys.executable, "-c", busy], check=True)
    return []

def returning(samples, sample_rate_hz):
    return RETURNED[round(float(samples[0]) * 100)]

RETURNED = [
    None, "Q1ABC", {"text": "Q1ABC"}, [7], [{"audio_hz": 1.0}], [{"text": "Q1ABC", "snr": 1.0}],
    [{"text": "Q1ABC", "snr_db": float("nan")}], [{"text": "Q1ABC", "audio_hz": "1500"}],
]
not_callable = 5
"""
THROWS_AT = RECEIVERS[: RECEIVERS.index("raise RuntimeError")].count("\n") + 1


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("receivers")
    (folder / "my_receivers.py").write_text(RECEIVERS, encoding="utf-8")
    (folder / "my_broken.py").write_text("import no_such_library\n", encoding="utf-8")
    return folder


def built(folder: Path, name: str, **settings: Any) -> PythonReceiver:
    given = PythonSettings(name="mine", load=f"my_receivers:{name}", **settings)
    return PythonReceiver(given, (folder,))


def audio(first: float = 0.0, n_samples: int = 180_000) -> Waveform:
    samples = np.full(n_samples, 0.25, np.float32)
    samples[0] = first
    return Waveform(samples, 12_000)


def heard(folder: Path, name: str, waveform: Waveform | None = None, **settings: Any) -> Reception:
    receiver = built(folder, name, **settings)
    try:
        return receiver.receive(waveform or audio())
    finally:
        receiver.close()


def test_texts_dicts_and_decodes_are_taken(folder: Path) -> None:
    assert heard(folder, "texts").decodes == (Decode("Q1ABC"), Decode("Q2DEF"))
    assert heard(folder, "values").decodes == (Decode("Q1ABC", 1500.0, 0.25, -18.0),)
    (decode,) = heard(folder, "figures", audio(0.25)).decodes
    assert decode.text == "float32 180000 12000"
    assert decode.audio_hz == 0.25  # (2 x 0.25)^2: the samples arrive exactly, as a copy


def test_one_process_answers_all_calls(folder: Path) -> None:
    receiver = built(folder, "counting")
    try:
        first, second = (receiver.receive(audio()) for _ in range(2))
    finally:
        receiver.close()
    assert [first.decodes[0].text, second.decodes[0].text] == ["1", "2"]
    assert first.decodes[1] == second.decodes[1]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("throwing", f"my_receivers.py:{THROWS_AT} in throwing: RuntimeError: no such luck"),
        ("asking", "EOFError"),
        ("leaving", "the receiver's process ended with exit code 3"),
        ("vanishing", "the receiver's process ended with exit code 4"),
        ("dying", "the receiver's process was ended by SIGSEGV"),
    ],
)
def test_a_crash_is_a_failure_that_says_how(folder: Path, name: str, said: str) -> None:
    reception = heard(folder, name)
    assert reception.decodes == ()
    assert reception.failure is not None and said in reception.failure


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (0, "must return a list of decodes (an empty one if nothing was heard), not NoneType"),
        (1, "must return a list of decodes (an empty one if nothing was heard), not str"),
        (2, "must return a list of decodes (an empty one if nothing was heard), not dict"),
        (3, "a decode must be a text, a dict or a Decode, not int"),
        (4, "a decode needs its `text`"),
        (5, "unknown: snr"),
        (6, "`snr_db` must be finite"),
        (7, "`audio_hz` must be a number or None, not str"),
    ],
)
def test_a_wrong_answer_is_a_failure_that_says_what_is_allowed(
    folder: Path, place: int, said: str
) -> None:
    reception = heard(folder, "returning", audio(place / 100))
    assert reception.failure is not None and said in reception.failure


def test_after_a_crash_the_next_trial_is_answered(folder: Path) -> None:
    receiver = built(folder, "sometimes")
    try:
        answers = [receiver.receive(audio(first)) for first in (0.0, 1.0, 0.0)]
    finally:
        receiver.close()
    assert [reception.failure is None for reception in answers] == [True, False, True]
    assert "SIGKILL" in str(answers[1].failure)
    assert answers[2].decodes == (Decode("Q1ABC"),)


@pytest.mark.parametrize("name", ["hanging", "stubborn"])
def test_a_late_answer_is_a_failure(folder: Path, name: str) -> None:
    start = time.monotonic()
    reception = heard(folder, name, audio(1.0), time_limit_s=0.5)
    assert reception.failure == "no answer within 0.5 s"
    assert reception.elapsed_s >= 0.5
    assert time.monotonic() - start < 60.0  # ended long before the 600 s that it sleeps


def test_processor_time_is_work_done_whoever_does_it(folder: Path) -> None:
    resting = heard(folder, "resting")
    assert resting.elapsed_s >= 0.3
    assert resting.cpu_s is not None and resting.cpu_s < 0.1
    for name in ("working", "delegating"):
        # 0.3 s were asked for; starting an interpreter and the clocks' ticks add to it.
        cpu_s = heard(folder, name).cpu_s
        assert cpu_s is not None and 0.29 < cpu_s < 1.0, name


@pytest.mark.parametrize(
    ("load", "said"),
    [
        ("no_such_module:listen", "No module named 'no_such_module'"),
        ("my_receivers:no_such_name", "has no attribute 'no_such_name'"),
        ("my_receivers:not_callable", "is a int, not a callable"),
        ("my_broken:listen", "No module named 'no_such_library'"),
    ],
)
def test_a_callable_that_cannot_be_loaded_is_a_fault_of_the_plan(
    folder: Path, load: str, said: str
) -> None:
    with pytest.raises(PlanError, match="cannot be loaded") as caught:
        PythonReceiver(PythonSettings(name="mine", load=load), (folder,))
    assert said in str(caught.value)


def test_the_child_ends_when_its_parent_is_killed(folder: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; "
        "from solidcopy.receivers.python_receiver import PythonReceiver, PythonSettings; "
        "receiver = PythonReceiver(PythonSettings(name='m', load='my_receivers:texts'), "
        "(Path(sys.argv[1]),)); print(receiver._child._process.pid, flush=True); time.sleep(600)"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, folder], stdout=subprocess.PIPE, text=True
    ) as parent:
        assert parent.stdout is not None
        child = int(parent.stdout.readline())
        os.kill(child, 0)
        parent.send_signal(signal.SIGKILL)
    deadline = time.monotonic() + 60.0
    while is_running(child):
        assert time.monotonic() < deadline, "the child outlived its parent"
        time.sleep(0.05)


def is_running(pid: int) -> bool:
    """Neither gone nor only waiting to be collected."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"
