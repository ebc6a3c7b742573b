"""Time the built-in receiver: `python benchmarks/bench_receiver.py [slots]`.

Prints milliseconds of processor time per slot and stage, for slots of noise alone and for slots
with one transmission near the threshold, then what the highest level of effort adds; slots per
second; the ratio to the transforms that no receiver of the whole band can do without; and belief
propagation against the package `ldpc` on the same words. All in one run on one core, so the
figures can be compared with each other; name the machine when quoting. The thread's own time is
taken: other programs on the machine lengthen it far less than time on the wall.
"""

import platform
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import scipy.fft
from ldpc import BpDecoder

from solidcopy import units
from solidcopy.kernels.belief_propagation import decode_min_sum
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.carriers import without_carriers
from solidcopy.receivers.builtin.front_end import cell_grid, long_spectrum, work_samples
from solidcopy.receivers.builtin.locate import locate
from solidcopy.receivers.builtin.receiver import BuiltinReceiver, build_receiver
from solidcopy.receivers.builtin.search import LOW_REACH, find_candidates
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.builtin.tracks import likeliest_tracks
from solidcopy.receivers.builtin.trellis import followed_words
from solidcopy.receivers.builtin.words import believed_words, listed_words, soft_bits
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000
SLOT_SAMPLES = 15 * RATE_HZ
SIGMA = 0.02
THRESHOLD_SNR_DB = -21.0
MODE = mode_named("ft8")
Times = dict[str, list[float]]


def make_slot(rng: np.random.Generator, *, snr_db: float | None) -> Waveform:
    """Noise alone, or one random message in it."""
    slot = SIGMA * rng.standard_normal(SLOT_SAMPLES)
    if snr_db is not None:
        tones = MODE.encode(MODE.draw_message(rng))
        audio_hz = rng.uniform(300.0, 2600.0)
        signal = MODE.modulate(tones, sample_rate_hz=RATE_HZ, audio_hz=audio_hz).real
        density = SIGMA**2 / (RATE_HZ / 2)
        power = units.ratio_from_db(snr_db) * density * units.REFERENCE_BANDWIDTH_HZ
        first = round(rng.uniform(0.0, 1.5) * RATE_HZ)
        slot[first : first + signal.size] += np.sqrt(2.0 * power) * signal
    return Waveform(slot.astype(np.float32), RATE_HZ)


def lap(times: Times, stage: str, work: Callable[[], Any]) -> Any:
    """Run a stage and note its milliseconds."""
    started = time.thread_time()
    result = work()
    times.setdefault(stage, []).append(1e3 * (time.thread_time() - started))
    return result


def time_stages(receiver: BuiltinReceiver, waveform: Waveform, times: Times) -> None:
    """The receiver's own functions, one after the other, then the whole."""
    framing, facts = receiver.framing, receiver.framing.facts
    low_hz, high_hz = receiver.settings.low_hz, receiver.settings.high_hz
    samples = work_samples(waveform)
    raw = lap(times, "long transform", lambda: long_spectrum(samples, facts))
    spectrum = lap(
        times, "carriers", lambda: without_carriers(raw, low_hz=low_hz, high_hz=high_hz + 100)
    )
    cells = lap(times, "cells", lambda: cell_grid(spectrum, facts, low_hz=low_hz, high_hz=high_hz))
    candidates = lap(times, "search", lambda: find_candidates(cells, framing))
    places = lap(times, "alignment", lambda: locate(spectrum, cells, candidates, receiver.tuner))
    metrics = lap(
        times, "soft bits", lambda: [soft_bits(place.spectra, framing) for place in places]
    )
    lap(
        times,
        "belief propagation",
        lambda: believed_words(np.stack(metrics), framing) if places else [],
    )
    # The receiver itself runs lists only for places without a word.
    lap(
        times,
        "ordered statistics",
        lambda: [list(listed_words(rows, framing)) for rows in metrics],
    )
    lap(times, "whole slot", lambda: receiver.receive(waveform))
    times.setdefault("(places located)", []).append(float(len(places)))


def time_highest_effort(receiver: BuiltinReceiver, waveform: Waveform, times: Times) -> None:
    """What "phase-trellis" adds: more places, their tracks, and words where there is a signal.

    The receiver itself stops at the first word with enough evidence.
    """
    framing, facts = receiver.framing, receiver.framing.facts
    low_hz, high_hz = receiver.settings.low_hz, receiver.settings.high_hz
    spectrum = long_spectrum(work_samples(waveform), facts)
    cells = cell_grid(spectrum, facts, low_hz=low_hz, high_hz=high_hz)
    candidates = find_candidates(cells, framing, LOW_REACH.bars(framing))
    places = lap(
        times,
        "alignment, low bars",
        lambda: locate(spectrum, cells, candidates, receiver.tuner, LOW_REACH.bars(framing)),
    )
    metrics = [soft_bits(place.spectra, framing) for place in places]
    lap(times, "tracks", lambda: [likeliest_tracks(place, framing) for place in places])
    lap(
        times,
        "tracks and words",
        lambda: [
            list(followed_words(place, rows, framing))
            for place, rows in zip(places, metrics, strict=True)
        ],
    )
    lap(times, "whole, highest", lambda: receiver.receive(waveform))
    times.setdefault("(places, low bars)", []).append(float(len(places)))


def unavoidable(waveform: Waveform) -> None:
    """One transform of the slot and one grid of symbol-long transforms, nothing else."""
    bins = scipy.fft.rfft(waveform.samples, 16 * RATE_HZ)
    analytic = scipy.fft.ifft(bins[3_200:51_200])
    windows = np.lib.stride_tricks.sliding_window_view(analytic[:45_000], 480)[::120]
    scipy.fft.fft(windows, 960, axis=1)


def print_times(times: Times) -> None:
    """Median and range of every stage."""
    for stage, values in times.items():
        print(
            f"  {stage:20s} {np.median(values):8.2f}   {np.min(values):8.2f} – {np.max(values):.2f}"
        )


def noisy_words(rng: np.random.Generator, n_words: int) -> np.ndarray:
    """(n_words, 174) log-likelihood ratios of words sent as +1 and -1 through white noise."""
    payloads = rng.integers(0, 2, (n_words, 77), dtype=np.uint8)
    words = MODE.layout.code.encode(payloads)
    received = 1.0 - 2.0 * words + 0.74 * rng.standard_normal(words.shape)
    return (2.0 * received / 0.74**2).astype(np.float32)


def compare_belief_propagation(rng: np.random.Generator, n_words: int = 512) -> None:
    """Ours, many words at once and one by one, against the package `ldpc`, same words."""
    ratios = noisy_words(rng, n_words)
    positions = MODE.layout.code.check_positions
    matrix = np.zeros((positions.shape[0], 174), np.uint8)
    for row, own in zip(matrix, positions, strict=True):
        row[own[own >= 0]] = 1
    times: Times = {}
    columns = np.ascontiguousarray(ratios.T)
    singles = [np.ascontiguousarray(ratio[:, None]) for ratio in ratios]
    channels = [list(1.0 / (1.0 + np.exp(np.abs(ratio.astype(float))))) for ratio in ratios]
    decode_min_sum(columns, positions, 30, 0.8)
    decoder = BpDecoder(
        matrix,
        error_channel=channels[0],
        max_iter=30,
        bp_method="minimum_sum",
        ms_scaling_factor=0.8,
        schedule="serial",
    )

    def by_package() -> int:
        n_found = 0
        for ratio, channel in zip(ratios, channels, strict=True):
            decoder.update_channel_probs(np.asarray(channel))
            decoder.decode(matrix @ (ratio < 0).astype(np.uint8) % 2)
            n_found += decoder.converge
        return n_found

    for _ in range(5):
        lap(times, "ours, 32 at once", lambda: in_batches(columns, positions))
        _, used = lap(
            times, "ours, all at once", lambda: decode_min_sum(columns, positions, 30, 0.8)
        )
        lap(
            times,
            "ours, one by one",
            lambda: [decode_min_sum(single, positions, 30, 0.8) for single in singles],
        )
        n_package = lap(times, "package ldpc", by_package)
    print(f"belief propagation, ms for {n_words} words (min-sum, 30 iterations at most):")
    print_times(times)
    print(f"  words whose checks hold: ours {np.count_nonzero(used)}, package {n_package}")


def in_batches(columns: np.ndarray, positions: np.ndarray) -> None:
    """32 words at a time, about what a slot brings."""
    for first in range(0, columns.shape[1], 32):
        decode_min_sum(np.ascontiguousarray(columns[:, first : first + 32]), positions, 30, 0.8)


def main() -> None:
    n_slots = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    rng = np.random.default_rng(1)
    receiver = build_receiver(BuiltinSettings(), MODE)
    highest = build_receiver(BuiltinSettings(effort="phase-trellis"), MODE)
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}")
    for name, snr_db in (("noise alone", None), (f"{THRESHOLD_SNR_DB:g} dB", THRESHOLD_SNR_DB)):
        times: Times = {}
        receiver.receive(make_slot(rng, snr_db=-10.0))  # compiles what is not compiled yet
        highest.receive(make_slot(rng, snr_db=-23.0))
        for _ in range(n_slots):
            waveform = make_slot(rng, snr_db=snr_db)
            time_stages(receiver, waveform, times)
            time_highest_effort(highest, waveform, times)
            lap(times, "(transforms alone)", lambda w=waveform: unavoidable(w))
        print(f"{name}, ms of processor time per slot: median, least – most of {n_slots} slots")
        print_times(times)
        whole = float(np.median(times["whole slot"]))
        floor = float(np.median(times["(transforms alone)"]))
        print(
            f"  {1e3 / whole:.0f} slots per second and core; "
            f"{whole / floor:.1f} times the transforms"
        )
    compare_belief_propagation(rng)


if __name__ == "__main__":
    main()
