"""Morse, RTTY and PSK31 as wanted signals: tables, round trips, power, refusals."""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from solidcopy.errors import MessageError, PlanError
from solidcopy.modes.plain_text import ita2, varicode
from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.modes.plain_text.morse import MORSE
from solidcopy.modes.plain_text.morse_code import CODE, edge_times
from solidcopy.modes.plain_text.psk31 import PSK31
from solidcopy.modes.plain_text.rtty import RTTY
from solidcopy.modes.registry import coded_mode, slotted_mode
from solidcopy.trials.plan import plan_of_text

MODES = [MORSE, RTTY, PSK31]
NAMES = [mode.name for mode in MODES]
CHARACTERS = {
    "morse": "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/?=.,+-",
    "rtty": "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-?:().,'=/+",
    "psk31": "".join(chr(code) for code in range(33, 127) if not chr(code).islower()),
}
"""All that each can send, the blank left out."""


def texts_of(name: str) -> list[str]:
    """Every character once, in short texts with a blank."""
    all_of_it = CHARACTERS[name]
    pieces = [all_of_it[place : place + 8] for place in range(0, len(all_of_it), 8)]
    return [f"{piece[:4]} {piece[4:]}".strip() for piece in pieces]


@pytest.mark.derived
@pytest.mark.parametrize("mode", MODES, ids=NAMES)
def test_every_character_comes_back(mode: PlainTextMode) -> None:
    for text in texts_of(mode.name):
        message = mode.pack(text.lower())
        assert message.text == text
        assert mode.unpack(message.bits()) == text


@pytest.mark.authority  # ITU-R M.1677-1 by FACTS F1; PARIS of 50 units
def test_morse_keeps_its_time() -> None:
    assert edge_times("PARIS")[1] == 50
    assert MORSE.facts.symbol_s == pytest.approx(0.060)
    # A word and its gap last 3 s at 20 words per minute; the gap is not sent at the end.
    assert MORSE.lasts_s(MORSE.pack("PARIS")) == pytest.approx((50 - 7) * 0.060 + 0.005)
    assert len(set(CODE.values())) == len(CODE)
    assert CODE["-"] == "-....-"  # hyphen or minus, from memory


@pytest.mark.authority  # FACTS F2
def test_rtty_keeps_its_time_and_shifts() -> None:
    assert sorted(ita2.LETTERS.values()) == sorted(set(ita2.LETTERS.values()))
    # CR LF, letters, Q, figures, 1, letters, A B C, CR LF: 11 characters and shifts of 165 ms.
    message = RTTY.pack("Q1ABC")
    assert RTTY.lasts_s(message) == pytest.approx(12 * 0.165)
    values = message.bits().reshape(-1, 5) @ (1 << np.arange(5))
    assert values.tolist() == [8, 2, 0x1F, 0x17, 0x1B, 0x17, 0x1F, 3, 0x19, 0x0E, 8, 2]
    tones = RTTY.encode(message).reshape(-1, 15)
    assert (tones[:, :2] == 1).all()  # start: space
    assert (tones[:, 12:] == 0).all()  # one and a half stop: mark
    # The lower tone is the mark: a stop turns at the audio frequency, a start 170 Hz above.
    signal = RTTY.modulate(RTTY.encode(message), sample_rate_hz=48_000, audio_hz=1000.0)
    turns_hz = np.angle(signal[1:] / signal[:-1]) / (2.0 * np.pi) * 48_000
    assert turns_hz[100] == pytest.approx(1170.0)
    assert turns_hz[int(0.150 * 48_000)] == pytest.approx(1000.0)


@pytest.mark.authority  # FACTS F3
def test_psk31_codes_and_turns() -> None:
    codes = list(varicode.CODE.values())
    assert len(set(codes)) == 128
    assert all("00" not in code and code[0] == code[-1] == "1" for code in codes)
    message = PSK31.pack("E T")
    bits = "".join(map(str, message.bits().tolist()))
    # Reversals, a new line, e, blank, t, a new line, steady carrier; gaps of 00.
    assert bits == "0" * 16 + "1110100" + "1100" + "100" + "10100" + "1110100" + "1" * 8
    signal = PSK31.modulate(PSK31.encode(message), sample_rate_hz=8_000, audio_hz=1000.0)
    carrier = np.exp(-2j * np.pi * 1000.0 * np.arange(signal.size) / 8_000)
    middles = (signal * carrier).real[256::256]
    turned = np.diff(np.sign(middles[: len(bits) + 1])) != 0
    assert "".join("0" if turn else "1" for turn in turned) == bits


@pytest.mark.derived
def test_power_of_a_keyed_signal_is_the_mean_over_its_transmission() -> None:
    # PARIS has 22 units of key down in 43 (10 dots, 4 dashes): with the key down 43/22 more.
    signal = MORSE.modulate(
        MORSE.encode(MORSE.pack("PARIS")), sample_rate_hz=12_000, audio_hz=1000.0
    )
    assert np.mean(np.abs(signal) ** 2) == pytest.approx(1.0)
    # Soft edges of 5 ms take 1.25 ms of power from each of 28; transmission is 5 ms longer.
    down_s = 22 * 0.060 - 28 * 0.000_625
    assert np.max(np.abs(signal)) ** 2 == pytest.approx((43 * 0.060 + 0.005) / down_s, rel=1e-3)


@pytest.mark.parametrize("mode", MODES, ids=NAMES)
def test_what_a_mode_cannot_carry_is_refused_in_a_sentence(mode: PlainTextMode) -> None:
    with pytest.raises(MessageError, match=f'{mode.name} cannot send "Ä"; it has .*letters|ASCII'):
        mode.pack("Ä")
    with pytest.raises(MessageError, match="the text is empty"):
        mode.pack("  ")
    with pytest.raises(MessageError, match=r"has room for .* s; give a shorter text"):
        mode.pack("Q0QQQ " * 20)
    with pytest.raises(PlanError, match="does not fit"):
        mode.modulate(mode.encode(mode.pack("A")), sample_rate_hz=8_000, audio_hz=3_990.0)
    with pytest.raises(PlanError, match=f"a table is for ft8, ft4, not for {mode.name}"):
        coded_mode(mode, "a table")
    with pytest.raises(PlanError, match=f"a table counts slots, and {mode.name} keeps to none"):
        slotted_mode(mode.name, "a table")


@pytest.mark.derived
def test_widths_are_those_of_the_trade() -> None:
    # FACTS F1: three times the bauds; FACTS F2: the shift; FACTS F3: the symbol rate.
    assert MORSE.facts.width_hz == pytest.approx(3.0 / 0.060)
    assert RTTY.facts.tone_spacing_hz == 170.0
    assert PSK31.facts.width_hz == pytest.approx(31.25)
    assert math.isclose(1.0 / RTTY.facts.symbol_s, 45.45, abs_tol=0.01)


def test_the_plan_of_the_page_is_one() -> None:
    page = Path(__file__).parents[2] / "docs/explanation/other-modes.md"
    (text,) = re.findall(r"```toml\n(.*?)```", page.read_text(encoding="utf-8"), re.S)
    plan = plan_of_text(text, page)
    assert plan.mode == "rtty"
    assert plan.receivers[0].kind == "textbook"
