"""Modes on one axis: the same texts in the same white noise, and what each mode takes for it."""

from dataclasses import dataclass
from statistics import mean

import numpy as np

from solidcopy.modes.registry import CODED_NAMES, mode_named
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.seeds import Chance, stream
from solidcopy.statistics.points import Points
from solidcopy.trials.character_errors import character_error_rate
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.score import score
from solidcopy.trials.trial import NOTHING_SENT, SENT

ROOT_SEED = 20261201
RATE_HZ = 12_000
N_SPECTRA = 40


@dataclass(frozen=True, slots=True)
class Compared:
    """One mode on the axis."""

    points: Points
    character_errors: tuple[float, ...]
    """Mean at each value of the axis."""
    n_printed_in_noise: int
    n_silent: int
    """Windows in which nothing was sent."""


def plan_of(mode: str, values_db: tuple[float, ...]) -> Plan:
    """White noise, anywhere in the band, the usual receiver of the mode."""
    return parse_plan(
        {
            "mode": mode,
            "root_seed": ROOT_SEED,
            "axis": {"values": list(values_db)},
            "stop": {"trials_per_point": 100},
            "conditions": [
                {
                    "name": "white noise",
                    "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}],
                }
            ],
            "receivers": [{"kind": "builtin" if mode in CODED_NAMES else "textbook"}],
        }
    )


def compared(mode: str, values_db: tuple[float, ...], n_each: int, n_silent: int) -> Compared:
    """Trials of one mode: at each value the texts that every other mode gets there too."""
    plan = plan_of(mode, values_db)
    receiver = build_receiver(plan.receivers[0], mode_named(mode))
    decoded, errors = [], []
    for value in plan.axis.points():
        n_right, rates = 0, []
        for index in range(n_each):
            recording, truth = make(trial_of(plan, TrialKey(0, SENT, value, index)))
            reception = receiver.receive(recording.waveform)
            outcome = score(reception, truth, recording)
            n_right += outcome.verdict is Verdict.DECODED
            assert truth.message is not None
            read = [decode.text for decode in reception.decodes]
            rates.append(character_error_rate(truth.message.text, read))
        decoded.append(n_right)
        errors.append(mean(rates))
    n_printed = 0
    for index in range(n_silent):
        recording, _ = make(trial_of(plan, TrialKey(0, NOTHING_SENT, values_db[0], index)))
        n_printed += bool(receiver.receive(recording.waveform).decodes)
    n_scored = np.full(len(values_db), n_each)
    points = Points(np.array(plan.axis.points()), np.array(decoded), n_scored)
    return Compared(points, tuple(errors), n_printed, n_silent)


@dataclass(frozen=True, slots=True)
class Taken:
    """What a mode takes for one text."""

    mean_s: float
    """Mean length of a transmission."""
    occupied_hz: float
    """Bandwidth outside which 0.5 % of the mean power lies on each side (RR 1.153)."""
    peak_over_mean_db: float
    """Greatest power of the envelope over the mean of the transmission."""


def taken(mode_name: str) -> Taken:
    """Measured of transmissions without noise."""
    mode = mode_named(mode_name)
    lengths, peaks = [], []
    power = np.zeros(RATE_HZ * 20)
    for index in range(N_SPECTRA):
        message = mode.draw_message(stream(Chance(ROOT_SEED, SENT, index, 0.0), "message"))
        lengths.append(mode.lasts_s(message))
        signal = mode.modulate(mode.encode(message), sample_rate_hz=RATE_HZ, audio_hz=2000.0)
        peaks.append(float(np.max(np.abs(signal) ** 2) / np.mean(np.abs(signal) ** 2)))
        power += np.abs(np.fft.fft(signal, power.size)) ** 2
    share = np.cumsum(power) / power.sum()
    low, high = np.searchsorted(share, [0.005, 0.995])
    return Taken(mean(lengths), float(high - low) / 20.0, 10.0 * np.log10(mean(peaks)))
