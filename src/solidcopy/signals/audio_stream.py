"""A long sound file, written piece by piece and there as a whole or not at all."""

import os
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import soundfile

from solidcopy import units
from solidcopy.errors import AudioFileError, CalibrationError
from solidcopy.signals import power
from solidcopy.signals.waveform import Waveform

FULL_SCALE = 32768.0


class AudioStream:
    """One channel of 16-bit WAV. Used with `with`; an error leaves no file behind."""

    def __init__(self, path: Path, *, sample_rate_hz: int) -> None:
        """Begin the file. Raises AudioFileError if it cannot be made."""
        self._path = path
        self._partial = path.with_name(f".{path.name}.{os.getpid()}.part")
        self._sample_rate_hz = sample_rate_hz
        self._n_samples = 0
        try:
            self._file = soundfile.SoundFile(
                self._partial, "w", sample_rate_hz, 1, "PCM_16", format="WAV"
            )
        except (OSError, soundfile.LibsndfileError) as error:
            raise AudioFileError(f"{path}: cannot be written ({error}); choose another") from None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()
        if kind is None:
            self._partial.replace(self._path)
        else:
            self._partial.unlink(missing_ok=True)

    @property
    def position_s(self) -> float:
        """Where the next piece begins."""
        return self._n_samples / self._sample_rate_hz

    def append(self, waveform: Waveform) -> None:
        """Rounded to 16 bits, never wrapped.

        Raises: CalibrationError if 16 bits cannot hold the peak.
        """
        scaled = np.rint(waveform.samples.astype(np.float64) * FULL_SCALE)
        if np.max(np.abs(scaled), initial=0.0) > FULL_SCALE:
            over_db = units.peak_dbfs(power.peak(waveform.samples))
            raise CalibrationError(
                f"{self._path}: a peak of {over_db:+.2f} dB from full scale does not fit 16 bits; "
                "lower the level of the plan"
            )
        held = np.minimum(scaled, FULL_SCALE - 1.0)  # +1.0 itself lies one step too high
        self._file.write(held.astype(np.int16))
        self._n_samples += waveform.samples.size

    def append_silence(self, duration_s: float) -> None:
        """Zeros."""
        n_samples = round(duration_s * self._sample_rate_hz)
        self._file.write(np.zeros(n_samples, np.int16))
        self._n_samples += n_samples
