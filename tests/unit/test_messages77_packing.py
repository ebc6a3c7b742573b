"""Constants and layouts of the packing, and which text goes as which type.

Constants and layouts: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from
memory, backed by the sums and ranges checked here.
"""

import pytest

from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.messages77 import calls
from solidcopy.modes.messages77.calling import pack_token, unpack_token
from solidcopy.modes.messages77.calls import Call, is_call_in_full, is_standard_call, pack_call
from solidcopy.modes.messages77.closing import locator_number, pack_closing
from solidcopy.modes.messages77.hashes import KnownCalls, call_hash
from solidcopy.modes.messages77.packing import pack_text, unpack_payload


def number_of(text: str) -> int:
    return int("".join(map(str, pack_text(text).payload)), 2)


def type_of(text: str) -> str:
    number = number_of(text)
    return str(number & 7) if number & 7 else f"0.{number >> 3 & 7}"


def payload_of(number: int) -> list[int]:
    return [int(bit) for bit in format(number, "077b")]


@pytest.mark.derived
def test_call_field_is_filled_exactly() -> None:
    # 37·36·10·27³ is also the count of the call packing in "The WSPR Coding Process", part 2.
    assert calls.N_TOKENS == 2_063_592
    assert calls.FIRST_STANDARD_CALL + 37 * 36 * 10 * 27**3 == 1 << 28
    assert pack_call(Call("ZZ9ZZZ")) == (1 << 28) - 1


@pytest.mark.derived
def test_call_and_token_values() -> None:
    assert pack_call(Call("Q1ABC")) == 11_395_945
    assert pack_call(Call("Q2XYZ")) == 11_433_039
    tokens = {"DE": 0, "QRZ": 1, "CQ": 2, "CQ 000": 3, "CQ 999": 1002, "CQ A": 1004, "CQ DX": 1135}
    tokens |= {"CQ 145": 148, "CQ TEST": 398_841, "CQ ZZZZ": 532_443}
    assert {token: pack_token(token) for token in tokens} == tokens
    assert {token: unpack_token(value) for token, value in tokens.items()} == {k: k for k in tokens}


@pytest.mark.derived
@pytest.mark.parametrize(
    ("call", "h22", "h12", "h10"),
    [
        ("Q1ABC", 3_133_693, 3060, 765),
        ("Q2XYZ", 2_088_583, 2039, 509),
        ("Q1ABC/QRP", 1_565_483, 1528, 382),
    ],
)
def test_hash_values(call: str, h22: int, h12: int, h10: int) -> None:
    assert [call_hash(call, n_bits=n_bits) for n_bits in (22, 12, 10)] == [h22, h12, h10]
    assert (h22 >> 10, h22 >> 12) == (h12, h10)


@pytest.mark.derived
def test_alphabets_fit_their_fields() -> None:
    assert 42**13 < 1 << 71
    assert 38**11 < 1 << 58
    assert 180 * 180 < 1 << 15
    assert 180 * 180 * 24 * 24 < 1 << 25


@pytest.mark.derived
def test_closing_values_and_the_trap_of_rr73() -> None:
    assert locator_number("AA00") == 0
    assert locator_number("FN42") == 10_342
    assert locator_number("RR99") == 32_399
    words = {"": 32_401, "RRR": 32_402, "RR73": 32_403, "73": 32_404, "-30": 32_405, "+49": 32_484}
    assert {word: pack_closing(word, is_acknowledged=False) for word in words} == words
    assert pack_closing("RR73", is_acknowledged=True) == 32_373 == locator_number("RR73")
    sign_off, locator = number_of("Q1ABC Q2XYZ RR73"), number_of("Q1ABC Q2XYZ R RR73")
    assert (sign_off >> 3 & 0x7FFF, locator >> 3 & 0x7FFF) == (32_403, 32_373)
    assert FT8.unpack(payload_of(locator)) == "Q1ABC Q2XYZ R RR73"


@pytest.mark.derived
@pytest.mark.parametrize(
    ("text", "message_type", "canonical"),
    [
        ("cq q1abc fn42", "1", "CQ Q1ABC FN42"),
        ("  CQ   DX Q1ABC  FN42 ", "1", "CQ DX Q1ABC FN42"),
        ("CQ 145 Q1ABC", "1", "CQ 145 Q1ABC"),
        ("DE Q1ABC", "1", "DE Q1ABC"),
        ("QRZ Q1ABC FN42", "1", "QRZ Q1ABC FN42"),
        ("Q1ABC/R Q2XYZ R FN42", "1", "Q1ABC/R Q2XYZ R FN42"),
        ("Q1ABC Q2XYZ/P R-5", "2", "Q1ABC Q2XYZ/P R-05"),
        ("Q1ABC Q2XYZ +7", "1", "Q1ABC Q2XYZ +07"),
        ("Q1ABC Q2XYZ", "1", "Q1ABC Q2XYZ"),
        ("<Q1ABC/QRP> Q2XYZ -15", "1", "<Q1ABC/QRP> Q2XYZ -15"),
        ("Q1ABC Q2XYZ/QRP -15", "1", "Q1ABC <Q2XYZ/QRP> -15"),
        ("Q1ABC Q2XYZ/QRP RRR", "4", "<Q1ABC> Q2XYZ/QRP RRR"),
        ("Q2XYZ/QRP <Q1ABC/P>", "4", "Q2XYZ/QRP <Q1ABC/P>"),
        ("CQ Q2025ABC", "4", "CQ Q2025ABC"),
        ("Q1ABC RR73; Q2XYZ Q3DEF/QRP -12", "0.1", "Q1ABC RR73; Q2XYZ <Q3DEF/QRP> -12"),
        ("Q1ABC Q2XYZ 16a section3", "0.3", "Q1ABC Q2XYZ 16A SECTION3"),
        ("Q1ABC Q2XYZ R 17B SECTION3", "0.4", "Q1ABC Q2XYZ R 17B SECTION3"),
        ("TU; Q1ABC Q2XYZ R 599 13", "3", "TU; Q1ABC Q2XYZ R 599 0013"),
        ("Q1ABC/P Q2XYZ 529 STATE7", "3", "<Q1ABC/P> Q2XYZ 529 STATE7"),
        ("Q1ABC Q2XYZ/P R 590003 FN42AB", "5", "<Q1ABC> <Q2XYZ/P> R 590003 FN42AB"),
        ("123456789abcdef012", "0.5", "123456789ABCDEF012"),
        ("tnx 73 gl", "0.0", "TNX 73 GL"),
        ("A  B", "0.0", "A  B"),
        ("73", "0.0", "73"),
        ("CQ", "0.0", "CQ"),
        ("CQ Q1ABC -15", "0.0", "CQ Q1ABC -15"),
    ],
)
def test_type_and_canonical_text(text: str, message_type: str, canonical: str) -> None:
    # The rules are this project's own; they stand in the docstring of packing.py.
    message = pack_text(text)
    assert type_of(text) == message_type
    assert message.text == canonical
    assert len(message.payload) == 77


@pytest.mark.authority
def test_what_counts_as_a_call() -> None:
    # Radio Regulations No. 19.68 (from memory): prefix, digit, suffix that ends in a letter.
    for call in ("Q1A", "Q1ABC", "QA1ABC", "Q11ABC", "1Q1A"):
        assert is_standard_call(call), call
    for word in ("Q1", "Q1ABCD", "1A", "11ABC", "QAB1A", "Q1A2", "RR73", "FN42"):
        assert not is_standard_call(word), word
    for call in ("Q1ABC/QRP", "QA/Q1ABC", "Q2025ABC", "QAB0XY", "Q1ABCD", "Q1ABC/1"):
        assert is_call_in_full(call), call
    for word in (
        "RR73",
        "FN42",
        "73",
        "HELLO",
        "Q1ABC/",
        "/Q1ABC",
        "Q1//ABC",
        "Q1ABC/LONGER",
        "5W",
    ):
        assert not is_call_in_full(word), word


@pytest.mark.derived
def test_hashes_are_resolved_only_with_known_calls() -> None:
    mode = FT8
    message = mode.pack("Q1ABC RR73; Q2XYZ <Q3DEF/QRP> -12")
    assert mode.unpack(message.bits()) == "Q1ABC RR73; Q2XYZ <...> -12"
    known = KnownCalls.of(["q3def/qrp", "Q1ABC"])
    assert mode.unpack(message.bits(), known) == message.text
    assert mode.unpack(message.bits()) == "Q1ABC RR73; Q2XYZ <...> -12"


def test_known_calls_must_be_calls() -> None:
    for word in ("Q1ABC/LONGER", "Q1ABC!", ""):
        with pytest.raises(ValueError, match="known call"):
            KnownCalls.of([word])


@pytest.mark.derived
def test_two_known_calls_with_one_hash_stay_unresolved() -> None:
    # Found by search here: the first Q calls that share their 10-bit hash with Q1ABC.
    wanted = call_hash("Q1ABC", n_bits=10)
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    names = (f"Q2{a}{b}" for a in letters for b in letters)
    twin = next(name for name in names if call_hash(name, n_bits=10) == wanted)
    text = "Q7AA RR73; Q8BB <Q1ABC> +10"
    bits = pack_text(text).bits()
    assert unpack_payload(bits, KnownCalls.of(["Q1ABC"])) == text
    assert unpack_payload(bits, KnownCalls.of(["Q1ABC", twin])) == text.replace("Q1ABC", "...")


@pytest.mark.derived
def test_short_text_and_calls_in_full_stand_right_justified() -> None:
    # From memory, shown by no vector at hand. 7 and 3 are 8 and 4 of 42; Q, 1, A, /, 2, B are
    # 27, 2, 11, 37, 3, 12 of 38.
    assert number_of("73") >> 6 == 8 * 42 + 4
    value = ((((27 * 38 + 2) * 38 + 11) * 38 + 37) * 38 + 3) * 38 + 12
    assert number_of("CQ Q1A/2B") >> 7 & (1 << 58) - 1 == value


@pytest.mark.derived
def test_fields_lie_where_the_table_of_types_puts_them() -> None:
    # By hand from the layout. Type 1: c28 r1 c28 r1 R1 g15; type 4: h12 c58 h1 r2 c1; type 5:
    # h12 h22 R1 r3 s11 g25.
    number = number_of("Q1ABC/R Q2XYZ R FN42")
    assert number >> 48 == 11_395_945 << 1 | 1
    assert number >> 19 & (1 << 29) - 1 == 11_433_039 << 1
    assert number >> 3 & 0xFFFF == 1 << 15 | 10_342
    assert number_of("Q1ABC Q2XYZ/P") >> 18 & 0b11 == 0b10
    number = number_of("Q2XYZ/QRP <Q1ABC> RR73")
    assert number >> 65 == 3060
    assert number >> 3 & 0xF == 0b1100
    number = number_of("<Q1ABC> <Q2XYZ> R 592047 RR99XX")
    assert number >> 65 == 3060
    assert number >> 43 & (1 << 22) - 1 == 2_088_583
    assert number >> 39 & 0xF == 0b1111
    assert number >> 28 & 0x7FF == 2047
    assert number >> 3 & (1 << 25) - 1 == 180 * 180 * 24 * 24 - 1
    number = number_of("TU; Q1ABC Q2XYZ R 579 7999")
    assert number >> 76 == 1
    assert number >> 48 & (1 << 28) - 1 == 11_395_945
    assert number >> 20 & (1 << 28) - 1 == 11_433_039
    assert number >> 16 & 0xF == 0b1101
    assert number >> 3 & 0x1FFF == 7999
    number = number_of("Q1ABC Q2XYZ R 18C SECTION5")
    assert number >> 21 & (1 << 28) - 1 == 11_433_039
    assert number >> 6 & 0x7FFF == 0b1_0001_010_0000101
    number = number_of("Q1ABC RR73; Q2XYZ <Q1ABC/QRP> +30")
    assert number >> 11 & 0x3FF == 382
    assert number >> 6 & 0x1F == 30
