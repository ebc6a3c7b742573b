"""Which symbols of a transmission were hit: the sent tone against the strongest other one."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from solidcopy import units
from solidcopy.actions.served import served
from solidcopy.modes.mode import Bits, CodedMode, Tones
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.at_place import Spectra, n_wrong_bits, spectra_at
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.trial import Truth

Role = Literal["data", "sync", "ramp"]
ROLE_WORDS = {"data": "", "sync": ", Costas", "ramp": ", ramp"}
MOST_MARGIN_DB = 40.0
LEAST_POWER = 1e-30
"""Added to every cell, so that silence is a tie and not a division by nothing."""
CLEAR_DB, FAIR_DB = 6.0, 2.0
"""Margins from which on a symbol is called clearly or fairly right or wrong; ours."""

PLAIN_WORDS = "The audio as it is, at the true place: what any receiver had to work with."
MENDED_WORDS = (
    "As the built-in receiver mends the audio before it decodes: steady carriers are taken out, "
    "and moments that are louder than usual count for less."
)


@served
@dataclass(frozen=True, slots=True)
class Symbol:
    """One symbol of the transmission."""

    number: int
    """From 0, from the start of the transmission."""
    at_s: float
    """Its beginning in the slot."""
    role: Role
    """Carries bits, is known to every receiver (Costas array), or only ramps."""
    tone: int
    """As sent, 0 the lowest."""
    strongest_tone: int
    """As found."""
    margin_db: float | None
    """Power of the sent tone over the strongest other one; negative: wrong. Null: not in the
    audio."""
    words: str
    """The same for a person."""


@served
@dataclass(frozen=True, slots=True)
class SymbolRow:
    """All symbols, by one treatment of the audio."""

    words: str
    """What was done to the audio."""
    counts: str
    """How many symbols and bits are wrong, in a sentence."""
    n_wrong: int
    n_heard: int
    """Symbols within the audio, those that only ramp left out."""
    symbols: tuple[Symbol, ...]


@served
@dataclass(frozen=True, slots=True)
class SymbolPicture:
    """Symbols at the true time and frequency of the transmission."""

    symbol_s: float
    plain: SymbolRow
    mended: SymbolRow


def symbol_picture(waveform: Waveform, mode_name: str, truth: Truth) -> SymbolPicture | None:
    """Which symbols of what was sent are right in a slot; None where nothing was sent, and in a
    mode without a code.

    Args:
        waveform: the slot.
        mode_name: of the transmission.
        truth: what was sent, where it arrives.
    """
    mode = mode_named(mode_name)
    if truth.message is None or not isinstance(mode, CodedMode):
        return None
    start_s = mode.facts.nominal_start_s + truth.time_offset_s
    spectra = spectra_at(waveform, mode, audio_hz=truth.audio_hz, start_s=start_s)
    message = truth.message
    sent = _Sent(mode, mode.encode(message), message.bits(), start_s, waveform.duration_s)
    return SymbolPicture(
        symbol_s=mode.facts.symbol_s,
        plain=_row(PLAIN_WORDS, spectra.plain, sent),
        mended=_row(MENDED_WORDS, spectra.mended, sent),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Sent:
    mode: CodedMode
    tones: Tones
    payload: Bits
    start_s: float
    audio_s: float


def margins_db(spectra: Spectra, tones: Tones) -> list[float]:
    """Power of each sent tone over the strongest other one, dB."""
    powers = np.square(np.abs(spectra.astype(np.complex128))) + LEAST_POWER
    margins = []
    for own, tone in zip(powers, tones.tolist(), strict=True):
        margin = units.db_from_ratio(float(own[tone] / np.delete(own, tone).max()))
        margins.append(min(max(margin, -MOST_MARGIN_DB), MOST_MARGIN_DB))
    return margins


def _row(words: str, spectra: Spectra, sent: _Sent) -> SymbolRow:
    facts, layout = sent.mode.facts, sent.mode.layout
    sync = set(layout.sync_symbols.ravel().tolist())
    data = set(layout.data_symbols.tolist())
    strongest = np.abs(spectra).argmax(axis=1).tolist()
    symbols = []
    for number, found in enumerate(margins_db(spectra, sent.tones)):
        role: Role = "sync" if number in sync else "data" if number in data else "ramp"
        at_s = sent.start_s + number * facts.symbol_s
        # Half of it is enough to tell something.
        is_heard = 0.0 <= at_s + facts.symbol_s / 2.0 <= sent.audio_s
        margin = found if is_heard else None
        tones = (int(sent.tones[number]), strongest[number])
        symbols.append(
            Symbol(
                number=number,
                at_s=round(at_s, 4),
                role=role,
                tone=tones[0],
                strongest_tone=tones[1],
                margin_db=None if margin is None else round(margin, 2),
                words=_symbol_words(number, at_s, role, tones, margin),
            )
        )
    heard = [one for one in symbols if one.margin_db is not None and one.role != "ramp"]
    wrong = [one for one in heard if is_wrong(one)]
    n_bits = n_wrong_bits(spectra, sent.mode, layout.codeword_of(sent.payload))
    return SymbolRow(
        words=words,
        counts=f"{_counts(heard, wrong)} {_bit_counts(n_bits, layout.code.n_bits)}",
        n_wrong=len(wrong),
        n_heard=len(heard),
        symbols=tuple(symbols),
    )


def is_wrong(symbol: Symbol) -> bool:
    """Whether another tone than the sent one is the strongest."""
    return symbol.margin_db is not None and symbol.margin_db < 0.0


def _counts(heard: Sequence[Symbol], wrong: Sequence[Symbol]) -> str:
    def of(role: Role) -> str:
        n_all = sum(one.role == role for one in heard)
        return f"{sum(one.role == role for one in wrong)} of {n_all}"

    return (
        f"{len(wrong)} of {len(heard)} symbols wrong: {of('sync')} of the Costas arrays, "
        f"{of('data')} that carry bits."
    )


def _bit_counts(n_bits: dict[int, int], n_all: int) -> str:
    longest = max(n_bits)
    return (
        f"Of {n_all} code bits {n_bits[1]} point the wrong way, taken symbol by symbol; "
        f"{n_bits[longest]} with {longest} symbols taken together."
    )


def _symbol_words(
    number: int, at_s: float, role: Role, tones: tuple[int, int], margin: float | None
) -> str:
    """E.g. "Symbol 37, Costas, at 6.42 s: wrong, barely: tone 3 was sent, tone 5 is 1.2 dB ..."."""
    start = f"Symbol {number}{ROLE_WORDS[role]}, at {at_s:.2f} s: "
    if margin is None:
        return start + "not in the audio"
    size = abs(margin)
    sure = "clearly" if size >= CLEAR_DB else "fairly" if size >= FAIR_DB else "barely"
    if margin < 0.0:
        return (
            f"{start}wrong, {sure}: tone {tones[0]} was sent, tone {tones[1]} is {size:.1f} dB "
            "stronger"
        )
    return f"{start}right, {sure}: tone {tones[0]}, {size:.1f} dB over the next"
