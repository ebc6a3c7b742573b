"""What every receiver under test offers. A receiver hears audio and is told nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from solidcopy.signals.waveform import Waveform


@dataclass(frozen=True, slots=True)
class Decode:
    """One message that a receiver reports."""

    text: str
    audio_hz: float | None = None
    """Frequency of the lowest tone."""
    time_offset_s: float | None = None
    """Start of the transmission after the mode's nominal start."""
    snr_db: float | None = None
    """Reported SNR, referred to 2500 Hz."""
    n_corrected_bits: int | None = None
    information_bits: float | None = None
    """Evidence for the word, in bits (docs/explanation/receiver.md)."""
    path: str | None = None
    """Which stage of the receiver found it."""


@dataclass(frozen=True, slots=True)
class Reception:
    """A receiver's answer to one recording: decodes, or the reason of its failure."""

    decodes: tuple[Decode, ...]
    elapsed_s: float
    """Time that passed."""
    failure: str | None = None
    cpu_s: float | None = None
    """Processor time spent on the answer, by all threads and processes of the receiver; None:
    unknown."""


class Receiver(Protocol):
    """One receiver with fixed settings. Nothing is remembered between calls."""

    def receive(self, waveform: Waveform) -> Reception:
        """Decode one slot: the first sample is the slot's UTC edge; any sample rate."""


@runtime_checkable
class ManySlotsReceiver(Receiver, Protocol):
    """A receiver that is quicker when it is handed many slots at once."""

    def receive_many(self, waveforms: Sequence[Waveform]) -> list[Reception]:
        """One reception for each slot, as `receive` would answer; nothing of one slot may alter
        what is decoded in another."""
