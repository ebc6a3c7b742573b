"""How the gain of a path goes with the level: gain riding, attack and release."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, Reading
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_pieces import Below, Heard, amplitudes_db
from solidcopy.soundcard.path_sequence import (
    LOUD_STEPS,
    LOUDEST_AMPLITUDE,
    RELEASE_STEP,
    SEQUENCE_HZ,
    STEP_HZ,
    STEPS,
    Piece,
    made,
    step_bounds,
)

LOOK_S = 0.008
"""Length of the window through which the tone's amplitude is followed."""
EVERY_S = 0.001
SKIPPED_S = 0.010
"""After a step until the window sees nothing of it..."""
SKIPPED_ECHO_S = 0.400
"""...nor, where there is an echo, of what is left of the louder sound before."""
SETTLED_SHARE = 0.4
MOST_ERROR_DB = 0.5
SEEN_DB = 0.25
SEEN_SIGMAS = 5.0
STILL_MOVING_DB = 0.15
QUIET_AMPLITUDE = LOUDEST_AMPLITUDE / 10.0
"""As made, of the tone 20 dB below the loudest."""
SHARE = 1.0 - 1.0 / math.e
"""Of a change that is over after one time constant, 63 %."""


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Gain at every level, and how it gets there."""

    gains_db: tuple[Reading, ...]
    """At the end of every step, relative to the loudest; CannotTell beneath the noise."""
    compression_db: Reading
    """Highest gain, of the quieter steps that stand out of the noise, over that of the loudest."""
    release_db: float
    """Rise of the gain after the level fell by 20 dB."""
    release_s: float | Below | CannotTell
    """Time constant of that; CannotTell: longer than could be watched."""
    attack_db: float
    attack_s: float | Below | CannotTell
    """Of the fall of the gain after the level rose by 20 dB; Below: faster than could be seen."""
    error_db: float
    """Standard error of a rise or fall."""
    coarse_db: float
    """How far coarse words alone may move the gain of the tone 20 dB below the loudest."""
    loudest_gain: float
    """Amplitude heard at the loudest step over that made."""

    @property
    def is_riding(self) -> bool:
        """Whether the gain comes back after the level fell.

        A fall alone, after a rise of the level, is a noise reduction that takes a steady tone for
        noise.
        """
        return self.release_db > max(SEEN_DB, SEEN_SIGMAS * self.error_db, self.coarse_db)


def measure_steps(heard: Heard, *, has_echo: bool, word_step: float) -> Steps | CannotTell:
    """Follow the amplitude of the tone through all steps, mean of both rounds.

    A time constant is the time until 63 % of the change in dB is over.

    Args:
        heard: the recording beside the sequence.
        has_echo: what comes soon after a step is then not looked at.
        word_step: distance of neighbouring values of its words; 0 for floats.
    """
    skipped_s = SKIPPED_ECHO_S if has_echo else SKIPPED_S
    courses = [_gain_course(heard.cut(place)) for place in heard.rounds(Piece.STEPS)]
    course: NDArray[np.complex128] = np.mean(courses, axis=0)
    loudest = _settled(course, LOUD_STEPS[0])
    turn = np.exp(-1j * np.angle(loudest))
    course = course * turn
    settled = [_settled(course, number) for number in range(len(STEPS))]
    errors_db = [_error_db(course, number, abs(mean)) for number, mean in enumerate(settled)]
    if errors_db[LOUD_STEPS[0]] > MOST_ERROR_DB:
        return CannotTell("the noise covers even the loudest tone")
    gain = abs(loudest)
    gains_db: list[Reading] = [
        Figure(units.peak_dbfs(mean.real / gain), error_db)
        if error_db < MOST_ERROR_DB and mean.real > 0.0
        else CannotTell("beneath the noise")
        for mean, error_db in zip(settled, errors_db, strict=True)
    ]
    quiet = [one for one in gains_db[: LOUD_STEPS[0]] if isinstance(one, Figure)]
    compression_db: Reading = CannotTell("the noise covers the quieter steps")
    if quiet:
        compression_db = max(quiet, key=lambda one: one.value)
    error_db = errors_db[RELEASE_STEP] * 3.0
    release_db, release_s = _release(course, gain, error_db, skipped_s)
    attack_db, attack_s = _attack(course, gain, skipped_s)
    return Steps(
        tuple(gains_db),
        compression_db,
        release_db,
        release_s,
        attack_db,
        attack_s,
        error_db,
        8.686 * word_step / 2.0 / (gain * QUIET_AMPLITUDE),
        gain,
    )


def _gain_course(heard: Samples) -> NDArray[np.complex128]:
    """Complex gain every millisecond; meaningless at the steps themselves."""
    n_every = round(EVERY_S * SEQUENCE_HZ)
    n_look = round(LOOK_S * SEQUENCE_HZ)
    window = np.hanning(n_look + 2)[1:-1]
    rotation = np.exp(-2j * np.pi * STEP_HZ / SEQUENCE_HZ * np.arange(heard.size))
    followed = [
        scipy.signal.oaconvolve(samples * rotation, window, mode="same").astype(np.complex128)[
            ::n_every
        ]
        for samples in (heard, made(Piece.STEPS))
    ]
    sent = followed[1]
    out: NDArray[np.complex128] = followed[0] / np.where(np.abs(sent) > 0.0, sent, 1.0)
    return out


def _span(number: int, skipped_s: float = SKIPPED_S) -> tuple[int, int]:
    """A step without its edges, in milliseconds of the course."""
    start, end = step_bounds()[number]
    n_every = round(EVERY_S * SEQUENCE_HZ)
    first = start // n_every + round(skipped_s / EVERY_S)
    return first, end // n_every - round(SKIPPED_S / EVERY_S)


def _settled(course: NDArray[np.complex128], number: int) -> complex:
    start, end = _span(number)
    return complex(course[end - round(SETTLED_SHARE * (end - start)) : end].mean())


def _error_db(course: NDArray[np.complex128], number: int, mean: float) -> float:
    """Standard error of a settled gain, from the part of the course that is out of phase."""
    start, end = _span(number)
    piece = course[end - round(SETTLED_SHARE * (end - start)) : end]
    n_independent = max(1.0, piece.size * EVERY_S / (0.5 * LOOK_S))
    spread = float(np.std(piece.imag)) / math.sqrt(n_independent)
    return 8.686 * spread / max(mean, 1e-12)


def _release(
    course: NDArray[np.complex128], gain: float, error_db: float, skipped_s: float
) -> tuple[float, float | Below | CannotTell]:
    start, end = _span(RELEASE_STEP, skipped_s)
    n_smooth = 10 if error_db < 0.2 else 100
    levels_db = _smooth_db(course[start:end].real / gain, n_smooth)
    n_look = 300
    last, before = levels_db[-n_look:].mean(), levels_db[-2 * n_look : -n_look].mean()
    first = float(levels_db[n_smooth // 2])
    rise = float(last) - first
    if rise < SEEN_DB:
        return rise, Below(skipped_s)
    if abs(last - before) < STILL_MOVING_DB + 2.0 * error_db:
        over = np.flatnonzero(levels_db >= first + SHARE * rise)
        return rise, max(float(over[0]) - n_smooth // 2, 1.0) * EVERY_S
    return rise, _unfinished_s(levels_db, n_smooth)


def _unfinished_s(levels_db: NDArray[np.float64], n_smooth: int) -> float | CannotTell:
    """Time constant of an exponential from its beginning, middle and end."""
    half = levels_db.size // 2
    first, middle, last = (
        float(levels_db[max(at - n_smooth, 0) : at + n_smooth].mean())
        for at in (n_smooth, half, levels_db.size - n_smooth)
    )
    ratio = (last - middle) / (middle - first)
    if not 0.0 < ratio < 0.9:
        return CannotTell("longer than the 3 s for which it was watched")
    return -(half - n_smooth) * EVERY_S / math.log(ratio)


def _attack(
    course: NDArray[np.complex128], gain: float, skipped_s: float
) -> tuple[float, float | Below | CannotTell]:
    start, end = _span(LOUD_STEPS[1], skipped_s)
    levels_db = _smooth_db(course[start:end].real / gain, 3)
    over = levels_db - float(levels_db[-300:].mean())
    first = float(over[1])
    if first < max(SEEN_DB, SEEN_SIGMAS * float(np.std(over[-300:]))):
        return first, Below(skipped_s)
    below = np.flatnonzero(over < (1.0 - SHARE) * first)
    return first, float(below[0] - 1) * EVERY_S if below.size else CannotTell("longer than 0.9 s")


def _smooth_db(amplitudes: Samples, n_smooth: int) -> NDArray[np.float64]:
    padded = np.pad(amplitudes, (n_smooth // 2, (n_smooth - 1) // 2), mode="edge")
    mean = np.convolve(padded, np.ones(n_smooth) / n_smooth, mode="valid")
    return amplitudes_db(np.maximum(mean, 1e-6))
