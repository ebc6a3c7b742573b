"""Find the slots of a mode in a recording that began at any moment."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from solidcopy.noise.slots.grid import Figure, Grid, common_edge_s, fit_grid
from solidcopy.noise.slots.known import KnownGrid, KnownSlot, fit_known
from solidcopy.noise.slots.listen import HOP_S, WORK_RATE_HZ, Heard, Listener, add_new, listener_of
from solidcopy.noise.slots.reference_tone import measure_tone_hz
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Waveform

RATE_RATIOS = (44_100 / 48_000, 48_000 / 44_100, 0.5, 2.0, 8_000 / 11_025, 11_025 / 8_000)
"""True rate over the rate in the header, where the two are mixed up: tried if nothing is heard.
44 100 taken as 48 000 turns 1500 Hz into 1633."""
USUAL_RATE_ERROR_PPM = 100.0
"""Of a sound card, where nothing better is known (common practice, no source)."""
N_SLOTS_TRIED = 6
"""Length of audio, in slots, in which another ratio is tried."""
LEAST_HEARD = 2
"""Transmissions that must agree for slots to be told."""
ENOUGH_HEARD = 4
"""From so many in three slots on, only the common edge is listened at."""


@dataclass(frozen=True, slots=True)
class SlotHints:
    """What is known beforehand. All may be left out.

    Args:
        reference_hz: true frequency of a steady tone in the recording.
        starts_utc: of the first sample, by the recorder's clock.
        known: slots that were played, if the recording holds some of them.
    """

    reference_hz: float | None = None
    starts_utc: datetime | None = None
    known: tuple[KnownSlot, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class SlotsFound:
    """What a recording says of its slots. Seconds are those of the file, by its header's rate."""

    mode: str
    slot_s: float
    duration_s: float
    header_rate_hz: int
    taken_rate_hz: float
    """At which the transmissions make sense; the header's, unless rates were mixed up."""
    heard: tuple[Heard, ...]
    """In the order of their starts; their times and frequencies are true ones, not the file's."""
    grid: Grid | None
    """None: cannot tell."""
    reason: str | None
    """Why not."""
    first_edge: Figure | None
    rate_error_ppm: Figure | None
    """True rate over the header's, less one: +100 means that the recorder ran fast."""
    tone_rate_error_ppm: Figure | None
    """The same by the reference tone."""
    tone_reason: str | None
    clock_fast_s: Figure | None
    """How far the clock that gave the start was ahead of the stations'."""
    first_known_s: float | None = None
    """From the first slot of the key to the first edge in the recording; None without a key."""

    @property
    def edges_s(self) -> list[float]:
        """Edges of all slots that begin within the file, seconds of the file."""
        if self.first_edge is None:
            return []
        rate = self.rate_error_ppm or self.tone_rate_error_ppm
        gross = self.taken_rate_hz / self.header_rate_hz
        period_s = self.slot_s * (1.0 + rate.value * 1e-6 if rate is not None else gross)
        n_slots = max(int((self.duration_s - self.first_edge.value) // period_s) + 1, 0)
        return [self.first_edge.value + k * period_s for k in range(n_slots)]


def find_slots(waveform: Waveform, mode: str, hints: SlotHints) -> SlotsFound:
    """Where the slots lie, how fast the recorder ran, how far its clock was off.

    Args:
        waveform: some minutes, one channel, at the rate that its header gives.
        mode: e.g. "ft8".
        hints: what is known beforehand.
    Returns: what can be told, with 95 % intervals; reasons for what cannot.
    Raises: PlanError for a mode that is not known.
    """
    listener = listener_of(mode)
    tone = None if hints.reference_hz is None else _tone(waveform, hints.reference_hz)
    ratios = (1.0, *RATE_RATIOS) if tone is None else (_nearest(1.0 + tone.value * 1e-6),)
    ratio, heard = _heard_at_any(waveform, listener, ratios)
    heard.sort(key=lambda item: item.start_s)
    return _concluded(waveform, listener, hints, _Taken(ratio, heard, tone))


def _heard_at_any(
    waveform: Waveform, listener: Listener, ratios: Sequence[float]
) -> tuple[float, list[Heard]]:
    """The first ratio of rates at which enough is heard; else the first of all."""
    first = _heard(_at_work_rate(waveform, ratios[0]), listener, n_slots=None)
    if len(first) >= LEAST_HEARD:
        return ratios[0], first
    for ratio in ratios[1:]:
        samples = _at_work_rate(waveform, ratio)
        if len(_heard(samples, listener, n_slots=N_SLOTS_TRIED)) >= LEAST_HEARD:
            return ratio, _heard(samples, listener, n_slots=None)
    return ratios[0], first


@dataclass(frozen=True, slots=True, eq=False)
class _Taken:
    ratio: float
    heard: list[Heard]
    tone: Figure | None


def _concluded(
    waveform: Waveform, listener: Listener, hints: SlotHints, taken: _Taken
) -> SlotsFound:
    facts, ratio = listener.mode.facts, taken.ratio
    known, grid, reason = _grid(taken.heard, listener, hints)
    fine = None if grid is None else grid.rate_error_ppm
    first, first_known_s = None, None
    if grid is not None:
        middle_s = facts.nominal_start_s + facts.duration_s / 2.0
        edge = _at_edge(grid.first_edge, fine, middle_s)
        n_whole = _whole_slots(edge, facts.slot_s)
        first = _scaled(edge.shifted(-n_whole * facts.slot_s), ratio)
        first_known_s = None if known is None else known.first_slot_s - n_whole * facts.slot_s
    tone_reason = None
    if hints.reference_hz is not None and taken.tone is None:
        tone_reason = f"no steady line stands out near {hints.reference_hz:g} Hz"
    return SlotsFound(
        mode=facts.name,
        slot_s=facts.slot_s,
        duration_s=waveform.duration_s,
        header_rate_hz=waveform.sample_rate_hz,
        taken_rate_hz=waveform.sample_rate_hz * ratio,
        heard=tuple(taken.heard) if known is None else known.heard,
        grid=grid,
        reason=reason,
        first_edge=first,
        rate_error_ppm=None if fine is None else _combined_ppm(fine, ratio),
        tone_rate_error_ppm=taken.tone,
        tone_reason=tone_reason,
        clock_fast_s=_clock_fast(hints.starts_utc, grid, facts.slot_s),
        first_known_s=first_known_s,
    )


def _grid(
    heard: list[Heard], listener: Listener, hints: SlotHints
) -> tuple[KnownGrid | None, Grid | None, str | None]:
    """The grid of slots, by the key if there is one; or why there is none."""
    reason = _too_few(heard)
    if reason is not None:
        return None, None, reason
    facts = listener.mode.facts
    times = {"slot_s": facts.slot_s, "nominal_start_s": facts.nominal_start_s}
    if hints.known:
        known = fit_known(heard, hints.known, **times)
        if known is None:
            number = f"{len(heard)} transmissions were heard"
            return None, None, f"{number}, but no two of them are in the key at the times it gives"
        return known, known.grid, None
    grid = fit_grid(heard, **times)
    if grid.members.size < LEAST_HEARD:
        return None, None, "the transmissions heard do not lie on one grid of slots"
    return None, grid, None


def _too_few(heard: list[Heard]) -> str | None:
    if len(heard) >= LEAST_HEARD:
        return None
    number = {0: "no transmission", 1: "only one transmission"}[len(heard)]
    return f"{number} of the mode was heard; {LEAST_HEARD} that agree are needed"


def _tone(waveform: Waveform, reference_hz: float) -> Figure | None:
    """Rate error by a reference tone, ppm; the strongest of the places where it may lie."""
    found = []
    for ratio in (1.0, *RATE_RATIOS):
        measured = measure_tone_hz(
            waveform.samples,
            sample_rate_hz=waveform.sample_rate_hz,
            near_hz=reference_hz / ratio,
        )
        if measured is not None:
            found.append(measured)
    if not found:
        return None
    tone_hz, _ = max(found, key=lambda item: item[1])
    return Figure(
        *(1e6 * (reference_hz / hz - 1.0) for hz in (tone_hz.value, tone_hz.high, tone_hz.low))
    )


def _nearest(ratio: float) -> float:
    return min((1.0, *RATE_RATIOS), key=lambda known: abs(known - ratio))


def _at_work_rate(waveform: Waveform, ratio: float) -> NDArray[np.float32]:
    return np.asarray(
        resampled(waveform.samples, from_hz=waveform.sample_rate_hz * ratio, to_hz=WORK_RATE_HZ),
        np.float32,
    )


def _heard(samples: NDArray[np.float32], listener: Listener, *, n_slots: int | None) -> list[Heard]:
    """Transmissions: at any place until a common edge shows, then at that edge."""
    facts = listener.mode.facts
    heard: list[Heard] = []
    done_s = 0.0
    for edge_s in _tries(samples.size, listener, n_slots):
        add_new(heard, listener.at(samples, edge_s))
        done_s = edge_s
        if _is_enough(heard, facts.slot_s):
            break
    else:
        return heard
    common_s = common_edge_s(heard, slot_s=facts.slot_s, nominal_start_s=facts.nominal_start_s)
    for number in range(int(samples.size / WORK_RATE_HZ // facts.slot_s) + 1):
        edge_s = common_s + number * facts.slot_s
        if edge_s > done_s - facts.slot_s and edge_s + facts.nominal_start_s < (
            samples.size / WORK_RATE_HZ - facts.duration_s / 2.0
        ):
            add_new(heard, listener.at(samples, edge_s))
    return heard


def _tries(n_samples: int, listener: Listener, n_slots: int | None) -> Iterator[float]:
    facts = listener.mode.facts
    end_s = n_samples / WORK_RATE_HZ - facts.duration_s
    if n_slots is not None:
        end_s = min(end_s, n_slots * facts.slot_s)
    edge_s = 0.0
    while edge_s < max(end_s, HOP_S):
        yield edge_s
        edge_s += HOP_S


def _is_enough(heard: list[Heard], slot_s: float) -> bool:
    slots = {round((item.start_s - heard[0].start_s) / slot_s) for item in heard}
    return len(heard) >= ENOUGH_HEARD and len(slots) >= 3


def _at_edge(edge: Figure, fine: Figure | None, middle_s: float) -> Figure:
    """Put right that a start is measured by the middle of a transmission.

    If the recorder runs fast, the first half is stretched as well, and the edge lies earlier.
    """
    if fine is not None:
        return edge.shifted(-fine.value * 1e-6 * middle_s)
    unknown_s = USUAL_RATE_ERROR_PPM * 1e-6 * middle_s
    return Figure(edge.value, edge.low - unknown_s, edge.high + unknown_s)


def _whole_slots(first_edge: Figure, slot_s: float) -> int:
    """Slots between the start of the recording and an edge, within the interval."""
    half_s = first_edge.high - first_edge.value
    return int((first_edge.value + half_s) // slot_s)


def _scaled(figure: Figure, factor: float) -> Figure:
    return Figure(figure.value * factor, figure.low * factor, figure.high * factor)


def _combined_ppm(fine: Figure, ratio: float) -> Figure:
    """Over the header's rate, from that over the rate assumed."""
    return Figure(
        *(1e6 * (ratio * (1.0 + ppm * 1e-6) - 1.0) for ppm in (fine.value, fine.low, fine.high))
    )


def _clock_fast(starts_utc: datetime | None, grid: Grid | None, slot_s: float) -> Figure | None:
    if starts_utc is None or grid is None:
        return None
    # A zone is a whole number of slots, so local time does as well.
    midnight = starts_utc.replace(hour=0, minute=0, second=0, microsecond=0)
    since_s = (starts_utc - midnight).total_seconds()
    sum_s = since_s + grid.first_edge.value
    fast_s = (sum_s + slot_s / 2.0) % slot_s - slot_s / 2.0
    return grid.first_edge.shifted(fast_s - grid.first_edge.value)
