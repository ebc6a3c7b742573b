"""A long sound file, written piece by piece and there as a whole or not at all."""

import os
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import soundfile
from numpy.typing import NDArray

from solidcopy import __version__, units
from solidcopy.errors import AudioFileError, CalibrationError
from solidcopy.signals import power, riff
from solidcopy.signals.sample_count import (
    FULL_SCALE_16,
    SampleCounter,
    SampleFacts,
    rounded_to_16_bits,
)
from solidcopy.signals.waveform import Waveform


class AudioStream:
    """One channel of 16-bit WAV. Used with `with`; an error leaves no file behind."""

    def __init__(self, path: Path, *, sample_rate_hz: int) -> None:
        """Begin the file. Raises AudioFileError if it cannot be made."""
        self._path = path
        self._partial = path.with_name(f".{path.name}.{os.getpid()}.part")
        self.sample_rate_hz = sample_rate_hz
        self._counter = SampleCounter("int16")
        self._comment: str | None = None
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
        try:
            if kind is None:
                if self._comment is not None:
                    software = f"solidcopy {__version__}"
                    riff.append_comment(self._partial, self._comment, software=software)
                self._partial.replace(self._path)
        finally:
            self._partial.unlink(missing_ok=True)

    @property
    def position_s(self) -> float:
        """Where the next piece begins."""
        return self.n_samples / self.sample_rate_hz

    @property
    def n_samples(self) -> int:
        """Written so far."""
        return self.facts.n_samples

    @property
    def facts(self) -> SampleFacts:
        """Of what has been written so far."""
        return self._counter.facts

    def comment(self, text: str) -> None:
        """ASCII text that the finished file carries in its comment chunk."""
        self._comment = text

    def append(self, waveform: Waveform) -> None:
        """Rounded to 16 bits, never wrapped.

        Raises: CalibrationError if 16 bits cannot hold the peak.
        """
        if power.peak(waveform.samples) * FULL_SCALE_16 > FULL_SCALE_16 + 0.5:
            over_db = units.peak_dbfs(power.peak(waveform.samples))
            raise CalibrationError(
                f"{self._path}: a peak of {over_db:+.2f} dB from full scale does not fit 16 bits; "
                "lower the level of the plan"
            )
        self._write(rounded_to_16_bits(waveform.samples))

    def append_silence(self, duration_s: float) -> None:
        """Zeros."""
        self._write(np.zeros(round(duration_s * self.sample_rate_hz), np.int16))

    def _write(self, values: NDArray[np.int16]) -> None:
        self._file.write(values)
        self._counter.add(values)
