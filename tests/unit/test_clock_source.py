"""How sure the time is: a time server's answer (RFC 5905), the kernel's word, or nobody's."""

import socket
import struct
import threading
import time

import pytest

from solidcopy.errors import DeviceError
from solidcopy.soundcard import clock_source
from solidcopy.soundcard.clock import StepWatch, SystemClock
from solidcopy.soundcard.clock_source import Source, clock_reading


def ntp_time(utc_s):
    """RFC 5905, section 6: seconds since 1900-01-01 and a fraction of 32 bits; 1970-01-01 is
    2 208 988 800 s later (its figure 4).
    """
    return struct.pack("!II", int(utc_s) + 2_208_988_800, int(utc_s % 1 * 2**32))


class TimeServer:
    """Answers as RFC 5905, figure 8, with a clock of its own and delays on both ways."""

    def __init__(self, *, ahead_s=0.0, there_s=0.0, back_s=0.0, leap=0, stratum=2):
        self.ahead_s, self.there_s, self.back_s = ahead_s, there_s, back_s
        self.leap, self.stratum = leap, stratum
        self.link = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.link.bind(("127.0.0.1", 0))
        self.host = f"127.0.0.1:{self.link.getsockname()[1]}"
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        while True:
            try:
                asked, who = self.link.recvfrom(512)
            except OSError:
                return
            time.sleep(self.there_s)
            heard = ntp_time(time.time() + self.ahead_s)
            head = struct.pack(
                "!BBbb3I", self.leap << 6 | 4 << 3 | 4, self.stratum, 6, -20, 0, 0, 0
            )
            left = ntp_time(time.time() + self.ahead_s)
            answer = head + heard + asked[40:48] + heard + left
            time.sleep(self.back_s)
            self.link.sendto(answer, who)


@pytest.fixture
def server():
    made = []

    def start(**kinds):
        made.append(TimeServer(**kinds))
        return made[-1].host

    yield start
    for one in made:
        one.link.close()


@pytest.mark.parametrize("ahead_s", [0.0, 0.35, -1.25])
def test_the_offset_is_the_servers(server, ahead_s):
    found = clock_reading(SystemClock(), ntp_host=server(ahead_s=ahead_s))
    assert found.source is Source.NTP
    assert found.offset_s == pytest.approx(ahead_s, abs=found.uncertainty_s + 1e-4)
    assert found.uncertainty_s < 0.02


def test_unequal_ways_lie_within_the_uncertainty(server):
    """RFC 5905, section 8: the error is at most half the round trip."""
    found = clock_reading(SystemClock(), ntp_host=server(back_s=0.06))
    assert found.uncertainty_s >= 0.03
    assert abs(found.offset_s) <= found.uncertainty_s


@pytest.mark.parametrize("kinds", [{"leap": 3}, {"stratum": 0}])
def test_a_server_that_does_not_know_is_not_believed(server, kinds):
    with pytest.raises(DeviceError, match="does not know the time itself"):
        clock_reading(SystemClock(), ntp_host=server(**kinds))


def test_a_server_that_is_not_there_is_told(monkeypatch):
    monkeypatch.setattr(clock_source, "NTP_TIMEOUT_S", 0.05)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        host = f"127.0.0.1:{free.getsockname()[1]}"
        with pytest.raises(DeviceError, match="gave no usable answer"):
            clock_reading(SystemClock(), ntp_host=host)


@pytest.mark.parametrize(
    ("state", "source", "words"),
    [
        ((True, 0.012), Source.SYSTEM, "within 12 ms"),
        ((False, 16.0), Source.SYSTEM, "follows no time server"),
        (None, Source.NOBODY, "Nobody says"),
    ],
)
def test_the_systems_word(monkeypatch, state, source, words):
    monkeypatch.setattr(clock_source, "_kernel_state", lambda: state)
    found = clock_reading(SystemClock())
    assert found.source is source
    assert words in found.sentence


def test_the_kernel_can_be_asked():
    state = clock_source._kernel_state()
    assert state is None or (isinstance(state[0], bool) and state[1] >= 0.0)


def test_no_step_is_seen_where_none_was():
    watch = StepWatch(SystemClock())
    time.sleep(0.05)
    assert watch.look() is None
