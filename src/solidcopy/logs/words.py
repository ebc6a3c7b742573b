"""Words by which a log names its columns and marks its lines."""

import re
from functools import lru_cache

from solidcopy.logs.entry import Role
from solidcopy.logs.numbers import eased

SENT_WORDS = frozenset(("tx", "transmit", "transmitted", "transmitting", "send", "sending", "sent"))
"""These say it anywhere before the text; a mere mark only in a column of such marks."""
TRANSMIT = SENT_WORDS | {"out", "s", ">"}
RECEIVE = frozenset(("rx", "receive", "received", "receiving", "heard", "in", "r", "<"))

_HEADINGS: tuple[tuple[Role, str], ...] = (
    # The order matters: "SNR reference bandwidth", "time offset" and "audio offset" come first.
    (Role.SNR_REFERENCE, r"(snr|s n|noise) (.* )?(reference|bandwidth)( .*)?"),
    (Role.SNR_REFERENCE, r"reference bandwidth.*"),
    (Role.SNR, r"snr|s n|snr .*|.* snr|s n .*|signal to noise.*|rauschabstand.*|db"),
    (Role.AUDIO, r"(audio|tone|pitch|af|ton)( .*)?|.* (audio|tone|pitch|af)|offset hz|hz"),
    (
        Role.OFFSET,
        r"(time |clock |start )?(offset|versatz|delta|lag|late)( s| ms)?|dt|delta t|late by",
    ),
    (Role.DIAL, r"(dial|vfo|qrg|rf|band)( .*)?|mhz|khz|dial frequency"),
    (Role.DIRECTION, r"direction|dir|way|rx tx|tx rx|richtung|sent or heard"),
    (Role.TEXT, r"(message|msg|text|decode|decoded|copy|copied|words|nachricht|meldung)( .*)?"),
    (Role.TEXT, r".* (message|text)|heard|said"),
    (Role.DATE, r"(date|day|datum|tag|fecha|jour)( .*)?|.* date"),
    (Role.TIME, r"(time|utc|gmt|clock|hour|zeit|uhrzeit|heure|hora|when|at)( .*)?"),
    (Role.TIME, r"timestamp|date time|datetime|.* (time|utc|gmt|zeit|clock)"),
)
FREQUENCY = re.compile(r"(frequency|freq|frequenz|f)( .*)?")
"""May be the audio or the dial frequency: the figures decide."""

_REFERENCE = re.compile(r"(\d+(?:[.,]\d+)?)\s*_?(k?)hz")
_UTC = re.compile(r"\b(utc|gmt|zulu)\b")
_LOCAL = re.compile(r"\b(local|ortszeit|wall clock)\b")


def plain(heading: str) -> str:
    """Lower case, words parted by one blank: "SNR_2500Hz (dB)" -> "snr 2500hz db"."""
    return " ".join(re.findall(r"[^\W_]+", eased(heading).lower()))


def role_of(heading: str) -> Role | None:
    """What a heading announces; None if no word of it is known."""
    for name in (heading, heading.rsplit(".", 1)[-1]):  # "radio.message": the inner member's name
        for role, form in _HEADINGS:
            if re.fullmatch(form, plain(name)):
                return role
    return None


def is_frequency(heading: str) -> bool:
    """Whether a heading announces a frequency, without saying which."""
    return FREQUENCY.fullmatch(plain(heading.rsplit(".", 1)[-1])) is not None


def is_known(heading: str) -> bool:
    """Whether a heading says anything that matters here."""
    return role_of(heading) is not None or is_frequency(heading)


@lru_cache(maxsize=1000)
def reference_hz(heading: str) -> float | None:
    """Bandwidth named in the heading of an SNR column, e.g. 2500 in "snr_db_2500hz"."""
    match = _REFERENCE.search(heading.lower())
    if match is None:
        return None
    return float(match[1].replace(",", ".")) * (1000.0 if match[2] else 1.0)


def says_utc(remark: str) -> bool:
    """Whether a remark such as "all times UTC" names the clock; "UTC+1" does not."""
    return re.search(r"\b(utc|gmt)\b(?!\s*[+-]\s*\d)", eased(remark).lower()) is not None


def clock_named(heading: str) -> str | None:
    """ "UTC" or "local" if the heading of a time column says so."""
    if _UTC.search(plain(heading)):
        return "UTC"
    return "local" if _LOCAL.search(plain(heading)) else None


def direction_of(cell: str) -> str | None:
    """ "sent" or "heard" if a cell holds nothing but such a mark."""
    word = eased(cell).lower().strip("[]():.")
    if word in TRANSMIT:
        return "sent"
    return "heard" if word in RECEIVE else None
