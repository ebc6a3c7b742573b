"""Laws of packing: what is packed is what is unpacked, for every type and every payload."""

import re
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from solidcopy.errors import MessageError
from solidcopy.modes.messages77.calls import parse_call
from solidcopy.modes.messages77.free_text import ALPHABET
from solidcopy.modes.messages77.hashes import KnownCalls, call_hash
from solidcopy.modes.messages77.packing import pack_text, unpack_payload

pytestmark = pytest.mark.derived

STANDARD = st.from_regex(r"(?:[A-Z]|[A-Z][A-Z0-9]|[0-9][A-Z])[0-9][A-Z]{1,3}", fullmatch=True)
IN_FULL = st.one_of(
    st.from_regex(r"Q[0-9][A-Z]{1,3}/(?:QRP|[0-9]|MM|A)", fullmatch=True),
    st.from_regex(r"Q[A-Z]/Q[0-9][A-Z]{1,3}", fullmatch=True),
    st.from_regex(r"Q[0-9]{3,6}[A-Z]{1,4}", fullmatch=True),
)
LOCATOR = st.from_regex(r"[A-R]{2}[0-9]{2}", fullmatch=True)
REPORT = st.integers(-30, 49).map("{:+03d}".format)
CALLED = st.one_of(STANDARD, IN_FULL.map("<{}>".format))
ACKNOWLEDGEMENT = st.sampled_from(["", "R "])


def suffixed(suffix: str) -> st.SearchStrategy[str]:
    call = st.tuples(STANDARD, st.sampled_from(["", suffix])).map("".join)
    return st.one_of(call, IN_FULL.map("<{}>".format))


def spaced(*parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.tuples(*parts).map(lambda words: " ".join(word for word in words if word))


CLOSING = st.one_of(
    LOCATOR.filter(lambda word: word != "RR73"),
    LOCATOR.map("R {}".format),
    REPORT,
    REPORT.map("R{}".format),
    st.sampled_from(["", "RRR", "RR73", "73"]),
)
ADDITION = st.from_regex(r"[0-9]{3}|[A-Z]{1,4}|", fullmatch=True)
STANDARD_MESSAGE = st.one_of(
    spaced(suffixed("/R"), suffixed("/R"), CLOSING),
    spaced(suffixed("/P"), suffixed("/P"), CLOSING),
    spaced(st.just("CQ"), ADDITION, suffixed("/P"), LOCATOR.filter(lambda word: word != "RR73")),
    spaced(st.sampled_from(["DE", "QRZ"]), suffixed("/R"), CLOSING),
)
SHORT_CLOSING = st.sampled_from(["", "RRR", "RR73", "73"])
BRACKETED = st.one_of(STANDARD, IN_FULL).map("<{}>".format)
LONG_CALL_MESSAGE = st.one_of(
    spaced(st.just("CQ"), IN_FULL),
    spaced(BRACKETED, IN_FULL, SHORT_CLOSING),
    spaced(IN_FULL, BRACKETED, SHORT_CLOSING),
)
EXPEDITION = st.tuples(CALLED, CALLED, BRACKETED, st.integers(-15, 15)).map(
    lambda words: f"{words[0]} RR73; {words[1]} {words[2]} {2 * words[3]:+03d}"
)
FIELD_DAY = st.tuples(
    CALLED, CALLED, ACKNOWLEDGEMENT, st.integers(1, 32), st.sampled_from("ABCDEFGH")
).flatmap(
    lambda words: st.integers(0, 127).map(
        lambda n: f"{words[0]} {words[1]} {words[2]}{words[3]}{words[4]} SECTION{n}"
    )
)
SERIAL_OR_STATE = st.one_of(
    st.integers(0, 7999).map("{:04d}".format), st.integers(0, 191).map("STATE{}".format)
)
TELETYPE = st.tuples(
    st.sampled_from(["", "TU; "]),
    spaced(CALLED, CALLED),
    ACKNOWLEDGEMENT,
    st.integers(2, 9),
    SERIAL_OR_STATE,
).map(lambda words: f"{words[0]}{words[1]} {words[2]}5{words[3]}9 {words[4]}")
EUROPEAN_VHF = st.tuples(
    spaced(BRACKETED, BRACKETED),
    ACKNOWLEDGEMENT,
    st.integers(2, 9),
    st.integers(0, 2047),
    st.from_regex(r"[A-R]{2}[0-9]{2}[A-X]{2}", fullmatch=True),
).map(lambda words: f"{words[0]} {words[1]}5{words[2]}{words[3]:04d} {words[4]}")
TELEMETRY = st.integers(0, (1 << 71) - 1).map("{:018X}".format)

TYPES = {
    "standard": STANDARD_MESSAGE,
    "long call": LONG_CALL_MESSAGE,
    "expedition": EXPEDITION,
    "field day": FIELD_DAY,
    "teletype": TELETYPE,
    "European VHF": EUROPEAN_VHF,
    "telemetry": TELEMETRY,
}


def calls_in(text: str) -> set[str]:
    calls = (parse_call(word) for word in text.split())
    return {call.in_full for call in calls if call is not None}


def have_different_hashes(calls: set[str]) -> bool:
    return all(
        call_hash(a, n_bits=10) != call_hash(b, n_bits=10) for a, b in combinations(calls, 2)
    )


@pytest.mark.parametrize("name", TYPES)
@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_canonical_text_survives(name: str, data: st.DataObject) -> None:
    text = data.draw(TYPES[name])
    calls = calls_in(text)
    assume(have_different_hashes(calls))
    message = pack_text(text)
    assert message.text == text
    assert unpack_payload(message.bits(), KnownCalls.of(calls)) == text
    assert unpack_payload(message.bits()) == re.sub("<[^>]*>", "<...>", text)
    assert pack_text(text.lower()) == message


@given(st.text(ALPHABET, max_size=13))
@settings(max_examples=400, deadline=None)
def test_every_short_text_of_the_alphabet_is_sent_as_written(text: str) -> None:
    assume(text.strip())
    # A structured type may take it and make its notation canonical; then only that changes.
    sent = pack_text(text).text
    heard = unpack_payload(pack_text(text).bits())
    assert pack_text(sent).text == sent
    assert heard == re.sub("<[^>]*>", "<...>", sent)
    first, *_ = text.split()
    if parse_call(first) is None and first not in ("CQ", "DE", "QRZ"):
        assert heard == text.strip(" ")


@given(st.text(max_size=40))
@settings(max_examples=300, deadline=None)
def test_any_text_is_sent_or_refused_with_a_reason(text: str) -> None:
    try:
        message = pack_text(text)
    except MessageError as refusal:
        assert len(str(refusal)) > 20
    else:
        assert unpack_payload(message.bits()).replace("<...>", "")


def check_payload(number: int) -> bool:
    """Whether a payload has a text; if so, that text packs and comes back."""
    bits = np.array([int(bit) for bit in format(number, "077b")], np.uint8)
    try:
        text = unpack_payload(bits)
    except MessageError:
        return False
    assert text == text.strip()
    if "<...>" not in text:
        message = pack_text(text)
        heard = unpack_payload(message.bits(), KnownCalls.of(calls_in(text)))
        assert heard.replace("<", "").replace(">", "").split() == text.split()
    return True


@given(st.integers(0, (1 << 77) - 1))
@settings(max_examples=500, deadline=None)
def test_every_payload_has_a_text_or_is_refused(number: int) -> None:
    check_payload(number)


@pytest.mark.parametrize("type_bits", range(1, 8))
def test_random_payloads_of_each_type(type_bits: int) -> None:
    draws = np.random.default_rng(type_bits).integers(0, 1 << 37, (1500, 2)).tolist()
    has_text = [check_payload((high << 37 | low) << 3 | type_bits) for high, low in draws]
    assert any(has_text) == (type_bits <= 5)


@pytest.mark.parametrize("subtype", range(8))
def test_random_payloads_of_each_subtype(subtype: int) -> None:
    draws = np.random.default_rng(subtype).integers(0, 1 << 37, (1500, 2)).tolist()
    numbers = [(high << 37 | low) >> 3 << 6 | subtype << 3 for high, low in draws]
    has_text = [check_payload(number) for number in numbers]
    assert any(has_text) == (subtype in {0, 1, 3, 4, 5})
