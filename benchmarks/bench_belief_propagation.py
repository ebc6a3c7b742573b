"""Time belief propagation: `python benchmarks/bench_belief_propagation.py`.

The same words in the same run on one core: ours many at once, 32 at once (about what a slot
brings) and one by one, then the package `ldpc`, which takes one at a time. The thread's own time.
"""

import numpy as np
from ldpc import BpDecoder

from laps import Times, lap, machine, print_times
from solidcopy.kernels.belief_propagation import decode_min_sum
from solidcopy.modes.registry import mode_named

MODE = mode_named("ft8")


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
    package_ms = float(np.median(times["package ldpc"]))
    for name in ("ours, 32 at once", "ours, all at once", "ours, one by one"):
        print(f"  package / {name}: {package_ms / float(np.median(times[name])):.2f}")
    print(f"  words whose checks hold: ours {np.count_nonzero(used)}, package {n_package}")


def in_batches(columns: np.ndarray, positions: np.ndarray) -> None:
    """32 words at a time, about what a slot brings."""
    for first in range(0, columns.shape[1], 32):
        decode_min_sum(np.ascontiguousarray(columns[:, first : first + 32]), positions, 30, 0.8)


if __name__ == "__main__":
    print(machine())
    compare_belief_propagation(np.random.default_rng(1))
