"""Texts that are refused, with the reason; payloads that no text packs to."""

import pytest

from solidcopy.errors import MessageError
from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.messages77 import calls
from solidcopy.modes.messages77.packing import pack_text, unpack_payload


def number_of(text: str) -> int:
    return int("".join(map(str, pack_text(text).payload)), 2)


def payload_of(number: int) -> list[int]:
    return [int(bit) for bit in format(number, "077b")]


REFUSALS = {
    "": "empty",
    "   ": "empty",
    "Hé": "'é' \\(character 2\\)",
    "tab\there": "character 4",
    "straße": "'ß' \\(character 5\\)",
    "CQ Q1ABC FN42!": "'!' \\(character 14\\)",
    "HELLO WORLD AGAIN": "holds 13 characters, not 17",
    "Q1ABC Q2XYZ -31": "-30 to \\+49",
    "Q1ABC Q2XYZ +50": "-30 to \\+49",
    "Q1ABC Q2XYZ R73": "'R73' cannot close",
    "Q1ABC Q2XYZ FN4Z": "'FN4Z' cannot close",
    "Q1ABC Q2XYZ RRR 73": "'RRR 73' cannot close",
    "CQ Q1ABC/QRP FN42": "too long for CQ",
    "CQ Q1ABC R FN42": "'R FN42' cannot follow CQ",
    "CQ DX NOCALLSIGN": "'NOCALLSIGN' is not a call sign",
    "Q1ABC/R Q2XYZ/P 73": "both /R and /P",
    "Q1ABC/QRP Q2XYZ/QRP 73": "only one of Q1ABC/QRP and Q2XYZ/QRP",
    "<...> Q1ABC 73": "a call that is not known",
    "<HELLO> Q1ABC 73": "does not begin with",
    "Q1ABC RR73; Q2XYZ Q3DEF -11": "even numbers from -30 to \\+30",
    "Q1ABC RR73; Q2XYZ Q3DEF -32": "even numbers from -30 to \\+30",
    "Q1ABC RR73; Q2XYZ Q3DEF X": "'X' is no report",
    "Q1ABC RR73; Q2XYZ -12": "five words, not 4",
    "Q1ABC Q2XYZ 33A SECTION3": "1 to 32",
    "Q1ABC Q2XYZ 0A SECTION3": "1 to 32",
    "Q1ABC Q2XYZ 6Z SECTION3": "A to H",
    "Q1ABC Q2XYZ 6A SECTION128": "0 to 127",
    "Q1ABC Q2XYZ X 6A SECTION3": "'X' cannot stand",
    "Q1ABC Q2XYZ 519 0013": "529, 539",
    "Q1ABC Q2XYZ 599 8000": "0 to 7999",
    "Q1ABC Q2XYZ 599 STATE192": "STATE0 to STATE191",
    "TU; Q1ABC 599 0013": "CALL CALL 599 0013",
    "TU;": "CALL CALL 599 0013",
    "Q1ABC Q2XYZ 592048 FN42AB": "0000 to 2047",
    "Q1ABC Q2XYZ 510003 FN42AB": "52 to 59",
    "Q1ABC Q2XYZ 590003 FN42AY": "AA00AA to RR99XX",
    "Q1ABC Q2XYZ X 590003 FN42AB": "'X' cannot stand",
    "123456789ABCDEF": "18 hexadecimal digits, not 15",
    "8" + "0" * 17: "0 to 7, not 8",
    "A;B": "free text has no ';' \\(character 2\\)",
}


@pytest.mark.parametrize("text", REFUSALS)
def test_refused_with_the_reason(text: str) -> None:
    with pytest.raises(MessageError, match=REFUSALS[text]):
        pack_text(text)


@pytest.mark.derived
@pytest.mark.parametrize(
    "number",
    [
        0,  # free text of blanks only, the all-zero word that every check passes
        (1 << 71) - 1 << 6,  # beyond 42^13
        2 << 3,
        6 << 3,
        7 << 3,
        6,
        7,
    ],
)
def test_payloads_without_meaning_are_refused(number: int) -> None:
    with pytest.raises(MessageError):
        unpack_payload(payload_of(number))


@pytest.mark.derived
@pytest.mark.parametrize(
    ("text", "place", "width", "value"),
    [
        ("Q1ABC Q2XYZ 73", 18, 1, 1),  # R before 73
        ("Q1ABC Q2XYZ", 18, 1, 1),  # R before nothing
        ("Q1ABC Q2XYZ 73", 3, 15, 32_400),  # between locators and blank
        ("Q1ABC Q2XYZ 73", 3, 15, 32_485),  # +50 dB
        ("Q1ABC Q2XYZ 73", 20, 28, 2),  # CQ as second call
        ("Q1ABC Q2XYZ 73", 20, 28, calls.FIRST_STANDARD_CALL),  # the call "0 0"
        ("Q1ABC Q2XYZ 73", 49, 28, 1003 + 27),  # CQ and a letter with a gap behind
        ("Q1ABC Q2XYZ 73", 49, 28, 532_444),  # first value behind CQ ZZZZ
        ("DE Q2XYZ", 48, 1, 1),  # DE/R
        ("<Q1ABC/QRP> Q2XYZ", 48, 1, 1),  # a hash with /R
        ("CQ Q2XYZ FN42", 3, 15, 32_420),  # a report behind CQ
        ("CQ Q2XYZ FN42", 18, 1, 1),  # R FN42 behind CQ
        ("CQ Q1ABC/QRP", 7, 58, 38**11),  # beyond eleven characters
        ("CQ Q1ABC/QRP", 7, 58, 11),  # the call "A"
        ("Q1ABC RR73; Q2XYZ Q3DEF +30", 6, 5, 31),  # +32 dB
        ("Q1ABC Q2XYZ 590003 FN42AB", 3, 25, 180 * 180 * 24 * 24),  # behind RR99XX
    ],
)
def test_fields_that_no_text_packs_to_are_refused(
    text: str, place: int, width: int, value: int
) -> None:
    number = number_of(text)
    emptied = number & ~(((1 << width) - 1) << place)
    assert FT8.unpack(payload_of(number))
    with pytest.raises(MessageError):
        unpack_payload(payload_of(emptied | value << place))


def test_payloads_of_another_shape_are_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="77"):
        unpack_payload([0] * 91)
    with pytest.raises(ValueError, match="0 and 1"):
        unpack_payload([2] * 77)
