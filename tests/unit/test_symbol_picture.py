"""Which symbols were hit: against closed forms and a burst whose place is known."""

import math

import numpy as np
import pytest

from solidcopy.actions.symbol_picture import is_wrong, symbol_picture
from solidcopy.modes.registry import mode_named
from solidcopy.seeds import Chance
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.trial import SENT, Trial, Truth


def made(mode, snr_db, index=0, **sending):
    condition = Condition.model_validate(
        {
            "name": "a",
            "sending": sending,
            "impairments": [{"kind": "gaussian-noise", "snr_db": snr_db}],
        }
    )
    recording, truth = make(Trial(mode, condition, 12_000, None, Chance(8, SENT, index, 0.0)))
    return recording.waveform, truth


@pytest.mark.derived
@pytest.mark.parametrize(("mode", "n", "n_sync"), [("ft8", 79, 21), ("ft4", 103, 16)])
def test_a_strong_signal_has_every_symbol_right(mode, n, n_sync):
    picture = symbol_picture(*made(mode, 15.0)[:1], mode, made(mode, 15.0)[1])
    for row in (picture.plain, picture.mended):
        assert (row.n_wrong, row.n_heard) == (0, n)
        assert f"0 of {n} symbols wrong: 0 of {n_sync} of the Costas arrays" in row.counts
        assert "code bits 0 point the wrong way" in row.counts
    roles = [symbol.role for symbol in picture.plain.symbols]
    assert roles.count("sync") == n_sync
    assert roles.count("ramp") == (0 if mode == "ft8" else 2)


@pytest.mark.derived
@pytest.mark.parametrize(("mode", "symbol"), [("ft8", 37), ("ft4", 50)])
def test_a_burst_over_one_symbol_hits_it_and_no_other(mode, symbol):
    waveform, truth = made(mode, 20.0)
    facts = mode_named(mode).facts
    at_s = facts.nominal_start_s + truth.time_offset_s + symbol * facts.symbol_s
    first, n = round(at_s * 12_000), round(facts.symbol_s * 12_000)
    rng = np.random.default_rng(2)
    hit = 0
    for _ in range(20):
        samples = waveform.samples.copy()
        samples[first : first + n] += rng.normal(scale=10.0, size=n).astype(np.float32)
        picture = symbol_picture(Waveform(samples, 12_000), mode, truth)
        wrong = [one.number for one in picture.plain.symbols if is_wrong(one)]
        # The narrow band rings: a neighbour may be touched, further ones not.
        assert all(abs(number - symbol) <= 1 for number in wrong), wrong
        hit += symbol in wrong
        assert abs(picture.plain.symbols[symbol].at_s - at_s) < 1e-3
    # Noise far above the tone leaves chance: 7 in 8 wrong of 8 tones, 3 in 4 of 4.
    share = 1.0 - 1.0 / facts.n_tones
    assert hit >= 20 * share - 4 * math.sqrt(20 * share * (1 - share))


@pytest.mark.derived
@pytest.mark.parametrize("mode", ["ft8", "ft4"])
def test_far_below_threshold_symbols_are_right_by_chance_only(mode):
    """Closed form: any of n tones is the strongest with probability 1 / n."""
    n_tones = mode_named(mode).facts.n_tones
    rows = [symbol_picture(w, mode, t).plain for w, t in (made(mode, -60.0, i) for i in range(12))]
    n, wrong = sum(row.n_heard for row in rows), sum(row.n_wrong for row in rows)
    share = 1.0 - 1.0 / n_tones
    assert abs(wrong / n - share) < 4.0 * math.sqrt(share * (1 - share) / n)


@pytest.mark.authority
def test_symbol_errors_follow_the_closed_form_of_orthogonal_tones():
    """Non-coherent orthogonal M-ary keying in white noise (textbook, e.g. Proakis, Digital
    Communications, chapter on non-coherent detection; from memory)."""
    es_n0 = 10 ** ((-20.0 + 26.021 - 0.1) / 10)  # 0.1 dB: what a cell misses of a shaped symbol
    expected = sum(
        (-1) ** (k + 1) * math.comb(7, k) / (k + 1) * math.exp(-k / (k + 1) * es_n0)
        for k in range(1, 8)
    )
    slots = (made("ft8", -20.0, index) for index in range(25))
    rows = [symbol_picture(waveform, "ft8", truth).plain for waveform, truth in slots]
    n, wrong = sum(row.n_heard for row in rows), sum(row.n_wrong for row in rows)
    assert abs(wrong / n - expected) < 4.0 * math.sqrt(expected * (1 - expected) / n)


def test_what_is_outside_the_audio_is_said_to_be():
    waveform, truth = made("ft8", 10.0, start_offset_s=2.4)
    picture = symbol_picture(waveform, "ft8", truth)
    outside = [one for one in picture.plain.symbols if one.margin_db is None]
    assert picture.plain.n_heard == 79 - len(outside) and len(outside) == 3
    assert all(one.words.endswith("not in the audio") for one in outside)


def test_without_a_message_there_is_no_picture():
    waveform, _ = made("ft8", 10.0)
    assert symbol_picture(waveform, "ft8", Truth(None, 1500.0, 0.0)) is None
