"""Time the built-in receiver: `python benchmarks/bench_receiver.py [slots]`.

Prints milliseconds of processor time per slot and stage, for slots of noise alone and for slots
with one transmission near the threshold, then what the highest level of effort adds; slots per
second; and the ratio to the transforms that no receiver of the whole band can do without. All in
one run on one core, so the
figures can be compared with each other; name the machine when quoting. The thread's own time is
taken: other programs on the machine lengthen it far less than time on the wall.
"""

import sys

import numpy as np
import scipy.fft

from laps import Times, lap, machine, print_times
from slots import NEAR_THRESHOLD_DB, RATE_HZ, make_slot
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.carriers import without_carriers
from solidcopy.receivers.builtin.front_end import cell_grid, long_spectrum, work_samples
from solidcopy.receivers.builtin.locate import locate
from solidcopy.receivers.builtin.receiver import BuiltinReceiver, build_receiver
from solidcopy.receivers.builtin.search import LOW_REACH, USUAL_REACH, find_candidates
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.builtin.tracks import likeliest_tracks
from solidcopy.receivers.builtin.trellis import followed_words
from solidcopy.receivers.builtin.words import believed_words, listed_words, soft_bits
from solidcopy.signals.waveform import Waveform

THRESHOLD_SNR_DB = NEAR_THRESHOLD_DB["ft8"]
MODE = mode_named("ft8")


def time_stages(receiver: BuiltinReceiver, waveform: Waveform, times: Times) -> None:
    """The receiver's own functions, one after the other, then the whole."""
    framing, facts = receiver.framing, receiver.framing.facts
    low_hz, high_hz = receiver.settings.low_hz, receiver.settings.high_hz
    bars = USUAL_REACH.bars(framing)
    samples = work_samples(waveform)
    raw = lap(times, "long transform", lambda: long_spectrum(samples, facts))
    spectrum = lap(
        times, "carriers", lambda: without_carriers(raw, low_hz=low_hz, high_hz=high_hz + 100)
    )
    cells = lap(times, "cells", lambda: cell_grid(spectrum, facts, low_hz=low_hz, high_hz=high_hz))
    candidates = lap(times, "search", lambda: find_candidates(cells, framing, bars))
    places = lap(
        times, "alignment", lambda: locate(spectrum, cells, candidates, receiver.tuner, bars)
    )
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


def main() -> None:
    n_slots = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    rng = np.random.default_rng(1)
    receiver = build_receiver(BuiltinSettings(), MODE)
    highest = build_receiver(BuiltinSettings(effort="phase-trellis"), MODE)
    print(machine())
    for name, snr_db in (("noise alone", None), (f"{THRESHOLD_SNR_DB:g} dB", THRESHOLD_SNR_DB)):
        times: Times = {}
        receiver.receive(make_slot(rng, MODE, snr_db=-10.0))  # compiles what is not compiled yet
        highest.receive(make_slot(rng, MODE, snr_db=-23.0))
        for _ in range(n_slots):
            waveform = make_slot(rng, MODE, snr_db=snr_db)
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


if __name__ == "__main__":
    main()
