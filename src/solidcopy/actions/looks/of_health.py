"""Is a recording fit for measuring?"""

from pathlib import Path

from solidcopy.actions.inspect_recording import (
    NEGATIVE,
    VERDICTS,
    Inspection,
    inspect_recording,
)
from solidcopy.actions.looks.answer import LookAnswer
from solidcopy.actions.looks.found import Found, without_file
from solidcopy.actions.looks.request import HealthAsked
from solidcopy.noise.health import ChannelHealth
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import MINUS, capital, number
from solidcopy.units import peak_dbfs


def look_at_health(asked: HealthAsked, file: Path) -> Found:
    """As `solidcopy inspect`."""
    found = inspect_recording(file, asked.answers())
    return Found(_answer(found), found.as_dict())


def _answer(found: Inspection) -> LookAnswer:
    """What a recording is fit for."""
    health = found.health
    reasons = f": {'; '.join(health.reasons)}" if health.reasons else ""
    first, *_ = found.text().split("\n")
    return LookAnswer(
        sentence=_minus(f"{capital(VERDICTS[health.verdict])}{reasons}."),
        supports=(
            without_file(first, found.file),
            *(_minus(f"{capital(finding.sentence)}.") for finding in health.findings),
        ),
        question=found.question.sentence if found.question else "",
        sheets=(_channels_sheet(health.channels),),
    )


def _channels_sheet(channels: tuple[ChannelHealth, ...]) -> Sheet:
    return Sheet(
        "Channels",
        ("channel", "mean level, dBFS", "peak, dB of full scale", "clipped samples", "mains hum"),
        tuple(_channel_row(channel) for channel in channels),
        "0 dBFS is the mean power of a sine that touches full scale.",
        n_heads=1,
    )


def _channel_row(channel: ChannelHealth) -> tuple[str, ...]:
    if channel.is_silent:
        return channel.name, "silent", DASH, DASH, DASH
    levels, hum = channel.levels, channel.hum
    heard = DASH
    if hum is not None:
        heard = f"{hum.mains_hz:g} Hz, {number(hum.power_dbfs, 1)} dBFS"
    return (
        channel.name,
        number(levels.power_dbfs, 2),
        number(peak_dbfs(levels.peak), 2),
        str(channel.clipping.n_samples),
        heard,
    )


def _minus(text: str) -> str:
    return NEGATIVE.sub(MINUS, text)
