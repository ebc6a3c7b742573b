"""The stages that cost the receiver its time, as questions that it asks while it hears a slot.

What is decided in between (receiver.py) asks and waits. So the same decisions can be served slot
by slot by the compiled loops (here), or for many slots at once (batched).
"""

import time
from collections import defaultdict
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from solidcopy.receivers.builtin.carriers import without_carriers
from solidcopy.receivers.builtin.framing import Framing
from solidcopy.receivers.builtin.front_end import (
    Cells,
    LongSpectrum,
    cell_grid,
    long_spectrum,
    work_samples,
)
from solidcopy.receivers.builtin.locate import Located, locate
from solidcopy.receivers.builtin.narrow_band import Tuner
from solidcopy.receivers.builtin.search import LOW_REACH, USUAL_REACH, Bars, find_candidates
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.builtin.trellis import followed_words
from solidcopy.receivers.builtin.words import Word, believed_words, listed_words, soft_bits
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.signals.waveform import Waveform

REACH_WIDTHS = 6
"""Widths of the mode within which a subtracted transmission is worth another search: half of the
floor's median, and room for both transmissions. Further away nothing has changed."""


@dataclass(frozen=True, slots=True, eq=False)
class FirstSearch:
    """What is in a slot? Answered by `Searched`."""

    waveform: Waveform


@dataclass(frozen=True, slots=True, eq=False)
class NextSearch:
    """What is left in a slot around what was taken out of it? Answered by `Searched`."""

    spectrum: LongSpectrum
    around_hz: list[float]


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """Which words does belief propagation find at places? Answered by `Believed`."""

    places: list[Located]


@dataclass(frozen=True, slots=True, eq=False)
class Listing:
    """Which words do ordered statistics find at places? Answered by an iterator for each."""

    metrics: list[NDArray[np.float32]]
    """(n_sets, n_bits) of every place."""


@dataclass(frozen=True, slots=True, eq=False)
class Pursuit:
    """Which words does following the phase find at places? Answered by an iterator for each."""

    places: list[Located]
    metrics: list[NDArray[np.float32]]
    """(n_sets, n_bits) of every place, a set for each of `words.metric_names`."""


@dataclass(frozen=True, slots=True, eq=False)
class Searched:
    """A slot's spectrum and the places in it worth decoding."""

    spectrum: LongSpectrum
    cells: Cells | None
    """None where there is nothing to hear."""
    places: list[Located]


@dataclass(frozen=True, slots=True, eq=False)
class Believed:
    """Soft bits of places, and their words."""

    metrics: NDArray[np.float32]
    """(n_places, n_sets, n_bits)."""
    words: list[Word | None]


Question = FirstSearch | NextSearch | Belief | Listing | Pursuit
ORDER = (FirstSearch, Belief, Listing, Pursuit, NextSearch)
"""In which kinds of questions are answered, so that slots wait for each other."""
Hearing = Generator[Question, Any, tuple[Decode, ...]]
"""One slot being heard: asks, is sent the answer, and ends with what it decodes."""


class Stages(Protocol):
    """Whoever answers; always all questions of one kind, and in their order."""

    def answer(self, questions: list[Any]) -> list[Any]:
        """One answer for each question."""


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """What is searched, and with which tables."""

    framing: Framing
    tuner: Tuner
    settings: BuiltinSettings

    @property
    def bars(self) -> Bars:
        """What a place must show."""
        is_highest = self.settings.effort == "phase-trellis"
        return (LOW_REACH if is_highest else USUAL_REACH).bars(self.framing)

    @property
    def carriers_hz(self) -> tuple[float, float]:
        """Lowest and highest frequency at which carriers are looked for."""
        width_hz = self.framing.facts.width_hz
        return self.settings.low_hz - width_hz, self.settings.high_hz + 2 * width_hz

    @property
    def reach_hz(self) -> float:
        """How far from a subtracted transmission a slot is searched again."""
        return REACH_WIDTHS * self.framing.facts.width_hz


@dataclass(frozen=True, slots=True, eq=False)
class CompiledStages:
    """Answers slot by slot, with the compiled loops."""

    band: Band

    def answer(self, questions: list[Question]) -> list[Any]:
        """One answer for each question."""
        return [self._answer(question) for question in questions]

    def _answer(self, question: Question) -> Searched | Believed | list[Iterator[Word]]:
        framing = self.band.framing
        match question:
            case FirstSearch(waveform):
                raw = long_spectrum(work_samples(waveform), framing.facts)
                low_hz, high_hz = self.band.carriers_hz
                return self._searched(without_carriers(raw, low_hz=low_hz, high_hz=high_hz), None)
            case NextSearch(spectrum, around_hz):
                return self._searched(spectrum, around_hz)
            case Belief(places):
                metrics = np.stack([soft_bits(place.spectra, framing) for place in places])
                return Believed(metrics, believed_words(metrics, framing))
            case Listing(metrics):
                return [listed_words(own, framing) for own in metrics]
            case Pursuit(places, rows):
                return [
                    followed_words(place, own, framing)
                    for place, own in zip(places, rows, strict=True)
                ]

    def _searched(self, spectrum: LongSpectrum, around_hz: list[float] | None) -> Searched:
        """Places worth decoding; with `around_hz` only those near one of these frequencies."""
        band, settings = self.band, self.band.settings
        cells = cell_grid(
            spectrum, band.framing.facts, low_hz=settings.low_hz, high_hz=settings.high_hz
        )
        if cells is None:
            return Searched(spectrum, None, [])
        candidates = find_candidates(cells, band.framing, band.bars)
        if around_hz is not None:
            candidates = candidates.near(around_hz, band.reach_hz)
        return Searched(spectrum, cells, locate(spectrum, cells, candidates, band.tuner, band.bars))


def hear_all(hearings: list[Hearing], stages: Stages) -> list[Reception]:
    """Hear slots side by side: all questions of one kind are answered together.

    Args:
        hearings: one for each slot.
        stages: answers.
    Returns: what was decoded in each slot; its times are those of its own decisions and an equal
        share of the stages it took part in.
    Raises: whatever a hearing or a stage raises.
    """
    elapsed_s = [0.0] * len(hearings)
    cpu_s = [0.0] * len(hearings)
    decodes: list[tuple[Decode, ...]] = [()] * len(hearings)
    waiting: dict[type[Question], list[tuple[int, Question]]] = defaultdict(list)

    def go_on(slot: int, answer: Any) -> None:
        started_s, started_cpu_s = time.perf_counter(), time.process_time()
        try:
            question = hearings[slot].send(answer)
            waiting[type(question)].append((slot, question))
        except StopIteration as end:
            decodes[slot] = end.value
        elapsed_s[slot] += time.perf_counter() - started_s
        cpu_s[slot] += time.process_time() - started_cpu_s

    for slot in range(len(hearings)):
        go_on(slot, None)
    while kinds := [kind for kind in ORDER if waiting[kind]]:
        asked = waiting.pop(kinds[0])
        started_s, started_cpu_s = time.perf_counter(), time.process_time()
        answers = stages.answer([question for _, question in asked])
        share_s = (time.perf_counter() - started_s) / len(asked)
        share_cpu_s = (time.process_time() - started_cpu_s) / len(asked)
        for (slot, _), answer in zip(asked, answers, strict=True):
            elapsed_s[slot] += share_s
            cpu_s[slot] += share_cpu_s
            go_on(slot, answer)
    return [
        Reception(found, took_s, cpu_s=used_s)
        for found, took_s, used_s in zip(decodes, elapsed_s, cpu_s, strict=True)
    ]
