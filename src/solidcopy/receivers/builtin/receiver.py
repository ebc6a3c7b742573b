"""The built-in receiver: one slot of audio in, messages out."""

from collections.abc import Generator, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.errors import MessageError
from solidcopy.modes.mode import CodedMode
from solidcopy.receivers.builtin.evidence import information_bits, residual_hz
from solidcopy.receivers.builtin.framing import Framing, framing_of
from solidcopy.receivers.builtin.front_end import EXTRA_S, Cells
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.narrow_band import Tuner, build_tuner
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.builtin.stages import (
    Band,
    Belief,
    Believed,
    CompiledStages,
    FirstSearch,
    Hearing,
    Listing,
    NextSearch,
    Pursuit,
    Question,
    Searched,
    hear_all,
)
from solidcopy.receivers.builtin.subtract import Portion, Transmission, take_out
from solidcopy.receivers.builtin.words import Word, n_corrected
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.signals.waveform import Waveform

LOWEST_INFORMATION_BITS = 77.0
"""The length of the payload: with more the word is likelier right than wrong (evidence.py)."""
LOWEST_UNCHECKED_BITS = 87.0
"""For words that were found with the help of their CRC, which then says nothing more. A keyed
carrier made one of 80 bits in 800 slots; of right words near the threshold 5 of 100 have less."""
HIGHEST_INFORMATION_BITS = 175.0
"""More than the code has: only broken arithmetic can show it."""
DETECTION_LOSS_DB = 0.1
"""What a cell misses of a symbol's energy: 0.06 dB for the shaped frequency (random messages,
noise-free), the rest for timing and the band's edges (measured)."""
SAME_AUDIO_HZ = 25.0
SAME_START_S = 0.5
"""Closer than both and equal in payload: one transmission."""
NEAR_AUDIO_HZ = 4.0
NEAR_START_S = 0.1
"""Closer than both to a decoded transmission: its own leakage, not worth ordered statistics."""
LEAKAGE_AUDIO_HZ = 45.0
LEAKAGE_SHARE = 0.1
"""So is what is closer than that and has less of its power than that, until it is subtracted."""


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """An accepted word with its place."""

    place: Located
    word: Word
    decode: Decode
    """All but the SNR, which waits for the last search."""
    transmission: Transmission
    own_power: float
    """Mean power of its cells, noise included, on the scale of a noise floor."""


@dataclass(frozen=True, slots=True, eq=False)
class BuiltinReceiver:
    """Blind full-band receiver of one mode. Holds settings and tables, nothing that changes."""

    settings: BuiltinSettings
    mode: CodedMode
    framing: Framing
    tuner: Tuner

    @property
    def band(self) -> Band:
        """What is searched."""
        return Band(self.framing, self.tuner, self.settings)

    def receive(self, waveform: Waveform) -> Reception:
        """Decode one slot: the first sample is the slot's UTC edge; any sample rate.

        Audio past the slot and `EXTRA_S` is not listened to; a short recording is heard as far
        as it goes.
        """
        (reception,) = hear_all([self.hearing(waveform)], CompiledStages(self.band))
        return reception

    def hearing(self, waveform: Waveform) -> Hearing:
        """All decisions about one slot; the stages that it asks for are answered outside."""
        found: list[_Found] = []
        portions: list[Portion] = []
        searched: Searched = yield FirstSearch(waveform)
        for n_left in reversed(range(self.settings.passes)):
            if searched.cells is None:
                break
            heard = yield from self._heard(searched.places, found)
            new = [item for item in heard if not _is_repeated(item.place, item.word, found)]
            found += new
            if not new or n_left == 0:
                break
            heard.sort(key=lambda item: -item.place.block_power)
            around_hz = [item.place.audio_hz for item in heard]
            transmissions = [item.transmission for item in heard]
            rest, portions = take_out(searched.spectrum, portions, transmissions, self.mode)
            searched = yield NextSearch(rest, around_hz)
        return tuple(self._told(item, searched.cells) for item in found)

    def decode_places(self, places: list[Located]) -> tuple[Decode, ...]:
        """Decode located places; one transmission is reported once."""

        def hearing() -> Hearing:
            heard = yield from self._heard(places, [])
            return tuple(self._told(item, None) for item in heard)

        (reception,) = hear_all([hearing()], CompiledStages(self.band))
        return reception.decodes

    def _told(self, found: _Found, cells: Cells | None) -> Decode:
        """A decode, its SNR over the noise floor of the last search.

        What was decoded is out of the audio by then, so that a crowd does not raise the floor.
        """
        floor = found.place.floor_power
        if cells is not None:
            floor = cells.floor_at(found.place.audio_hz)
        snr_db = _snr_db(found.own_power, floor, symbol_s=self.framing.facts.symbol_s)
        return replace(found.decode, snr_db=snr_db)

    def _heard(
        self, places: list[Located], earlier: list[_Found]
    ) -> Generator[Question, Any, list[_Found]]:
        """Words at located places, each transmission once; those found `earlier` may be there."""
        if not places:
            return []
        believed: Believed = yield Belief(places)
        found: list[_Found] = []
        left = []
        for place, rows, word in zip(places, believed.metrics, believed.words, strict=True):
            if word is None:
                left.append((place, rows))
            else:
                self._accept(found, place, word, rows)
        if self.settings.effort != "belief-propagation":
            left = [
                (place, rows)
                for place, rows in left
                if not (_is_leakage(place, found) or _is_at_one(place, earlier))
            ]
        if self.settings.effort != "belief-propagation" and left:
            listed: list[Iterator[Word]] = yield Listing([rows for _, rows in left])
            left = [
                (place, rows)
                for (place, rows), words in zip(left, listed, strict=True)
                if not _is_leakage(place, found) and not self._is_any(found, place, words, rows)
            ]
        if self.settings.effort == "phase-trellis":
            left = [(place, rows) for place, rows in left if not _is_leakage(place, found)]
        if self.settings.effort == "phase-trellis" and left:
            pursued: list[Iterator[Word]] = yield Pursuit(
                [place for place, _ in left], [rows for _, rows in left]
            )
            for (place, rows), words in zip(left, pursued, strict=True):
                if not _is_leakage(place, found):
                    self._is_any(found, place, words, rows)
        return found

    def _is_any(
        self,
        found: list[_Found],
        place: Located,
        words: Iterator[Word],
        metrics: NDArray[np.float32],
    ) -> bool:
        """Whether any of several words is acceptable; the first that is goes to `found`."""
        return any(self._accept(found, place, word, metrics) for word in words)

    def _accept(
        self, found: list[_Found], place: Located, word: Word, metrics: NDArray[np.float32]
    ) -> bool:
        """Append the word to `found` if its evidence suffices and it is not there yet."""
        facts = self.framing.facts
        tones = self.framing.tones_of(word.bits)
        information = information_bits(place.spectra, tones, self.framing, es_n0=place.es_n0)
        lowest_bits = LOWEST_INFORMATION_BITS if word.is_checked else LOWEST_UNCHECKED_BITS
        if not lowest_bits <= information <= HIGHEST_INFORMATION_BITS:
            return False
        if _is_repeated(place, word, found):
            return True
        try:
            text = self.mode.unpack(self.mode.layout.payload_of(word.bits))
        except MessageError:
            return False
        own_cells = place.spectra[np.arange(facts.n_symbols), tones]
        error_hz = residual_hz(own_cells, facts.symbol_s)
        decode = Decode(
            text=text,
            audio_hz=place.audio_hz + error_hz,
            time_offset_s=place.start_s - facts.nominal_start_s,
            n_corrected_bits=n_corrected(word.bits, metrics),
            information_bits=information,
            path=word.path,
        )
        transmission = Transmission(tones, place.audio_hz + error_hz, place.start_s)
        found.append(_Found(place, word, decode, transmission, _own_power(own_cells, place)))
        return True


def _own_power(own_cells: NDArray[np.complex64], place: Located) -> float:
    """Mean power of a word's cells, those outside the audio left out."""
    powers = np.abs(own_cells[own_cells != 0]).astype(np.float64) ** 2
    return float(powers.mean()) * place.noise_power


def _snr_db(own_power: float, floor_power: float, *, symbol_s: float) -> float:
    """SNR in 2500 Hz from the mean power of a word's cells and the noise floor around it."""
    es_n0 = max(own_power / floor_power - 1.0, 0.1)
    es_n0_db = units.db_from_ratio(es_n0) + DETECTION_LOSS_DB
    return units.snr_from_es_n0(es_n0_db, symbol_s=symbol_s)


def _is_repeated(place: Located, word: Word, found: list[_Found]) -> bool:
    """Whether the same transmission has been found already."""
    return any(
        abs(place.audio_hz - other.place.audio_hz) < SAME_AUDIO_HZ
        and abs(place.start_s - other.place.start_s) < SAME_START_S
        and np.array_equal(word.bits, other.word.bits)
        for other in found
    )


def _is_at_one(place: Located, found: list[_Found]) -> bool:
    """Whether a place is that of a decoded transmission."""
    return any(
        abs(place.audio_hz - other.place.audio_hz) < NEAR_AUDIO_HZ
        and abs(place.start_s - other.place.start_s) < NEAR_START_S
        for other in found
    )


def _is_leakage(place: Located, found: list[_Found]) -> bool:
    """Whether a place is probably nothing but the leakage of a decoded transmission."""
    return _is_at_one(place, found) or any(
        abs(place.audio_hz - other.place.audio_hz) < LEAKAGE_AUDIO_HZ
        and place.block_power < LEAKAGE_SHARE * other.place.block_power
        for other in found
    )


def build_receiver(settings: BuiltinSettings, mode: CodedMode) -> BuiltinReceiver:
    """The receiver of `mode`."""
    framing = framing_of(mode)
    return BuiltinReceiver(
        settings=settings,
        mode=mode,
        framing=framing,
        tuner=build_tuner(framing, 1.0 / (framing.facts.slot_s + EXTRA_S)),
    )
