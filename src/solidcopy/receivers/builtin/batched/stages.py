"""Answers the receiver's questions for many slots at once."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from solidcopy.receivers.builtin.batched.arrays import Namespace, on_host
from solidcopy.receivers.builtin.batched.front_end import (
    Spectra,
    cell_grids,
    long_spectra,
    remove_carriers,
    spectra_of,
)
from solidcopy.receivers.builtin.batched.places import Aligner, locate_all
from solidcopy.receivers.builtin.batched.pursuit import pursued_words
from solidcopy.receivers.builtin.batched.reduced import nearest_words
from solidcopy.receivers.builtin.batched.search import find_candidates
from solidcopy.receivers.builtin.batched.soft_bits import soft_bits
from solidcopy.receivers.builtin.front_end import LongSpectrum, work_samples
from solidcopy.receivers.builtin.stages import (
    Band,
    Belief,
    Believed,
    FirstSearch,
    Listing,
    NextSearch,
    Pursuit,
    Question,
    Searched,
)
from solidcopy.receivers.builtin.words import Word, believed_words, checked_words, in_list_order


@dataclass(frozen=True, slots=True, eq=False)
class BatchedStages:
    """Answers all questions of one kind with array operations of one namespace."""

    band: Band
    xp: Namespace

    def answer(self, questions: Sequence[Question]) -> list[Any]:
        """One answer for each question; all are of one kind."""
        match questions[0]:
            case FirstSearch():
                return self._first_searches(
                    [ask for ask in questions if isinstance(ask, FirstSearch)]
                )
            case NextSearch():
                return self._next_searches(
                    [ask for ask in questions if isinstance(ask, NextSearch)]
                )
            case Belief():
                return self._beliefs([ask for ask in questions if isinstance(ask, Belief)])
            case Listing():
                return self._lists([ask for ask in questions if isinstance(ask, Listing)])
            case Pursuit():
                return self._pursuits([ask for ask in questions if isinstance(ask, Pursuit)])

    def _first_searches(self, asked: list[FirstSearch]) -> list[Searched]:
        samples = [work_samples(ask.waveform) for ask in asked]
        answers: dict[int, Searched] = {}
        low_hz, high_hz = self.band.carriers_hz
        for places in _alike([own.size for own in samples]):
            spectra = long_spectra(
                self.xp, [samples[place] for place in places], self.band.framing.facts
            )
            remove_carriers(self.xp, spectra, low_hz=low_hz, high_hz=high_hz)
            there = spectra.host_spectra()
            found = self._searched(spectra, there, [None] * len(places))
            answers |= zip(places, found, strict=True)
        return [answers[place] for place in range(len(asked))]

    def _next_searches(self, asked: list[NextSearch]) -> list[Searched]:
        answers: dict[int, Searched] = {}
        for places in _alike([ask.spectrum.heard_s for ask in asked]):
            own = [asked[place] for place in places]
            there = [ask.spectrum for ask in own]
            spectra = spectra_of(self.xp, there)
            found = self._searched(spectra, there, [ask.around_hz for ask in own])
            answers |= zip(places, found, strict=True)
        return [answers[place] for place in range(len(asked))]

    def _searched(
        self,
        spectra: Spectra,
        there: list[LongSpectrum],
        around_hz: Sequence[list[float] | None],
    ) -> list[Searched]:
        """Places worth decoding in each slot, as `CompiledStages` finds them."""
        band, settings = self.band, self.band.settings
        grids = cell_grids(
            self.xp,
            spectra,
            band.framing.facts,
            low_hz=settings.low_hz,
            high_hz=settings.high_hz,
        )
        candidates = [
            own if near_hz is None else own.near(near_hz, band.reach_hz)
            for own, near_hz in zip(
                find_candidates(self.xp, grids, band.framing, band.bars), around_hz, strict=True
            )
        ]
        aligner = Aligner(self.xp, band.tuner, spectra, grids.host_cells)
        located = locate_all(aligner, candidates, band.bars)
        return [
            Searched(spectrum, cells, places)
            for spectrum, cells, places in zip(there, grids.host_cells, located, strict=True)
        ]

    def _beliefs(self, asked: list[Belief]) -> list[Believed]:
        framing = self.band.framing
        spectra = np.stack([place.spectra for ask in asked for place in ask.places])
        metrics = on_host(soft_bits(self.xp, self.xp.asarray(spectra), framing))
        words = believed_words(metrics, framing)
        return [
            Believed(metrics[part], words[part])
            for part in _runs([len(ask.places) for ask in asked])
        ]

    def _lists(self, asked: list[Listing]) -> list[list[Iterator[Word]]]:
        framing = self.band.framing
        rows = np.stack([in_list_order(own) for ask in asked for own in ask.metrics])
        words = nearest_words(self.xp, rows.reshape(-1, framing.n_bits), framing.generator)
        nearest = words.reshape(rows.shape)
        return [
            [checked_words(iter(own), framing) for own in nearest[part]]
            for part in _runs([len(ask.metrics) for ask in asked])
        ]

    def _pursuits(self, asked: list[Pursuit]) -> list[list[Iterator[Word]]]:
        words = pursued_words(
            self.xp,
            [place for ask in asked for place in ask.places],
            [rows for ask in asked for rows in ask.metrics],
            self.band.framing,
        )
        return [words[part] for part in _runs([len(ask.places) for ask in asked])]


def _alike(keys: Sequence[float]) -> list[list[int]]:
    """Places of equal keys, together."""
    groups: dict[float, list[int]] = defaultdict(list)
    for place, key in enumerate(keys):
        groups[key].append(place)
    return list(groups.values())


def _runs(lengths: Sequence[int]) -> list[slice]:
    """Parts of a list that holds lists of these lengths one after the other."""
    ends = np.cumsum(lengths)
    return [slice(int(end) - length, int(end)) for end, length in zip(ends, lengths, strict=True)]
