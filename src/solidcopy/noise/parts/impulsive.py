"""The impulsive parts of a recording: periodic trains, fast rhythms and what has no order."""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.stats

from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.parts.beats import QUIET_PHASES, Beat, Profile, find_beats, fold
from solidcopy.noise.parts.cells import Cells
from solidcopy.noise.parts.impulses import (
    EXPECTED_FALSE,
    Found,
    Rise,
    find_impulses,
    measure_rise,
)
from solidcopy.noise.parts.owners import Shared, share_out
from solidcopy.noise.parts.part import Part, PartKind, Times, level_error_db
from solidcopy.noise.parts.sparse import sparse_trains

WIDE_HZ = 4500.0
SHARE_WITHOUT_ORDER = 0.15
"""Beside a fast rhythm, impulses between its beats count as a part if they hold so much."""
LEAST_SHARE = 5e-4
"""Impulses without order that hold less of the power are no part of it."""
SHARE_OF_FASTEST = 0.1
"""A slower or weaker rhythm must hold so much of the strongest one's power."""


@dataclass(frozen=True, slots=True, eq=False)
class Impulsive:
    """What the impulses of a recording come to."""

    parts: tuple[Part, ...]
    sparse: np.ndarray
    """(n_frames,) frames that hold impulses told one by one."""
    dense_powers: FloatArray
    """(n_bins of the cells,) mean power that fast rhythms add to each bin."""


def impulsive_parts(
    cells: Cells, duration_s: float, *, is_asked: np.ndarray, edge_s: float
) -> Impulsive:
    """All impulsive parts.

    Args:
        cells: free of steady lines.
        is_asked: (n_bins,) bins that decide what is an impulse: those without a narrow signal.
        edge_s: at both ends no impulse is looked for; a line cut out rings there.
    """
    rise, found = _clearest(cells, is_asked, round(edge_s / cells.hop_s))
    shared = share_out(sparse_trains(found, rise, cells, duration_s), found, cells)
    parts = [
        _train_part(place, shared, found, cells, duration_s) for place in range(len(shared.cycles))
    ]
    beats = _beats_beside(rise, shared.is_train, cells)
    if not beats:
        parts += _random_parts(shared, found, cells, duration_s)
        is_sparse = found.is_inside | shared.is_train
        return Impulsive(tuple(parts), is_sparse, np.zeros(cells.bins_hz.size))
    dense, random_share = _dense_parts(beats, shared, found, cells)
    parts += dense
    if random_share > 0.0:
        parts += _random_parts(shared, found, cells, duration_s, share=random_share)
    powers = _dense_spectrum(beats[0], cells, shared.is_train, sum(part.power for part in dense))
    return Impulsive(tuple(parts), shared.is_train, powers)


def _clearest(cells: Cells, is_asked: np.ndarray, n_edge: int) -> tuple[Rise, Found]:
    """Impulses as the whole passband shows them, or in a wide one that half that shows most.

    Impulses that came through a narrower filter than the noise do not lift all of its bins.
    """
    asked = [is_asked]
    if cells.bins_hz.size * cells.bin_hz > WIDE_HZ:
        low = cells.bins_hz < cells.bins_hz[cells.bins_hz.size // 2]
        asked += [is_asked & half for half in (low, ~low) if int((is_asked & half).sum()) >= 4]
    results = []
    for bins in asked:
        rise = measure_rise(cells, is_asked=bins)
        if n_edge:
            rise.values[:n_edge] = rise.values[-n_edge:] = 1.0
        results.append((rise, find_impulses(cells, rise)))
    return max(results, key=lambda result: float(result[1].energies.sum()))


def _beats_beside(rise: Rise, is_train_frame: np.ndarray, cells: Cells) -> list[Beat]:
    def found_in(values: FloatArray) -> list[Beat]:
        return find_beats(values, hop_s=cells.hop_s, frame_s=cells.frame_s, cap=rise.threshold)

    kept = ~is_train_frame
    values = np.where(kept, rise.values, 1.0)
    beats = found_in(values)
    if not beats or kept.all():
        return beats
    # Gaps in a rhythm look like other rhythms beside it: the strongest one runs on through them.
    rhythm_hz = beats[0].rhythm_hz.value
    capped = np.minimum(rise.values[kept], rise.threshold)
    profile = fold(capped, cells.centres_s[kept], rhythm_hz)
    values[~kept] = profile.at((cells.centres_s[~kept] * rhythm_hz) % 1.0)
    return found_in(values) or beats


def _band(cells: Cells) -> tuple[float, float]:
    half = cells.bin_hz / 2.0
    return float(cells.bins_hz[0]) - half, float(cells.bins_hz[-1]) + half


def _times(times_s: FloatArray, share_on: float) -> Times:
    return Times(float(times_s.min()), float(times_s.max()), share_on)


def _unresolved(lengths_s: FloatArray, cells: Cells) -> tuple[str, ...]:
    """What a frame as long as the impulses cannot say."""
    low_hz, high_hz = _band(cells)
    if lengths_s.size and float(np.median(lengths_s)) <= 2.0 * cells.frame_s:
        return (
            f"How short the impulses are: in {(high_hz - low_hz) / 1000.0:.2g} kHz nothing "
            f"shorter than about {1000.0 / (high_hz - low_hz):.2g} ms (1 / bandwidth) can be told "
            "from an impulse of no length.",
        )
    return ()


def _power_error(power: float, during_s: float, found: Found, cells: Cells) -> float:
    """Standard deviation of a power by the noise under it.

    Source: derived here. Noise of one-sided density q / B under a signal of energy E moves the
        energy read over a time t by 2 E q / B + t q^2 / B (variances of the beat and of itself).
    """
    low_hz, high_hz = _band(cells)
    duration_s = found.labels.size * cells.hop_s
    density = found.quiet_power / (high_hz - low_hz)
    beat = 2.0 * max(power, 0.0) * duration_s * density
    return math.sqrt(beat + during_s * found.quiet_power * density) / duration_s


def _train_part(place: int, shared: Shared, found: Found, cells: Cells, duration_s: float) -> Part:
    train, power = shared.cycles[place].train, shared.powers[place]
    rate = 1.0 / train.period_s.value
    error = train.period_s.standard_error * rate**2
    heard_s = shared.lengths_s[place]
    return Part(
        kind=PartKind.PERIODIC_IMPULSES,
        power=power,
        level_error_db=level_error_db(power, _power_error(power, heard_s, found, cells)),
        band_hz=_band(cells),
        times=_times(found.times_s[train.members], heard_s / duration_s),
        p_chance=train.p_chance,
        rhythm_hz=replace(train.period_s, value=rate, standard_error=error),
        n_impulses=train.n_pulses,
        starts_s=tuple(float(at) for at in found.times_s[train.members]),
        cannot_tell=_unresolved(found.lengths_s[train.members], cells),
    )


def _random_parts(
    shared: Shared, found: Found, cells: Cells, duration_s: float, *, share: float = 1.0
) -> list[Part]:
    """What is left as one part without order, if there is more than chance would find."""
    places = shared.others
    if places.size == 0:
        return []
    told = max(float(found.energies[places].sum()), 1e-300)
    power = share * shared.others_power
    p_chance = float(scipy.stats.poisson.sf(places.size - 1, EXPECTED_FALSE))
    if power <= LEAST_SHARE * float(cells.powers.mean(dtype=np.float64)) * cells.bins_hz.size:
        return []
    during_s = float(found.lengths_s[places].sum())
    # As many more within the trains' cycles as their power is reckoned to be more.
    whole = share * shared.others_power / told
    return [
        Part(
            kind=PartKind.RANDOM_IMPULSES,
            power=power,
            level_error_db=level_error_db(power, _power_error(power, during_s, found, cells)),
            band_hz=_band(cells),
            times=_times(found.times_s[places], whole * during_s / duration_s),
            p_chance=p_chance,
            rhythm_hz=CannotTell("no order was found in their times"),
            n_impulses=round(whole * places.size),
            starts_s=tuple(float(at) for at in found.times_s[places]) if share == 1.0 else (),
            cannot_tell=_unresolved(found.lengths_s[places], cells),
        )
    ]


def _dense_parts(
    beats: list[Beat], shared: Shared, found: Found, cells: Cells
) -> tuple[list[Part], float]:
    """One part for each fast rhythm, and the share of other impulses that keep none of them."""
    kept, others = ~shared.is_train, shared.others
    powers = cells.powers.sum(axis=1, dtype=np.float64)[kept]
    centres_s = cells.centres_s[kept]
    profiles = [fold(powers, centres_s, beat.rhythm_hz.value) for beat in beats]
    excesses = [max(profile.excess, 0.0) for profile in profiles]
    strong = [
        place for place, excess in enumerate(excesses) if excess >= SHARE_OF_FASTEST * max(excesses)
    ]
    single = shared.others_power
    random_share = _share_without_order(profiles[0], beats[0], others, found)
    folded = sum(excesses[place] for place in strong)
    total = max(folded, single * (1.0 - random_share))
    parts = []
    for place in strong:
        beat, profile = beats[place], profiles[place]
        power = total * excesses[place] / folded if folded > 0.0 else total / len(strong)
        # The quiet phases, a share of the time, are taken off all of it.
        error = _power_error(power, powers.size * cells.hop_s / QUIET_PHASES, found, cells)
        parts.append(
            Part(
                kind=PartKind.PERIODIC_IMPULSES,
                power=power,
                level_error_db=level_error_db(power, error),
                band_hz=_band(cells),
                times=_active(cells, kept, profile, beat.rhythm_hz.value),
                p_chance=beat.p_chance,
                rhythm_hz=beat.rhythm_hz,
                cannot_tell=_unresolved(np.zeros(1), cells),
            )
        )
    return parts, random_share


def _share_without_order(profile: Profile, beat: Beat, others: np.ndarray, found: Found) -> float:
    """Share of the single impulses' energy that is spread evenly over the period."""
    energies = np.maximum(found.energies[others], 0.0)
    is_on = profile.is_on
    if energies.sum() <= 0.0 or is_on.all():
        return 0.0
    phases = (found.times_s[others] * beat.rhythm_hz.value) % 1.0
    place = np.minimum((phases * is_on.size).astype(np.int64), is_on.size - 1)
    off = float(energies[~is_on[place]].sum())
    share = off / (1.0 - float(is_on.mean())) / float(energies.sum())
    return min(share, 1.0) if share > SHARE_WITHOUT_ORDER else 0.0


def _active(cells: Cells, kept: np.ndarray, profile: Profile, rhythm_hz: float) -> Times:
    """From when to when a fast rhythm is heard, in quarters of a second or ten beats."""
    block_s = max(0.25, 10.0 / rhythm_hz)
    powers = cells.powers.sum(axis=1, dtype=np.float64)[kept] - profile.quiet
    place = (cells.centres_s[kept] / block_s).astype(np.int64)
    counts = np.bincount(place)
    means = np.bincount(place, weights=powers) / np.maximum(counts, 1)
    is_on = means > 0.25 * float(np.quantile(means, 0.9))
    on = np.flatnonzero(is_on)
    duty = float(profile.is_on.mean())
    last_s = min((on[-1] + 1) * block_s, float(cells.centres_s[-1]) + cells.frame_s / 2.0)
    return Times(float(on[0] * block_s), last_s, float(is_on.mean()) * duty)


def _dense_spectrum(
    beat: Beat, cells: Cells, is_train_frame: np.ndarray, power: float
) -> FloatArray:
    """How the power of fast rhythms is shared among the bins: beats less the time between."""
    kept = ~is_train_frame
    powers = cells.powers[kept]
    profile = fold(
        powers.sum(axis=1, dtype=np.float64), cells.centres_s[kept], beat.rhythm_hz.value
    )
    place = (profile.phases * profile.powers.size).astype(np.int64) % profile.powers.size
    is_on = profile.is_on[place]
    difference = powers[is_on].mean(axis=0, dtype=np.float64) - powers[~is_on].mean(
        axis=0, dtype=np.float64
    )
    difference = np.maximum(difference, 0.0)
    total = float(difference.sum())
    shared: FloatArray = difference * (power / total) if total > 0.0 else difference
    return shared
