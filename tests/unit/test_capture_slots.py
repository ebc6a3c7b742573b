"""Slots are cut out of an input stream by UTC, whatever the card's crystal does (simulated)."""

import csv
import shutil
from collections import namedtuple

import numpy as np
import pytest
import soundfile

from simulated_card import SimulatedClock, SimulatedMicrophone, once
from solidcopy.actions.capture_slots import CaptureOptions, capture_slots
from solidcopy.errors import DeviceError
from solidcopy.soundcard.recorder import Recorder

SLOT_S = 7.5
TONE_HZ = 1000.0


def tone_from_each_edge(clock):
    """A tone that begins at each slot's edge with phase 0, and lasts a second."""

    def sound(steady_s):
        since_s = (steady_s + clock.utc_at_zero_s) % SLOT_S
        return np.where(since_s < 1.0, 0.5 * np.sin(2.0 * np.pi * TONE_HZ * since_s), 0.0)

    return sound


def captured(microphone, clock, out, n=3, **more):
    options = CaptureOptions(out, SLOT_S, most_slots=n, **more)
    said = list(capture_slots(microphone, clock, options))
    return [one.slot for one in said if one.slot is not None], said


@pytest.mark.parametrize("ppm", [-200.0, 0.0, 200.0])
def test_slots_begin_at_their_edges(tmp_path, ppm):
    """Derived: the phase of a tone that begins at the edge tells the start to microseconds."""
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, tone_from_each_edge(clock), ppm=ppm)
    slots, _ = captured(microphone, clock, tmp_path, n=6)
    assert [slot.remark for slot in slots] == [""] * 6
    sound, rate_hz = soundfile.read(tmp_path / slots[-1].file)
    assert sound.size == SLOT_S * rate_hz
    piece = sound[1200:10_800] * np.hanning(9600)
    time_s = np.arange(1200, 10_800) / rate_hz
    phases = [
        np.angle(np.sum(part * np.exp(-2j * np.pi * TONE_HZ * at)))
        for part, at in (
            (piece[:4800], time_s[:4800]),
            (piece[4800:], time_s[4800:]),
        )
    ]
    late_s = -(np.mean(phases) + np.pi / 2.0) / (2.0 * np.pi * TONE_HZ)
    assert abs(late_s) < 2.5e-4
    off_hz = (phases[1] - phases[0]) / (2.0 * np.pi * 0.4)
    assert abs(off_hz) < 0.02  # 20 ppm; 200 ppm would be 0.2 Hz


def test_levels_are_those_of_the_sound(tmp_path):
    """Derived: a sine of amplitude 0.5 is at -6.02 dBFS, its peak and (0 dBFS being a full-scale
    sine) its mean.
    """
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, lambda t: 0.5 * np.sin(2.0 * np.pi * 997.0 * t))
    (slot,), _ = captured(microphone, clock, tmp_path, n=1)
    assert slot.peak_dbfs == pytest.approx(-6.02, abs=0.02)
    assert slot.mean_dbfs == pytest.approx(-6.02, abs=0.02)
    (row,) = csv.DictReader((tmp_path / "slots.csv").open())
    assert row["file"] == slot.file


def test_what_is_wrong_with_a_slot_is_said(tmp_path):
    clock = SimulatedClock()
    loud = SimulatedMicrophone(clock, lambda t: np.clip(2.0 * np.sin(6000.0 * t), -1.0, 1.0))
    (slot,), _ = captured(loud, clock, tmp_path / "loud", n=1)
    assert "turn the input down" in slot.remark
    silent = SimulatedMicrophone(clock, np.zeros_like)
    (slot,), _ = captured(silent, clock, tmp_path / "silent", n=1)
    assert "silent" in slot.remark


def test_a_slot_with_lost_frames_is_named_and_not_kept(tmp_path):
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, tone_from_each_edge(clock))
    clock.listeners.insert(0, once(20.0, lambda: microphone.lose(0.05)))
    slots, said = captured(microphone, clock, tmp_path, n=4)
    lost = [slot for slot in slots if not slot.file]
    assert [slot.remark for slot in lost] == ["the sound input lost frames within the slot"]
    assert said[-1].n_kept == 4 and len(slots) == 5
    sound, _ = soundfile.read(tmp_path / slots[-1].file)
    # The next slot's tone rings backwards a few samples in the filter of the rate's change.
    assert np.abs(sound[:12]).max() > 0.4 and np.abs(sound[-200:-50]).max() < 1e-3


def test_a_clock_that_is_set_spoils_its_slot_only(tmp_path):
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, tone_from_each_edge(clock))
    clock.listeners.insert(0, once(20.0, lambda: clock.set_by(2.0)))
    slots, _ = captured(microphone, clock, tmp_path, n=4)
    assert [slot.remark for slot in slots if not slot.file] == ["the clock was set within the slot"]


def test_a_card_that_is_pulled_out_is_waited_for(tmp_path):
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, tone_from_each_edge(clock))
    clock.listeners.insert(0, once(20.0, microphone.unplug))
    clock.listeners.insert(0, once(40.0, lambda: setattr(microphone, "is_unplugged", False)))
    slots, said = captured(microphone, clock, tmp_path, n=4)
    assert sum(bool(slot.file) for slot in slots) == 4
    assert any("waiting for it" in one.message for one in said)


def test_a_device_that_is_not_there_is_refused(tmp_path):
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, np.zeros_like)
    microphone.is_unplugged = True
    with pytest.raises(DeviceError, match="cannot be opened"):
        captured(microphone, clock, tmp_path)


def test_a_full_disk_ends_it_and_keeps_what_there_is(tmp_path, monkeypatch):
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, tone_from_each_edge(clock))
    usage = namedtuple("usage", "total used free")
    free = iter([10**9, 10**9] + [10**6] * 10)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage(10**10, 0, next(free)))
    with pytest.raises(DeviceError, match="make room"):
        captured(microphone, clock, tmp_path, n=5)
    assert len(list(tmp_path.glob("slot-*.wav"))) == 2
    assert not list(tmp_path.glob(".*.part"))


def test_a_recorder_opens_a_device_that_was_gone():
    clock = SimulatedClock()
    microphone = SimulatedMicrophone(clock, tone_from_each_edge(clock))
    with Recorder(microphone, clock, keep_s=30.0) as recorder:
        clock.sleep(10.0)
        microphone.unplug()
        microphone.is_unplugged = False
        for _ in range(2):
            with pytest.raises(DeviceError):
                recorder.cut(clock.utc_s() - 5.0, 2.0, to_rate_hz=12_000)
        for _ in range(60):
            clock.sleep(0.2)
        sound = recorder.cut(clock.utc_s() - 5.0, 2.0, to_rate_hz=12_000)
        assert sound.samples.size == 24_000
