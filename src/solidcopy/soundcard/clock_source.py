"""Where the system's time comes from, and how far it may be off.

A station's software takes its slots from the clock of the machine it runs on. What matters is that
player and station agree: on one machine they always do; on two, both must follow UTC.
"""

import ctypes
import platform
import socket
import struct
from dataclasses import dataclass
from enum import StrEnum

from solidcopy.errors import DeviceError
from solidcopy.soundcard.clock import Clock

NTP_PORT = 123
NTP_EPOCH_S = 2_208_988_800
"""1970-01-01 in seconds since 1900-01-01 (RFC 868; RFC 5905, section 6)."""
NTP_PACKET = struct.Struct("!BBbb11I")
CLIENT_VERSION_4 = 0b00_100_011
SERVER_MODE = 4
UNSYNCHRONISED_LEAP = 3
NTP_TIMEOUT_S = 2.0
N_QUERIES = 4


class Source(StrEnum):
    """Who says how far the clock is off."""

    NTP = "time server"
    SYSTEM = "operating system"
    NOBODY = "nobody"


@dataclass(frozen=True, slots=True)
class ClockReading:
    """How sure the time is."""

    source: Source
    offset_s: float | None
    """True time less the system's; None: unknown."""
    uncertainty_s: float | None
    """Half width within which the offset lies; None: unknown."""
    sentence: str
    """For a person."""


def clock_reading(clock: Clock, *, ntp_host: str | None = None) -> ClockReading:
    """How far the clock is off, by a time server if one is named, else by the operating system.

    Args:
        ntp_host: name or address of a time server (port 123, or "host:port").
    Raises: DeviceError if the server that was named does not answer.
    """
    if ntp_host is not None:
        return ask_server(clock, ntp_host)
    state = _kernel_state()
    if state is None:
        return ClockReading(
            Source.NOBODY,
            None,
            None,
            "Nobody says whether this machine's clock is right: compare it with a time server "
            "(--time-server).",
        )
    is_synchronised, most_s = state
    if not is_synchronised:
        return ClockReading(
            Source.SYSTEM,
            None,
            None,
            "The operating system says that its clock follows no time server: set one up, or "
            "compare the clock with one (--time-server).",
        )
    return ClockReading(
        Source.SYSTEM,
        0.0,
        most_s,
        f"The operating system says that its clock follows a time server, within "
        f"{most_s * 1e3:.0f} ms at most.",
    )


class _Timex(ctypes.Structure):
    """`struct timex` of adjtimex(2)."""

    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("room", ctypes.c_byte * 256),
    )


TIME_ERROR = 5
"""Return value of adjtimex(2): the clock is not synchronised."""


def _kernel_state() -> tuple[bool, float] | None:
    """Whether the kernel's clock is disciplined, and its largest error; None: it cannot say."""
    if platform.system() != "Linux":
        return None
    state = _Timex()
    try:
        answer = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.byref(state))
    except (OSError, AttributeError):
        return None
    if answer < 0:
        return None
    return answer != TIME_ERROR, state.maxerror * 1e-6


def ask_server(clock: Clock, host: str) -> ClockReading:
    """The offset by the simple network time protocol; the quickest of a few answers counts.

    Source: RFC 5905, section 8: offset ((t2 - t1) + (t3 - t4)) / 2, delay (t4 - t1) - (t3 - t2);
    the offset's error is at most half the delay.

    Raises: DeviceError if it does not answer, or says that it does not know the time.
    """
    name, _, port = host.partition(":")
    found = []
    failure: Exception | None = None
    for _ in range(N_QUERIES):
        try:
            found.append(_ask_once(clock, name, int(port or NTP_PORT)))
        except (OSError, ValueError) as error:
            failure = error
    if not found:
        raise DeviceError(
            f"time server {host}: gave no usable answer ({failure}); name another one, or leave "
            "--time-server out"
        )
    delay_s, offset_s = min(found)
    return ClockReading(
        Source.NTP,
        offset_s,
        delay_s / 2.0,
        f"By the time server {host} this machine's clock is {abs(offset_s) * 1e3:.0f} ms "
        f"{'slow' if offset_s > 0 else 'fast'} (± {delay_s / 2.0 * 1e3:.0f} ms).",
    )


def _ask_once(clock: Clock, name: str, port: int) -> tuple[float, float]:
    """Delay and offset of one answer, in seconds. Raises OSError, ValueError."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as link:
        link.settimeout(NTP_TIMEOUT_S)
        link.connect((name, port))
        sent_s = clock.utc_s()
        stamp = _stamp(sent_s)
        link.send(NTP_PACKET.pack(CLIENT_VERSION_4, 0, 0, 0, *(0,) * 9, *stamp))
        answer = link.recv(512)
        came_s = clock.utc_s()
    if len(answer) < NTP_PACKET.size:
        raise ValueError("it answered something else")
    first, stratum, _, _, *words = NTP_PACKET.unpack(answer[: NTP_PACKET.size])
    if first & 7 != SERVER_MODE or tuple(words[5:7]) != stamp:
        raise ValueError("it answered something else")
    if first >> 6 == UNSYNCHRONISED_LEAP or stratum == 0:
        raise ValueError("it does not know the time itself")
    heard_s, left_s = _seconds(*words[7:9]), _seconds(*words[9:11])
    delay_s = (came_s - sent_s) - (left_s - heard_s)
    return max(delay_s, 0.0), ((heard_s - sent_s) + (left_s - came_s)) / 2.0


def _stamp(utc_s: float) -> tuple[int, int]:
    whole = int(utc_s)
    return (whole + NTP_EPOCH_S) % 2**32, int((utc_s - whole) * 2**32)


def _seconds(whole: int, fraction: int) -> float:
    """Seconds since 1970; the count of seconds runs over in 2036 (RFC 5905, section 6)."""
    era = 0 if whole >= 2**31 else 2**32
    return whole + era - NTP_EPOCH_S + fraction / 2**32
