"""Find known slots in a recording that began at any moment."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from solidcopy.errors import AudioFileError, LogError
from solidcopy.logs.schedule import Key, read_key
from solidcopy.noise.reading import mono, open_sound
from solidcopy.noise.slots.find import SlotHints, SlotsFound, find_slots
from solidcopy.noise.slots.grid import Figure
from solidcopy.noise.slots.known import KnownSlot

MAX_HEARD_S = 1200.0
"""So much of a recording is listened to."""
DEFAULT_MODE = "ft8"
SHOWN = 12
"""Transmissions shown to people; a program gets all."""
STATION_CLOCKS_S = 0.5
"""How far the clocks of single stations are commonly off (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class SlotsOf:
    """What was found, and in which file."""

    file: Path
    found: SlotsFound
    left_s: float
    """Length at the end that was not listened to."""
    key: Key | None = None
    """What was played, if that is known."""

    @property
    def first_sample_utc(self) -> datetime | None:
        """When the recording began, by the times of the key."""
        found = self.found
        if self.key is None or found.first_edge is None or found.first_known_s is None:
            return None
        ratio = found.taken_rate_hz / found.header_rate_hz
        before_s = found.first_known_s - found.first_edge.value / ratio
        return self.key.start + timedelta(seconds=before_s)

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        found = self.found
        return {
            "file": str(self.file),
            "mode": found.mode,
            "can_tell": found.first_edge is not None,
            "reason": found.reason,
            "first_edge_s": _figure(found.first_edge),
            "is_one_clock": None if found.grid is None else found.grid.is_one_clock,
            "edges_s": [round(edge, 4) for edge in found.edges_s],
            "header_rate_hz": found.header_rate_hz,
            "taken_rate_hz": found.taken_rate_hz,
            "rate_error_ppm": _figure(found.rate_error_ppm),
            "tone_rate_error_ppm": _figure(found.tone_rate_error_ppm),
            "tone_reason": found.tone_reason,
            "clock_fast_s": _figure(found.clock_fast_s),
            "first_sample_utc": None
            if self.first_sample_utc is None
            else self.first_sample_utc.isoformat(timespec="milliseconds"),
            "not_listened_to_s": self.left_s,
            "transmissions": [
                {
                    "text": item.text,
                    "key_slot": item.slot,
                    "start_s": round(item.start_s, 5),
                    "spread_s": round(item.spread_s, 6),
                    "audio_hz": round(item.audio_hz, 3),
                    "snr_db_in_2500_hz": None if item.snr_db is None else round(item.snr_db, 1),
                }
                for item in found.heard
            ],
        }

    def text(self) -> str:
        """For people, the answer first."""
        found = self.found
        lines = [f"{self.file}: {_first_sentence(found)}"]
        lines += _rate_lines(found)
        if self.first_sample_utc is not None and self.key is not None:
            lines.append(f"  {_key_sentence(self.key, found, self.first_sample_utc)}")
        if found.clock_fast_s is not None:
            lines.append(f"  {_clock_sentence(found.clock_fast_s)}")
        if self.left_s > 0.0:
            lines.append(
                f"  the last {self.left_s:.0f} s were not listened to (the first "
                f"{MAX_HEARD_S:.0f} s suffice)"
            )
        lines += _heard_lines(found)
        return "\n".join(lines)


def find_slots_in(
    file: Path,
    mode: str | None,
    hints: SlotHints,
    *,
    channel: str | None = None,
    key: Path | None = None,
) -> SlotsOf:
    """The slots of a mode in a sound file; its own start time counts if none is given.

    Args:
        file: the recording.
        mode: the key's if there is one, else "ft8", if left out.
        hints: what is known beforehand.
        channel: of several.
        key: file that `log slots` wrote, or its folder, if what was played is known.
    Raises: AudioFileError, PlanError; LogError if the key cannot be read or is of another mode.
    """
    played = None if key is None else read_key(key)
    if played is not None:
        mode = _mode_of(played, mode)
        hints = replace(hints, known=_known_slots(played))
    mode = mode or DEFAULT_MODE
    if hints.reference_hz is not None and hints.reference_hz <= 0.0:
        raise AudioFileError(f"--reference-hz: {hints.reference_hz:g} is no frequency")
    with open_sound(file, channel=channel) as sound:
        heard_s = min(sound.duration_s, MAX_HEARD_S)
        waveform = mono(sound, 0.0, heard_s)
        left_s = sound.duration_s - heard_s
        starts = sound.facts.starts
    if hints.starts_utc is None and starts is not None:
        hints = replace(hints, starts_utc=starts.moment.replace(tzinfo=UTC))
    return SlotsOf(file, find_slots(waveform, mode, hints), left_s, played)


def _mode_of(key: Key, mode: str | None) -> str:
    if mode is not None and mode.lower() != key.mode.lower():
        raise LogError(f"--mode {mode}: the key is of {key.mode}; leave --mode out")
    return key.mode


def _known_slots(key: Key) -> tuple[KnownSlot, ...]:
    return tuple(
        KnownSlot(
            number=slot.slot,
            start_s=(slot.utc - key.start).total_seconds(),
            text=slot.text,
            audio_hz=slot.lowest_tone_hz,
            late_s=slot.start_after_nominal_s,
        )
        for slot in key.slots
    )


def start_of_recording(text: str) -> datetime:
    """A start as typed. Raises AudioFileError."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise AudioFileError(
            f'--start: give the time of the first sample like 2026-11-25T18:30:07.5Z, not "{text}"'
        ) from None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _figure(figure: Figure | None) -> dict[str, float] | None:
    if figure is None:
        return None
    return {"value": figure.value, "low": figure.low, "high": figure.high}


def _first_sentence(found: SlotsFound) -> str:
    if found.first_edge is None or found.grid is None:
        return f"cannot tell where the {found.mode} slots lie: {found.reason}."
    edge = found.first_edge
    n_stations = int(found.grid.stations.max()) + 1
    who = f"{n_stations} station{'s' * (n_stations > 1)}"
    if found.first_known_s is not None:
        who = "the key"
    sentence = (
        f"the first {found.mode} slot begins {edge.value:.4f} s after the start (95 %: "
        f"{edge.low:.4f} to {edge.high:.4f}), by {found.grid.members.size} transmissions of {who}."
    )
    if found.grid.is_one_clock:
        sentence += (
            f" That is by the clock of {'that station' if n_stations == 1 else 'these two'}, and "
            f"clocks are commonly off by up to {STATION_CLOCKS_S:g} s."
        )
    return sentence


def _rate_lines(found: SlotsFound) -> list[str]:
    lines = []
    if found.taken_rate_hz != found.header_rate_hz:
        high = 100.0 * (found.header_rate_hz / found.taken_rate_hz - 1.0)
        lines.append(
            f"  the header says {found.header_rate_hz} samples per second, but it was recorded "
            f"with {found.taken_rate_hz:.0f}: every frequency in the file is wrong by {high:+.2f} %"
        )
    for figure, by in (
        (found.rate_error_ppm, "by the slots"),
        (found.tone_rate_error_ppm, "by the reference tone"),
    ):
        if figure is not None:
            lines.append(
                f"  sample rate {figure.value:+.1f} ppm from the header's {by} (95 %: "
                f"{figure.low:+.1f} to {figure.high:+.1f})"
            )
    if found.grid is not None and found.rate_error_ppm is None:
        lines.append(
            "  sample rate: cannot tell by the slots; one station must be heard in three of them"
        )
    if found.tone_reason is not None:
        lines.append(f"  sample rate: cannot tell by the tone; {found.tone_reason}")
    return lines


def _key_sentence(key: Key, found: SlotsFound, first_sample: datetime) -> str:
    begins = first_sample.isoformat(sep=" ", timespec="milliseconds").replace("+00:00", "")
    n_sent = sum(slot.text is not None for slot in key.slots)
    return (
        f"the recording began at {begins} UTC, if the play began when the key says; "
        f"{len(found.heard)} of the key's {n_sent} transmissions were heard in it"
    )


def _clock_sentence(fast: Figure) -> str:
    side = "fast" if fast.value >= 0.0 else "slow"
    return (
        f"the clock that gave the start was {abs(fast.value):.3f} s {side} (95 %: {fast.low:+.3f} "
        f"to {fast.high:+.3f} s fast, as good as the start was written)"
    )


def _heard_lines(found: SlotsFound) -> list[str]:
    if not found.heard:
        return []
    lines = ["  heard (SNR in 2500 Hz as reported by the receiver):"]
    for item in found.heard[:SHOWN]:
        snr = "  -" if item.snr_db is None else f"{item.snr_db:+5.1f} dB"
        lines.append(f"    {item.start_s:9.4f} s  {item.audio_hz:8.2f} Hz  {snr}  {item.text}")
    if len(found.heard) > SHOWN:
        lines.append(f"    and {len(found.heard) - SHOWN} more (--json lists all)")
    return lines
