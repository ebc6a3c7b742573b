"""The test sequence: the same everywhere, no louder than asked, quiet at first."""

import numpy as np
import pytest

from solidcopy.soundcard import path_sequence
from solidcopy.soundcard.path_sequence import (
    BURST_HZ,
    NOISE_HZ,
    PLAYED_HZ,
    SEQUENCE_HZ,
    Piece,
    flat_noise,
    made,
    sequence,
)


def test_nothing_is_louder_than_the_loudest_tone() -> None:
    played = sequence().played(-12.0)
    # A sine of -12 dBFS peaks at 10 ** (-12 / 20).
    assert np.abs(played).max() <= 1.02 * 10 ** (-12 / 20)
    assert played.shape == (round(sequence().duration_s * PLAYED_HZ), 2)


def test_it_lasts_less_than_a_minute_and_begins_quietly() -> None:
    assert 40.0 < sequence().duration_s < 60.0
    first = sequence().left[: round(0.9 * SEQUENCE_HZ)]
    # 40 dB below the loudest at first, and still 20 dB below it half a second later.
    assert np.abs(first).max() < 0.5 * 10 ** (-20 / 20)


def test_noise_is_flat_leaves_the_tone_free_and_looks_gaussian() -> None:
    noise = flat_noise(4 * SEQUENCE_HZ)
    powers = np.abs(np.fft.rfft(noise)) ** 2
    frequencies_hz = np.fft.rfftfreq(noise.size, 1 / SEQUENCE_HZ)
    inside = (frequencies_hz > NOISE_HZ[0]) & (frequencies_hz < NOISE_HZ[1])
    near_tone = np.abs(frequencies_hz - BURST_HZ) < 29.0
    on = powers[inside & ~near_tone & (np.abs(frequencies_hz - BURST_HZ) > 31.0)]
    assert on.min() == pytest.approx(on.max(), rel=1e-6)
    assert powers[near_tone].max() < 1e-9 * on.max()
    assert powers[~inside][1:].max() <= 1.001 * on.max()
    # Kurtosis of a normal variable is 3.
    assert np.mean(noise**4) / np.mean(noise**2) ** 2 == pytest.approx(3.0, abs=0.1)


def test_phases_come_from_whole_numbers() -> None:
    """First phases by hand: x -> 1664525 x + 1013904223 modulo 2**32, from 20261."""
    noise = flat_noise(4 * SEQUENCE_HZ)
    spectrum = np.fft.rfft(noise)
    frequencies_hz = np.fft.rfftfreq(noise.size, 1 / SEQUENCE_HZ)
    first = np.flatnonzero(frequencies_hz >= NOISE_HZ[0])[:3]
    state, turns = 20261, []
    for _ in range(3):
        state = (1664525 * state + 1013904223) % 4294967296
        turns.append(state / 4294967296)
    assert np.mod(np.angle(spectrum[first]) / (2 * np.pi), 1.0) == pytest.approx(turns, abs=1e-9)


def test_left_and_right_alike_but_for_their_own_ticks() -> None:
    plan = sequence()
    for place in plan.places:
        left, right = (s[place.start : place.end] for s in (plan.left, plan.right))
        if place.piece is Piece.LEFT:
            assert np.array_equal(left, made(Piece.TICK)) and not right.any()
        elif place.piece is Piece.RIGHT:
            assert np.array_equal(right, made(Piece.TICK)) and not left.any()
        else:
            assert np.array_equal(left, right)


def test_two_rounds_hold_the_same() -> None:
    for piece in path_sequence.ROUND:
        first, second = sequence().all_of(piece)
        assert first.n_samples == second.n_samples
        assert (first.round_number, second.round_number) == (0, 1)
