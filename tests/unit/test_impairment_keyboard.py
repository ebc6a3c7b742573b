"""Neighbours at a keyboard: what is refused, where they begin, what their names mean."""

import numpy as np
import pytest
from pydantic import TypeAdapter, ValidationError

from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.morse import CODE, MorseKeying
from solidcopy.impairments.added.multi_tone import MultiTone
from solidcopy.impairments.added.psk31 import Psk31
from solidcopy.impairments.added.running_text import draw_groups
from solidcopy.impairments.added.teleprinter import Teleprinter
from solidcopy.impairments.catalogue import AnyImpairment
from solidcopy.impairments.impairment import Scene
from solidcopy.signals import power
from solidcopy.trials.identity import identity_of

SCENE = Scene(8_000, 32_000, 1500.0, 50.0)
PLACE = {"audio_hz": 1500.0, "signal_to_interference_db": 0.0}
ADAPTER = TypeAdapter(AnyImpairment)


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def test_groups_are_of_five_letters_and_enough():
    text = draw_groups(generator(), n_characters=200)
    assert len(text) >= 200
    assert {len(group) for group in text.split()} == {5}
    assert set(text) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ ")


@pytest.mark.parametrize("kind", [Teleprinter, Psk31, MultiTone])
def test_random_letters_do_not_come_round_again(kind):
    """Two slots of one length from one text differ; within a slot no half repeats the other."""
    long = Scene(8_000, 160_000, 1500.0, 50.0)
    samples = kind(**PLACE).synthesise(long, generator()).samples
    spectrum = np.abs(np.fft.rfft(samples, 320_000)) ** 2
    echo = np.fft.irfft(spectrum)[8_000:150_000]
    # Of a signal that repeats after d of 20 s, the echo is 1 - d / 20 of the whole.
    left = 1.0 - np.arange(8_000, 150_000) / 160_000
    assert np.abs(echo / left).max() < 0.9 * np.sum(samples**2)


@pytest.mark.parametrize(
    ("kind", "fields", "width_hz"),
    [
        # Reach: shift / 2 + 4 speeds; 2 speeds; width / 2 + a spacing.
        (Teleprinter, {"shift_hz": 850.0, "speed_bd": 50.0}, 1250.0),
        (Psk31, {}, 125.0),
        (MultiTone, {"width_hz": 2000.0, "n_tones": 16}, 2250.0),
    ],
)
def test_band_that_would_alias_is_refused(kind, fields, width_hz):
    def at(audio_hz):
        return kind(audio_hz=audio_hz, signal_to_interference_db=0.0, **fields)

    for audio_hz in (width_hz / 2.0 + 0.1, 3999.9 - width_hz / 2.0):
        made = at(audio_hz).synthesise(SCENE, generator())
        assert made.occupied_hz[0] >= 0.0
        assert made.occupied_hz[1] <= 4000.0
    for audio_hz in (width_hz / 2.0 - 0.1, 4000.1 - width_hz / 2.0):
        with pytest.raises(CalibrationError, match="may lie between"):
            at(audio_hz).synthesise(SCENE, generator())


@pytest.mark.parametrize(
    ("kind", "fields", "sentence"),
    [
        (Teleprinter, {"text": "ÄTHER"}, 'no combination for "Ä"'),
        (Teleprinter, {"text": "A@B"}, 'no combination for "@"'),
        (Psk31, {"text": "grüße"}, 'no code for "ß"'),
        (MultiTone, {"text": "grün"}, "characters of ASCII"),
        (MultiTone, {"n_tones": 12}, "Input should be 2, 4, 8, 16, 32 or 64"),
        (MultiTone, {"width_hz": 100.0}, "greater than or equal to 250"),
        (Teleprinter, {"stop_elements": 0.5}, "greater than or equal to 1"),
        (Teleprinter, {"speed_bd": 1.0}, "greater than or equal to 20"),
        (Psk31, {"offset_hz": 1.0}, "exactly one of `audio_hz` or `offset_hz`, not 2"),
        (MultiTone, {"text": ""}, "at least 1 character"),
    ],
)
def test_impossible_neighbours_are_refused(kind, fields, sentence):
    with pytest.raises(ValidationError, match=sentence):
        kind(**{**PLACE, **fields})


@pytest.mark.derived
def test_mark_may_be_the_upper_tone():
    """Stops of 3 elements and the five marks of "letters" outweigh the spaces."""
    for mark, sign in (("lower", -1.0), ("upper", 1.0)):
        printer = Teleprinter(**PLACE, mark=mark, text=" ", stop_elements=3.0)
        is_mark, lengths_s = printer.elements("  ")  # the text and the blank after it
        share = lengths_s[is_mark].sum() / lengths_s.sum()
        assert share > 0.55
        phases = np.unwrap(np.angle(printer.baseband(SCENE, generator())))
        mean_hz = (phases[-1] - phases[0]) / (2.0 * np.pi * SCENE.duration_s)
        assert mean_hz == pytest.approx(sign * 85.0 * (2.0 * share - 1.0), abs=6.0)


@pytest.mark.parametrize("kind", [Teleprinter, Psk31, MultiTone])
def test_a_fixed_text_begins_anywhere(kind):
    short = Scene(8_000, 4_000, 1500.0, 50.0)
    made = [
        kind(**PLACE, text="TEST Q1ABC").synthesise(short, generator(seed)).samples
        for seed in (1, 2)
    ]
    assert abs(np.corrcoef(made)[0, 1]) < 0.9


@pytest.mark.derived
@pytest.mark.parametrize("kind", [Teleprinter, Psk31, MultiTone])
@pytest.mark.parametrize("seed", range(3))
def test_reference_is_the_power_of_the_slot(kind, seed):
    made = kind(**PLACE).synthesise(SCENE, generator(seed))
    assert power.mean_power(made.samples) == pytest.approx(made.reference_power, rel=1e-3)


# -- hard keying ----------------------------------------------------------------------------


def hard(**fields):
    return {"kind": "carrier", **PLACE, "keying": {"edge_ms": 0.0, **fields}}


def test_hard_keyed_carrier_must_lie_in_the_passband_of_its_clicks():
    for audio_hz in (299.0, 2801.0):
        carrier = ADAPTER.validate_python({**hard(), "audio_hz": audio_hz})
        with pytest.raises(CalibrationError, match="between 300 and 2800 Hz, within the passband"):
            carrier.synthesise(SCENE, generator())
    wide = ADAPTER.validate_python(hard(clicks={"high_hz": 3950.0}))
    with pytest.raises(CalibrationError, match=r"only 0 to 4000 Hz exist"):
        wide.synthesise(SCENE, generator())


def test_nothing_lies_beyond_the_passband_of_the_clicks():
    carrier = ADAPTER.validate_python(hard(speed_wpm=60.0, clicks={"low_hz": 500, "high_hz": 2500}))
    samples = carrier.synthesise(Scene(48_000, 192_000, 1500.0, 50.0), generator()).samples
    spectrum = np.abs(np.fft.rfft(samples * np.blackman(samples.size))) ** 2
    frequency_hz = np.fft.rfftfreq(samples.size, 1 / 48_000)
    beyond = (frequency_hz < 390.0) | (frequency_hz > 2610.0)
    assert spectrum[beyond].max() < 1e-9 * spectrum.max()


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"edge_ms": 0.5}, r"it may be 0 \(hard edges\) or 1 to 20"),
        ({"edge_ms": 5.0, "clicks": {}}, "clicks come from hard edges only"),
        ({"clicks": {"low_hz": 1000, "high_hz": 1300}, "edge_ms": 0.0}, "narrower than 400 Hz"),
    ],
)
def test_contradictory_edges_are_refused(fields, sentence):
    with pytest.raises(ValidationError, match=sentence):
        MorseKeying(**fields)


def test_random_groups_are_sent_in_the_code():
    keying = MorseKeying(text="random")
    first, second = (
        np.diff(keying.edges_s(duration_s=15.0, generator=generator(seed))) for seed in (1, 2)
    )
    assert not np.array_equal(first[:40], second[:40])
    units = np.round(first / keying.dot_s).astype(int)
    assert set(units) == {1, 3, 7}
    assert "random".upper() not in CODE


@pytest.mark.frozen
def test_identity_of_older_plans_is_what_it_was():
    """Today's behaviour before clicks and pauses came: journals go on. Confirmed by nobody."""
    steady = Carrier(audio_hz=900.0, signal_to_interference_db=0.0)
    keyed = Carrier(
        audio_hz=700.0,
        signal_to_interference_db=0.0,
        keying=MorseKeying(text="TEST Q1ABC", speed_wpm=25.0),
    )
    assert identity_of(steady.identity()).startswith("9b970d20f81d7be6a46e8652")
    assert identity_of(keyed.identity()).startswith("65b57b6f0533c3648411bde0")


def test_clicks_and_pauses_are_part_of_the_identity():
    plain = {"kind": "carrier", **PLACE, "keying": {"edge_ms": 0.0}}
    others = [
        hard(clicks={"low_hz": 250.0}),
        hard(clicks={"high_hz": 2500.0}),
        {**plain, "gate": {"on_s": 1.0, "off_s": 1.0}},
        {**plain, "gate": {"on_s": 1.0, "off_s": 2.0}},
    ]
    found = {identity_of(ADAPTER.validate_python(one).identity()) for one in (plain, *others)}
    assert len(found) == 5
