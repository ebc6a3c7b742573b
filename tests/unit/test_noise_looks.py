"""Looks at recordings: begun once, kept, found again, cancelled, forgotten."""

import json
import re
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import psutil
import pytest

from noise_mixtures import mixed
from noise_trial import carrier, fence
from slot_recordings import Recorder, Station
from slot_recordings import recording as slots
from solidcopy.actions.inspect_recording import inspect_recording
from solidcopy.actions.looks import store
from solidcopy.actions.looks.answer import ANSWER, ANSWERED, FACTS, PLAN
from solidcopy.actions.looks.request import (
    LOOK,
    AnswerAsked,
    ChangeAsked,
    CostAsked,
    HealthAsked,
    PartsAsked,
    SlotsAsked,
    TwinAsked,
)
from solidcopy.actions.looks.store import (
    LookState,
    ask_look,
    cancel_look,
    file_of_look,
    forget_looks,
    look_of,
    looks_at,
)
from solidcopy.actions.looks.work import carry_out
from solidcopy.actions.noise_parts import noise_parts
from solidcopy.actions.workspace import RECORDINGS, Workspace
from solidcopy.errors import NotThereError
from solidcopy.noise.reading import Answers
from solidcopy.reports.noise_words import headline
from solidcopy.signals.audio_file import write_audio
from solidcopy.trials.plan import read_plan

WITHIN_S = 120.0


@pytest.fixture(scope="module")
def sounds(tmp_path_factory):
    """Two made recordings: a fence and a carrier, and the carrier alone."""
    folder = tmp_path_factory.mktemp("sounds")
    for name, added in (("on.wav", [fence(1.3, 2.0)[0]]), ("off.wav", [])):
        made = mixed([*added, carrier(900.0, 0.0)[0]], seed=20, duration_s=20.0).waveform
        write_audio(folder / name, made.samples, sample_rate_hz=made.sample_rate_hz)
    return folder


@pytest.fixture
def space(sounds, tmp_path):
    space = Workspace.at(tmp_path / "bench")
    for file in sounds.iterdir():
        (space.folder / RECORDINGS / file.name).write_bytes(file.read_bytes())
    yield space
    for recording in space.recordings():
        forget_looks(space, recording)


def looked(folder, asked, *files):
    """The answer of a look that is carried out here."""
    folder.mkdir(exist_ok=True)
    carry_out(folder, asked, files)
    return ANSWER.validate_json((folder / ANSWERED).read_bytes())


def wait_for(space, key):
    end_s = time.monotonic() + WITHIN_S
    while (look := look_of(space, key)).state is LookState.WORKING:
        assert time.monotonic() < end_s
        time.sleep(0.1)
    return look


class Started:
    """Counts processes that are started, and starts them."""

    def __init__(self, monkeypatch, *, instead=None):
        self.n = 0
        start = subprocess.Popen

        def popen(words, **more):
            self.n += 1
            return start(instead or words, **more)

        monkeypatch.setattr(store.subprocess, "Popen", popen)


SLEEP = ["sleep", "100"]


def test_two_askers_meet_in_one_look_whose_answer_is_kept(space, monkeypatch):
    started, asked = Started(monkeypatch), HealthAsked(recording="on.wav")
    with ThreadPoolExecutor(2) as both:
        first, second = both.map(lambda _: ask_look(space, asked), range(2))
    assert first.key == second.key and started.n == 1
    done = wait_for(space, first.key)
    assert done.state is LookState.DONE and done.answer.sentence == "Fit for measuring."
    # A server that starts anew finds it, and begins nothing.
    again = Workspace.at(space.folder)
    assert ask_look(again, asked).answer == done.answer and started.n == 1
    assert looks_at(again, "on.wav")["health"].key == first.key
    facts = json.loads(file_of_look(again, first.key, FACTS).read_text())
    told = inspect_recording(space.recording("on.wav"), Answers()).as_dict()
    assert facts == json.loads(json.dumps(told))
    # A changed file is another file.
    write_audio(space.recording("on.wav"), np.tile([0.1, -0.1], 12_000), sample_rate_hz=12_000)
    assert looks_at(again, "on.wav") == {}


def test_a_cancelled_look_leaves_no_process_and_no_file(space, monkeypatch):
    Started(monkeypatch, instead=SLEEP)
    look = ask_look(space, PartsAsked(recording="on.wav"))
    assert look.state is LookState.WORKING
    pid = json.loads((space.folder / store.LOOKS / look.key / store.WORKER).read_text())["pid"]
    cancel_look(space, look.key)
    assert not psutil.pid_exists(pid) or psutil.Process(pid).status() == psutil.STATUS_ZOMBIE
    assert list((space.folder / store.LOOKS).iterdir()) == []
    with pytest.raises(NotThereError, match="ask for it again"):
        look_of(space, look.key)


def test_one_at_a_time_for_each_recording(space, monkeypatch):
    started = Started(monkeypatch, instead=SLEEP)
    ask_look(space, PartsAsked(recording="on.wav"))
    assert ask_look(space, HealthAsked(recording="on.wav")).state is LookState.WAITING
    between = ChangeAsked(recording="off.wav", after="on.wav")
    assert ask_look(space, between).state is LookState.WAITING
    assert ask_look(space, HealthAsked(recording="off.wav")).state is LookState.WORKING
    forget_looks(space, "on.wav")
    assert started.n == 2
    assert list(looks_at(space, "off.wav")) == ["health"]


def test_a_look_whose_process_was_killed_can_be_asked_again(space, monkeypatch):
    started = Started(monkeypatch, instead=SLEEP)
    asked = PartsAsked(recording="on.wav")
    look = ask_look(space, asked)
    pid = json.loads((space.folder / store.LOOKS / look.key / store.WORKER).read_text())["pid"]
    psutil.Process(pid).kill()
    end_s = time.monotonic() + 10.0
    while look_of(space, look.key).state is LookState.WORKING and time.monotonic() < end_s:
        time.sleep(0.02)
    assert look_of(space, look.key).state is LookState.ENDED
    assert looks_at(space, "on.wav") == {}
    assert ask_look(space, asked).state is LookState.WORKING and started.n == 2


def test_the_oldest_answers_go_when_there_are_too_many(space, monkeypatch):
    Started(monkeypatch, instead=["true"])
    monkeypatch.setattr(store, "MOST_KEPT", 3)
    for length_s in range(10, 16):
        asked = PartsAsked(recording="on.wav", length_s=length_s)
        key = ask_look(space, asked).key
        folder = space.folder / store.LOOKS / key
        (folder / ANSWERED).write_text('{"sentence": "Made for a test."}')
        time.sleep(0.01)
    kept = {look.asked.length_s for look in store._all(space)}
    assert kept == {12.0, 13.0, 14.0, 15.0}  # three, and the one asked last


@pytest.mark.parametrize("key", ["..", "x" * 32, "0" * 31, "../recordings"])
def test_no_key_leads_out(space, key):
    with pytest.raises(NotThereError):
        look_of(space, key)


def test_parts_say_what_the_command_says(sounds, tmp_path):
    answer = looked(tmp_path, PartsAsked(recording="on.wav"), sounds / "on.wav")
    assert answer.sentence == headline(noise_parts(sounds / "on.wav").parts)
    assert "electric fence" in answer.details[0].hints[0].likely
    for picture in answer.pictures:
        assert (tmp_path / picture.file).read_text().lstrip().startswith("<svg")
    assert len(answer.sheets[0].rows) == len(answer.details)
    assert any("Impulses in headphones" in caution for caution in answer.cautions)


def test_a_change_is_said_with_its_parts(sounds, tmp_path):
    asked = ChangeAsked(recording="on.wav", after="off.wav")
    answer = looked(tmp_path, asked, sounds / "on.wav", sounds / "off.wav")
    assert answer.sentence.startswith("The second is") and "quieter" in answer.sentence
    assert answer.supports[0].startswith("Gone: periodic impulses")
    assert (tmp_path / answer.pictures[0].file).is_file()


def test_slots_are_told_with_their_transmissions(tmp_path):
    made = slots(Recorder(4.0), [Station()], n_slots=2, snr_db=-5.0)
    file = tmp_path / "evening.wav"
    write_audio(file, made.samples, sample_rate_hz=made.sample_rate_hz)
    answer = looked(tmp_path / "look", SlotsAsked(recording="evening.wav"), file)
    edge_s = re.match(r"The first ft8 slot begins ([0-9.]+) s after the start", answer.sentence)[1]
    assert float(edge_s) == pytest.approx(4.0, abs=0.005)  # its interval is 0.0012 s to each side
    assert len(answer.sheets[0].rows) == 2
    assert not any("heard (SNR" in line for line in answer.supports)


def test_a_twin_brings_its_plan(sounds, tmp_path):
    asked = TwinAsked(recording="on.wav", n_trials=50)
    answer = looked(tmp_path, asked, sounds / "on.wav")
    assert len(answer.sheets) == 2 and PLAN in answer.files
    plan = read_plan(tmp_path / PLAN)
    assert [condition.name for condition in plan.conditions] == ["own noise", "twin"]


def test_a_refusal_is_an_answer_and_names_no_folder(sounds, tmp_path):
    asked = HealthAsked(recording="on.wav", channel="5")
    answer = looked(tmp_path, asked, sounds / "on.wav")
    assert answer.is_refusal
    assert answer.sentence == 'on.wav: there is no channel "5"; give 1 or sum'
    asked = SlotsAsked(recording="on.wav", start="yesterday")
    assert looked(tmp_path, asked, sounds / "on.wav").is_refusal


def test_questions_of_all_kinds_survive_their_file():
    for asked in (
        HealthAsked(recording="a.wav", iq="upper"),
        PartsAsked(recording="a.wav", start_s=3.5),
        SlotsAsked(recording="a.wav", mode="ft4"),
        ChangeAsked(recording="a.wav", after="b.wav", gain_change_db=-3.0),
        CostAsked(recording="a.wav", efforts=("phase-trellis",)),
        AnswerAsked(recording="a.wav", campaign="b"),
        TwinAsked(recording="a.wav", channel=2),
    ):
        assert LOOK.validate_json(LOOK.dump_json(asked)) == asked
