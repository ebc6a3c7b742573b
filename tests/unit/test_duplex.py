"""Playing and recording at once, on a made-up sound card that loops its output back late."""

import threading
from types import SimpleNamespace

import numpy as np
import pytest

from solidcopy.actions.path_check import check_devices, play_sequence
from solidcopy.errors import DeviceError
from solidcopy.noise.features.figure import Figure
from solidcopy.soundcard import duplex
from solidcopy.soundcard.card import RATE_HZ

BLOCK = 960
WELL = SimpleNamespace(output_underflow=False, input_overflow=False, input_underflow=False)
DRY = SimpleNamespace(output_underflow=True, input_overflow=False, input_underflow=False)


class LoopCard:
    """Stands for the sound library: what goes out comes in after a delay."""

    class PortAudioError(Exception):
        pass

    def __init__(
        self,
        *,
        delay_s=0.2,
        n_channels=2,
        stops_after_s=None,
        is_busy=False,
        gain=1.0,
        dry_at_s=(),
    ):
        self.line = np.zeros((round(delay_s * RATE_HZ), n_channels), np.float32)
        self.n_channels, self.is_busy, self.gain = n_channels, is_busy, gain
        self.n_left = None if stops_after_s is None else round(stops_after_s * RATE_HZ)
        self.dry_at = {round(at_s * RATE_HZ / BLOCK) for at_s in dry_at_s}
        """Numbers of blocks, counted over all streams."""
        self.n_blocks = 0
        self.callback = self.ended = None
        self.is_stopped = threading.Event()

    def query_devices(self, _):
        return {"max_output_channels": self.n_channels, "max_input_channels": self.n_channels}

    def Stream(self, *, callback, finished_callback, **_):
        if self.is_busy:
            raise self.PortAudioError("device unavailable")
        self.callback, self.ended = callback, finished_callback
        return self

    def OutputStream(self, *, callback, finished_callback, **_):
        self.callback = lambda _in, out, n, when, status: callback(out, n, when, status)
        self.ended = finished_callback
        return self

    def __enter__(self):
        self.is_stopped.clear()
        self.thread = threading.Thread(target=self.run)
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.is_stopped.set()
        self.thread.join()

    def run(self):
        while not self.is_stopped.is_set():
            if self.n_left is not None and self.n_left <= 0:
                self.ended()
                return
            out = np.empty((BLOCK, self.n_channels), np.float32)
            status = DRY if self.n_blocks in self.dry_at else WELL
            self.callback(self.line[:BLOCK], out, BLOCK, None, status)
            self.n_blocks += 1
            self.line = np.concatenate((self.line[BLOCK:], self.gain * out))
            if self.n_left is not None:
                self.n_left -= BLOCK


@pytest.fixture
def put_in(monkeypatch):
    def put(card):
        monkeypatch.setattr(duplex, "portaudio", lambda: card)
        monkeypatch.setattr(duplex, "card_named", lambda _, is_output: 0)

    return put


@pytest.mark.derived
@pytest.mark.parametrize(("delay_s", "n_channels"), [(0.2, 2), (2.0, 1)])
def test_latency_is_that_of_the_loop(put_in, delay_s: float, n_channels: int) -> None:
    put_in(LoopCard(delay_s=delay_s, n_channels=n_channels))
    result = check_devices(None, None, level_dbfs=-20.0, asked_snr_db=0.0)
    assert result.verdict == "fit for measuring", result.findings
    assert isinstance(result.latency_s, Figure)
    assert result.latency_s.value == pytest.approx(delay_s, abs=1e-6)
    assert "latency" in result.text()


def test_a_card_that_stops_is_named(put_in) -> None:
    put_in(LoopCard(stops_after_s=5.0))
    with pytest.raises(DeviceError, match="stopped in the middle"):
        check_devices(None, None, level_dbfs=-20.0, asked_snr_db=0.0)


def test_what_the_machine_tore_is_played_again(put_in) -> None:
    """A device that reports a gap as it begins tears nothing."""
    put_in(LoopCard(dry_at_s=(0.0, 20.0)))
    result = check_devices(None, None, level_dbfs=-20.0, asked_snr_db=0.0)
    assert result.verdict == "fit for measuring", result.findings
    assert "1 try broken off before, as a device ran dry" in result.text()


def test_a_machine_that_tears_every_try_is_told_so(put_in) -> None:
    put_in(LoopCard(dry_at_s=range(2, 80, 2)))
    with pytest.raises(DeviceError, match="ran dry in each of 3 tries"):
        check_devices(None, None, level_dbfs=-20.0, asked_snr_db=0.0)


def test_a_busy_card_is_named(put_in) -> None:
    put_in(LoopCard(is_busy=True))
    with pytest.raises(DeviceError, match="cannot be opened together"):
        check_devices(None, None, level_dbfs=-20.0, asked_snr_db=0.0)


def test_a_silent_input_is_named(put_in) -> None:
    put_in(LoopCard(gain=0.0))
    with pytest.raises(DeviceError, match="was not heard"):
        check_devices(None, None, level_dbfs=-20.0, asked_snr_db=0.0)


def test_output_only_says_what_it_cannot_know(put_in) -> None:
    put_in(LoopCard())
    told = play_sequence(None, level_dbfs=-20.0)
    assert told.startswith("played 47 s at -20 dBFS")
    assert "nothing is known of latency" in told
