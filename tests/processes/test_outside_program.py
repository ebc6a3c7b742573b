"""An outside program that behaves badly costs its own slot, and leaves nothing: no process, no
file, whoever is killed meanwhile.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.program.receiver import Hearing, ProgramReceiver
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.receiver import Decode
from solidcopy.signals.waveform import Waveform

pytestmark = [
    pytest.mark.derived,
    pytest.mark.skipif(sys.platform == "win32", reason="outside programs need Linux or macOS"),
]

HERE = Path(__file__).parent
GOOD = Decode("CQ Q1ABC FN42", 1500.0, 0.1, -12.0)
PATTERN = r"^copied (?P<text>[^;]+) ; (?P<audio_hz>\S+) ; (?P<time_offset_s>\S+) ; (?P<snr_db>\S+)$"
PATIENCE_S = 60.0


def settings_of(behaviour: str, *arguments: str, **changes: Any) -> ProgramSettings:
    command = ["{python}", "-S", "-E", "{plan_folder}/stub_program.py", behaviour, *arguments]
    return ProgramSettings.model_validate(
        {
            "name": "outside",
            "command": command,
            "answer": {"kind": "lines", "pattern": PATTERN},
            "corrections": {"snr_reference_hz": 2500.0},
            **changes,
        }
    )


@pytest.fixture
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where copies work; a folder of this test's own."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temporary"))
    (tmp_path / "temporary").mkdir()
    return tmp_path / "temporary"


def left_files(places: Path) -> list[str]:
    """What lies there besides lock files."""
    return [path.name for path in places.glob("solidcopy-*/*") if path.name.startswith("copy-")]


def audio(n_samples: int = 180_000) -> Waveform:
    time_s = np.arange(n_samples) / 12_000
    return Waveform((0.25 * np.sin(2 * np.pi * 1000 * time_s)).astype(np.float32), 12_000)


def heard(settings: ProgramSettings, waveform: Waveform | None = None) -> Hearing:
    receiver = ProgramReceiver(settings, mode_named("ft8"), (HERE,))
    try:
        return receiver.hear(waveform or audio())
    finally:
        receiver.close()


def is_running(pid: int) -> bool:
    """Neither gone nor only waiting to be collected."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def wait_until(is_so: Callable[[], bool], what: str) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < deadline, f"still not so: {what}"
        time.sleep(0.02)


def pids_in(file: Path) -> list[int]:
    return [int(line) for line in file.read_text("ascii").split()] if file.exists() else []


def test_a_good_answer_is_read_and_the_rest_is_told(places: Path) -> None:
    hearing = heard(settings_of("good"))
    assert hearing.reception.decodes == (GOOD,)
    assert hearing.reception.failure is None
    first = hearing.lines[0]
    assert (first.line, first.reason) == ("started", "does not fit")
    assert hearing.reception.cpu_s is not None and hearing.reception.cpu_s > 0.0
    assert left_files(places) == []


@pytest.mark.parametrize(
    ("behaviour", "changes", "said"),
    [
        ("crash", {}, "the program was ended by SIGABRT; it said: about to fall over in "
         "{working_folder}"),
        ("strange", {}, "the program ended with exit code 77; it said: copied CQ Q1ABC FN42 ; "
         "1500.0 ; 0.1 ; -12"),
        ("hang", {"time_limit_s": 1.5}, "no answer within 1.5 s; it said: still thinking"),
        ("multiply", {"time_limit_s": 1.5}, "no answer within 1.5 s"),
        ("flood", {"output_limit_bytes": 50_000}, "it wrote more than 50000 bytes; it said: "),
        ("flood_errors", {"output_limit_bytes": 50_000}, "it wrote more than 50000 bytes; it said"),
        ("greedy", {"memory_limit_mb": 200}, "it took more than 200 MB of memory"),
        ("greedy_family", {"memory_limit_mb": 120}, "it took more than 120 MB of memory"),
    ],
)  # fmt: skip
def test_a_failure_says_why_and_leaves_nothing(
    places: Path, tmp_path: Path, behaviour: str, changes: dict[str, Any], said: str
) -> None:
    pids_file = tmp_path / "pids"
    hearing = heard(settings_of(behaviour, environment={"PIDS_FILE": str(pids_file)}, **changes))
    assert hearing.reception.failure is not None
    assert hearing.reception.failure.startswith(said)
    assert len(hearing.reception.failure) <= 500
    assert hearing.reception.decodes == ()
    pids = pids_in(pids_file)
    assert len(pids) >= {"hang": 3, "multiply": 20, "greedy_family": 3}.get(behaviour, 1)
    assert [pid for pid in pids if is_running(pid)] == []
    assert left_files(places) == []


def test_an_answer_just_in_time_counts_and_a_late_one_does_not(places: Path) -> None:
    # The margin of 3 s is for starting the program on a busy machine.
    assert heard(settings_of("wait", "1.0", time_limit_s=4.0)).reception.decodes == (GOOD,)
    late = heard(settings_of("wait", "5.0", time_limit_s=1.0)).reception
    assert late.failure == "no answer within 1 s"
    assert 1.0 <= late.elapsed_s < 4.0


def test_garbage_is_ignored_line_by_line(places: Path) -> None:
    hearing = heard(settings_of("garbage"))
    assert hearing.reception.failure is None
    assert hearing.reception.decodes == (Decode("half", 1500.0, 0.1, -12.0), GOOD)
    assert hearing.lines[-1].line == "copied CQ Q1A"
    assert hearing.lines[-1].decode is None
    assert not any("\x1b" in line.line for line in hearing.lines)


def test_what_it_leaves_running_is_ended(places: Path, tmp_path: Path) -> None:
    pids_file = tmp_path / "pids"
    hearing = heard(settings_of("leave_child", environment={"PIDS_FILE": str(pids_file)}))
    assert hearing.reception.decodes == (GOOD,)
    assert hearing.ended is not None and hearing.ended.n_left_running == 1
    assert [pid for pid in pids_in(pids_file) if is_running(pid)] == []


def test_a_folder_that_forbids_its_removal_is_removed(places: Path) -> None:
    assert heard(settings_of("shut_folder")).reception.failure is None
    assert left_files(places) == []


def test_it_is_told_what_was_asked_and_no_more(places: Path, monkeypatch: Any) -> None:
    monkeypatch.setenv("SECRET_OF_THE_USER", "1")
    told = heard(
        settings_of(
            "tell", "{audio_file}", "{mode} {slot_s} {sample_rate_hz}",
            "{slot_time}|{slot_date}|{slot_clock}|{slot_unix_s}", "a;b $HOME {{x}}",
            audio={"file_name": "heard_{slot_date}_{slot_clock}.wav", "sample_rate_hz": 48_000},
            slot_time="2026-03-01T12:00:15Z", environment={"RATE": "{sample_rate_hz}"},
        )
    ).printed.splitlines()  # fmt: skip
    folder = told[4]
    assert told[:4] == [
        f"{folder}/heard_20260301_120015.wav",
        "ft8 15 48000",
        "2026-03-01T12:00:15Z|20260301|120015|1772366415",
        "a;b $HOME {x}",
    ]
    assert told[-1] == "heard_20260301_120015.wav"
    names = {line.partition("=")[0] for line in told[5:-1]} - {"LC_CTYPE"}
    assert names == {"HOME", "LANG", "LC_ALL", "PATH", "RATE", "SOLIDCOPY_COPY", "TMPDIR", "TZ"}
    assert f"HOME={folder}" in told and "RATE=48000" in told


def test_an_answer_file_is_read_and_bounded(places: Path) -> None:
    in_file = settings_of(
        "answer_in_file", "{audio_file}", "{answer_file}", answer_file="out_{slot_clock}.txt"
    )
    assert heard(in_file).reception.decodes == (GOOD,)
    missing = heard(settings_of("good", answer_file="out.txt")).reception.failure
    assert missing == "its answer file out.txt cannot be read (No such file or directory)"
    told = ("{audio_file}", "{answer_file}")
    limited = {"answer_file": "out.txt", "output_limit_bytes": 100_000, "time_limit_s": 20.0}
    link = heard(settings_of("answer_by_link", *told, **limited)).reception.failure
    assert link is not None and "cannot be read" in link
    flood = heard(settings_of("flood_file", *told, **limited)).reception.failure
    assert flood == "it wrote more than 100000 bytes"


def test_a_fresh_folder_forgets_and_a_kept_one_remembers(places: Path) -> None:
    texts = {}
    for folder in ("fresh", "kept"):
        receiver = ProgramReceiver(
            settings_of("count", working_folder=folder), mode_named("ft8"), (HERE,)
        )
        try:
            answers = [receiver.receive(audio()) for _ in range(3)]
        finally:
            receiver.close()
        texts[folder] = [answer.decodes[0].text for answer in answers]
    assert texts["fresh"] == ["call 1"] * 3
    assert texts["kept"] == ["call 1", "call 2", "call 3"]
    assert left_files(places) == []


def test_a_program_that_is_not_there_is_a_fault_of_the_plan() -> None:
    for command, said in (
        ("no-such-program-here", "no program 'no-such-program-here' on the PATH"),
        ("./no/such/program", "there is no program"),
        (str(HERE / "stub_program.py"), "may not be executed"),
        ("{audio_file}", "differs from slot to slot"),
    ):
        settings = settings_of("good").model_copy(update={"command": (command,)})
        with pytest.raises(PlanError, match=said):
            ProgramReceiver(settings, mode_named("ft8"), (HERE,))


def test_another_file_than_the_pinned_one_is_refused(tmp_path: Path) -> None:
    program = tmp_path / "decoder"
    program.write_text("#!/bin/sh\n", encoding="ascii")
    program.chmod(0o755)
    digest = "f1fbf8d4ef1e57ed80e3d5c2f1f2e9ca2a1e7b5df2a1d6bf1d5f1cc1c2a6f9a1"
    settings = settings_of("good").model_copy(
        update={"command": ("./decoder",), "program_sha256": digest}
    )
    with pytest.raises(PlanError, match="is not the file that program_sha256 tells of"):
        ProgramReceiver(settings, mode_named("ft8"), (tmp_path,))


@pytest.mark.parametrize(
    ("word_length", "step"), [("16-bit", 2**-15), ("24-bit", 2**-23), ("32-bit", 2**-31)]
)
def test_words_are_rounded_not_wrapped(tmp_path: Path, word_length: str, step: float) -> None:
    from solidcopy.receivers.program.settings import GivenAudio  # noqa: PLC0415
    from solidcopy.receivers.program.sound import write_sound  # noqa: PLC0415

    samples = np.concatenate(([1.0, -1.0], np.linspace(-0.7, 0.7, 998))).astype(np.float32)
    file = tmp_path / "sound.wav"
    given = GivenAudio.model_validate({"word_length": word_length, "channels": 2})
    write_sound(file, Waveform(samples, 12_000), given)
    read, rate = soundfile.read(file, dtype="float64")
    assert (rate, read.shape) == (12_000, (1000, 2))
    assert np.array_equal(read[:, 0], read[:, 1])
    assert read[0, 0] == 1.0 - step  # the largest word there is
    assert np.max(np.abs(read[1:, 0] - samples[1:].astype(np.float64))) <= step / 2


SCRIPT = """
import sys, tempfile
from pathlib import Path
import numpy as np
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.program.receiver import ProgramReceiver
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.signals.waveform import Waveform
tempfile.tempdir = sys.argv[1]
settings = ProgramSettings.model_validate_json(sys.argv[2])
receiver = ProgramReceiver(settings, mode_named("ft8"), (Path(sys.argv[3]),))
print(receiver.receive(Waveform(np.zeros(180_000, np.float32), 12_000)).failure, flush=True)
receiver.close()
"""


@pytest.fixture
def hanging(places: Path, tmp_path: Path) -> Iterator[tuple["subprocess.Popen[str]", list[int]]]:
    """A process whose receiver waits for a hanging program, and the program's three processes."""
    pids_file = tmp_path / "pids"
    settings = settings_of(
        "hang", environment={"PIDS_FILE": str(pids_file)}, time_limit_s=600.0, at_most_at_once=1
    )
    arguments = [str(places), settings.model_dump_json(), str(HERE)]
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT, *arguments], stdout=subprocess.PIPE, text=True
    ) as process:
        wait_until(lambda: len(pids_in(pids_file)) == 3, "the program has started its children")
        assert len(left_files(places)) == 1
        yield process, pids_in(pids_file)
        process.kill()


def parent_of(pid: int) -> int:
    return int(Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()[1])


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of other processes")
def test_a_killed_worker_leaves_nothing(
    places: Path, hanging: tuple["subprocess.Popen[str]", list[int]]
) -> None:
    process, pids = hanging
    guardian = parent_of(pids[0])
    process.send_signal(signal.SIGKILL)
    wait_until(lambda: not any(map(is_running, [*pids, guardian])), "all have ended")
    assert left_files(places) == []


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of other processes")
def test_a_killed_guardian_is_a_failure_and_leaves_nothing(
    places: Path, hanging: tuple["subprocess.Popen[str]", list[int]]
) -> None:
    process, pids = hanging
    os.kill(parent_of(pids[0]), signal.SIGKILL)
    output, _ = process.communicate(timeout=PATIENCE_S)
    assert output.strip() == "the process that watches the program was ended by SIGKILL"
    wait_until(lambda: not any(map(is_running, pids)), "all have ended")
    assert left_files(places) == []


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of other processes")
def test_what_two_killed_ones_left_is_cleared_by_the_next(
    places: Path, hanging: tuple["subprocess.Popen[str]", list[int]]
) -> None:
    process, pids = hanging
    guardian = parent_of(pids[0])
    os.kill(process.pid, signal.SIGSTOP)  # so that it can not act on the guardian's end
    os.kill(guardian, signal.SIGKILL)
    process.send_signal(signal.SIGKILL)
    process.wait()
    wait_until(lambda: not is_running(pids[0]), "the program has ended with its guardian")
    assert heard(settings_of("good")).reception.decodes == (GOOD,)
    wait_until(lambda: not any(map(is_running, pids)), "all have ended")
    assert left_files(places) == []


def test_copies_wait_for_their_turn(places: Path, tmp_path: Path) -> None:
    """Two workers, one copy at once: the second starts after the first has ended."""
    settings = settings_of("wait", "0.5", at_most_at_once=1, time_limit_s=30.0)
    arguments = [str(places), settings.model_dump_json(), str(HERE)]
    script = SCRIPT.replace("print(", "import time; print(time.monotonic(), ").replace(
        "flush=True)", "time.monotonic(), flush=True)"
    )
    both = [
        subprocess.Popen(
            [sys.executable, "-c", script, *arguments], stdout=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    spans = [tuple(process.communicate(timeout=PATIENCE_S)[0].split()) for process in both]
    assert [span[1] for span in spans] == ["None", "None"]
    first, second = sorted(float(span[2]) for span in spans)
    assert second - first >= 0.5
