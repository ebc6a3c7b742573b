"""Check a path of sound: play the test sequence, or take a recording of it, and judge the path."""

import math
from dataclasses import dataclass, fields, is_dataclass
from enum import StrEnum
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import soundfile

from solidcopy import __version__
from solidcopy.actions.path_budget import (
    gain_within_check_db,
    highest_snr_db,
    misread,
    rate_ppm,
)
from solidcopy.actions.path_check_words import lines_of, verdict_line
from solidcopy.actions.path_finding import PathFinding, Verdict, Weight, verdict_of
from solidcopy.actions.path_findings import find_faults
from solidcopy.errors import AudioFileError, CalibrationError, DeviceError
from solidcopy.noise.features.figure import CannotTell, Figure, Reading
from solidcopy.noise.reading.sound import open_sound
from solidcopy.reports.wording import counted
from solidcopy.signals.sample_count import rounded_to_16_bits
from solidcopy.soundcard.card import RATE_HZ
from solidcopy.soundcard.duplex import play_and_record, play_only
from solidcopy.soundcard.path_channels import Sides, hears_difference
from solidcopy.soundcard.path_find import find_sequence
from solidcopy.soundcard.path_measure import Path, gain_db, level_dbfs, measure_path
from solidcopy.soundcard.path_pieces import Below
from solidcopy.soundcard.path_sequence import sequence

LEVEL_DBFS = -12.0
"""Of the loudest tone; noise of a trial that peaks there as well lies 10 dB lower."""
LOWEST_DBFS, HIGHEST_DBFS = -60.0, -0.5
LONGEST_S = 900.0
"""A recording of the sequence needs a minute; an hour would be searched for long."""
STEREO = "left and right of the output arrive on channels of their own; the louder one is taken"
NOT_KNOWN = (
    "Nothing was recorded, so nothing is known of latency, rate, gain, response, noise, "
    "distortion, gain riding, noise reduction or gaps. Record it where it arrives and give the "
    "file to `solidcopy path --heard FILE`."
)


@dataclass(frozen=True, slots=True, eq=False)
class PathCheck:
    """A path that was checked."""

    source: str
    path: Path
    level_dbfs: float
    """Of the loudest tone as sent."""
    latency_s: Reading
    asked_snr_db: float
    findings: tuple[PathFinding, ...]
    notes: tuple[str, ...]
    """Of the recording's file and channels."""

    @property
    def verdict(self) -> Verdict:
        """The worst finding decides."""
        return verdict_of(list(self.findings))

    @property
    def gain_db(self) -> float | None:
        """For `solidcopy play`: what is played then peaks where the loudest tone did; None: the
        path is not fit at that level.
        """
        is_fit = self.verdict is not Verdict.NOT_FIT
        return math.floor(10.0 * gain_within_check_db(self.level_dbfs)) / 10.0 if is_fit else None

    def text(self) -> str:
        """For a person."""
        lines = [f"{self.source}:", *lines_of(self.path, self.level_dbfs, self.latency_s)]
        lines += [f"  {note}" for note in self.notes]
        if self.findings:
            lines.append("found:")
        for finding in self.findings:
            lines.append(f"  {finding.sentence}")
            if finding.advice:
                lines.append(f"    to do: {finding.advice}")
        lines.append(verdict_line(self.verdict, self.findings))
        if self.gain_db is not None:
            lines.append(
                f"play with --gain-db {self.gain_db:.1f}: peaks are then no higher than the "
                "loudest tone's, which was checked"
            )
        return "\n".join(lines)

    def as_dict(self) -> dict[str, Any]:
        """For a program; docs/howto/check-the-sound-path.md says what the fields mean."""
        path = self.path
        return {
            "made_by": f"solidcopy {__version__}",
            "source": self.source,
            "verdict": str(self.verdict),
            "gain_for_playing_db": self.gain_db,
            "findings": [_plain(finding) for finding in self.findings],
            "notes": list(self.notes),
            "sent_dbfs": self.level_dbfs,
            "heard_dbfs": level_dbfs(path),
            "latency_s": _plain(self.latency_s),
            "rate_error_ppm": _plain(rate_ppm(path)),
            "misread_ratio": misread(path),
            "gain_db": _plain(gain_db(path, self.level_dbfs)),
            "highest_snr_db": highest_snr_db(path),
            "polarity_rad": _plain(path.polarity_rad),
            "slips": _plain(path.timing.slips),
            "holes": _plain(path.holes),
            "flat_tops": _plain(path.flat_tops),
            "steps": _plain(path.steps),
            "tones": _plain(path.tones),
            "response": _plain(path.response, leave_out=("impulse", "n_before")),
            "floor": _plain(path.floor),
            "noise_treatment": _plain(path.treatment),
            "sides": _plain(path.sides),
        }


def write_sequence(file: FilePath, *, level_dbfs: float) -> None:
    """Write the test sequence as a 16-bit stereo WAV at 48 kHz.

    Raises: AudioFileError if it cannot be written; CalibrationError for a level out of range.
    """
    _check_level(level_dbfs)
    partial = file.with_name(f".{file.name}.part")
    try:
        words = rounded_to_16_bits(sequence().played(level_dbfs))
        soundfile.write(partial, words, RATE_HZ, format="WAV", subtype="PCM_16")
        partial.replace(file)
    except (OSError, soundfile.LibsndfileError) as error:
        raise AudioFileError(f"{file}: cannot be written ({error}); choose another") from None
    finally:
        partial.unlink(missing_ok=True)


def check_recording(file: FilePath, *, level_dbfs: float, asked_snr_db: float) -> PathCheck:
    """Judge a path by a recording of the test sequence that came through it.

    Raises: AudioFileError if the sequence is not in it as a whole.
    """
    with open_sound(file) as sound:
        if sound.duration_s > LONGEST_S:
            raise AudioFileError(
                f"{file}: lasts {sound.duration_s / 60:.0f} min; cut it to the test sequence and "
                "a little before and after"
            )
        frames = sound.read(0, sound.n_samples)
        rate_hz = sound.sample_rate_hz
        notes = tuple(finding.sentence for finding in sound.findings)
        is_lossy = sound.facts.is_lossy
    if not np.isfinite(frames).all():
        raise AudioFileError(f"{file}: holds samples that are no numbers; export it again")
    try:
        path, channels = _measured(frames, rate_hz)
    except AudioFileError as error:
        raise AudioFileError(f"{file}: {error}") from None
    latency = CannotTell("a recording does not say when its sound was sent")
    extra = [_LOSSY] if is_lossy else []
    notes = (*notes, *channels)
    return _judged(str(file), path, level_dbfs, latency, (asked_snr_db, notes, extra))


def check_devices(
    output: str | None, source: str | None, *, level_dbfs: float, asked_snr_db: float
) -> PathCheck:
    """Play the test sequence into one device, record it from another, and judge the path.

    Args:
        output, source: number or name of the devices; None: the system's defaults.
    Raises: DeviceError if a device cannot be used or the sequence was not heard.
    """
    _check_level(level_dbfs)
    heard = play_and_record(sequence().played(level_dbfs), output=output, source=source)
    try:
        path, notes = _measured(heard.frames, RATE_HZ)
    except AudioFileError as error:
        raise DeviceError(f"played and listened: {error}") from None
    latency = Figure(path.sequence_at_s, _timing_error_s(path))
    if heard.n_torn:
        again = counted(heard.n_torn, "try", "tries")
        notes = (*notes, f"{again} broken off before, as a device ran dry: this machine is busy")
    return _judged(
        f"{output or 'the default output'} to {source or 'the default input'}",
        path,
        level_dbfs,
        latency,
        (asked_snr_db, notes, []),
    )


def play_sequence(output: str | None, *, level_dbfs: float) -> str:
    """Play the test sequence only; what was done and what it cannot know, in words."""
    _check_level(level_dbfs)
    n_dry = play_only(sequence().played(level_dbfs), output=output)
    dry = f"; the system reports {n_dry} blocks in which it ran dry" if n_dry else ""
    return f"played {sequence().duration_s:.0f} s at {level_dbfs:g} dBFS{dry}\n{NOT_KNOWN}"


_LOSSY = PathFinding(
    "lossy",
    Weight.CARE,
    "the recording is lossy: its noise, distortion and response above some kHz are its coder's",
    "record as WAV or FLAC",
)


def _judged(
    source: str,
    path: Path,
    level_dbfs: float,
    latency: Reading,
    rest: tuple[float, tuple[str, ...], list[PathFinding]],
) -> PathCheck:
    asked_snr_db, notes, extra = rest
    found = find_faults(path, asked_snr_db=asked_snr_db)
    # That the louder channel hears one side only is no fault where the other hears the other.
    found = [one for one in found if one.kind != "one side" or STEREO not in notes]
    findings = (*found, *extra)
    return PathCheck(source, path, level_dbfs, latency, asked_snr_db, findings, notes)


def _check_level(power_dbfs: float) -> None:
    if not LOWEST_DBFS <= power_dbfs <= HIGHEST_DBFS:
        raise CalibrationError(
            f"a level of {power_dbfs:g} dBFS is asked; {LOWEST_DBFS:g} to {HIGHEST_DBFS:g} can be "
            "played (0 is a sine that touches full scale)"
        )


def _measured(frames: np.ndarray, rate_hz: int) -> tuple[Path, tuple[str, ...]]:
    """The channel in which the sequence is heard the loudest, and what the other one hears."""
    found = [(find_sequence(channel, rate_hz), channel) for channel in frames]
    heard = [(one.height, channel) for one, channel in found if one is not None]
    if not heard:
        if any(hears_difference(channel, rate_hz) for channel in frames):
            raise AudioFileError(
                "only the difference of left and right is heard, so what is played on both "
                "cancels: turn the wires of one channel over, or play on one channel only"
            )
        raise AudioFileError(
            "the test sequence was not heard: check that output and input are the ones meant, "
            "that nothing is muted, and the levels"
        )
    heard.sort(key=lambda one: -one[0])
    path, *others = (measure_path(channel, rate_hz) for _, channel in heard[:2])
    if path is None:
        raise AudioFileError("the test sequence was not heard")
    if others and others[0] is not None:
        return path, (_both_channels(path.sides, others[0].sides),)
    return path, ()


def _both_channels(first: Sides | CannotTell, second: Sides | CannotTell) -> str:
    """How the two channels of an input hear the two of the output."""
    if isinstance(first, CannotTell) or isinstance(second, CannotTell):
        return "the input's louder channel is taken"
    is_apart = first.left * second.left == 0.0 == first.right * second.right
    if is_apart and first.left + second.left > 0.0 and first.right + second.right > 0.0:
        return STEREO
    return "both channels of the input hear the same side or mix; the louder one is taken"


def _timing_error_s(path: Path) -> float:
    first = path.timing.arrivals[0]
    return max(first.sigma / 12_000, 1e-6)


def _plain(value: Any, leave_out: tuple[str, ...] = ()) -> Any:
    """Lists, numbers and words that JSON knows; what cannot be told says so."""
    if isinstance(value, CannotTell | Below):
        told = value.reason if isinstance(value, CannotTell) else value.limit
        return {"cannot_tell" if isinstance(value, CannotTell) else "below": told}
    if is_dataclass(value) and not isinstance(value, type):
        kept = (field.name for field in fields(value) if field.name not in leave_out)
        return {name: _plain(getattr(value, name)) for name in kept}
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, np.ndarray | list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, StrEnum):
        return str(value)
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value
