"""Numbers in words: as many digits as the evidence supports, a true minus sign, units."""

import math
import re
from collections.abc import Sequence

from solidcopy.statistics.evidence import Interval

MINUS = "−"


def decimals_for(half_width: float) -> int:
    """Decimal places that an uncertainty supports: its first two digits at most.

    0.04 gives 2, 0.4 and 4 give 1, 40 gives 0; never more than 3. An exact number (0) gives 1.
    """
    if half_width <= 0.0 or not math.isfinite(half_width):
        return 1
    for places, limit in ((0, 9.5), (1, 0.095), (2, 0.0095)):
        if half_width >= limit:
            return places
    return 3


def number(value: float, places: int) -> str:
    """Fixed decimals with a true minus sign; −0.0 is written 0.0."""
    text = f"{value:.{places}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def signed(value: float, places: int) -> str:
    """As `number`, with a plus sign before what is more than nothing."""
    text = number(value, places)
    return f"+{text}" if value > 0 and float(text) != 0.0 else text


def plain(value: float) -> str:
    """A number as asked: up to six digits, no trailing zeros, true minus sign."""
    return f"{value + 0.0:.6g}".replace("-", MINUS)


def places_of(interval: Interval) -> int:
    """Decimals for an estimate: an end that is not 0 must not be rounded to 0."""
    places = decimals_for(interval.half_width)
    while places < 3 and any(
        end != 0.0 and float(f"{end:.{places}f}") == 0.0 for end in (interval.low, interval.high)
    ):
        places += 1
    return places


def span(low: float, high: float, places: int) -> str:
    """Two ends, e.g. "3.7 to 4.5"."""
    return f"{number(low, places)} to {number(high, places)}"


def percent(p: float, places: int = 0) -> str:
    """A share in per cent with a narrow space before the sign."""
    return f"{number(100.0 * p, places)} %"


def small_percent(p: float) -> str:
    """A small share in per cent, two digits, e.g. "0.30 %"."""
    share = 100.0 * p
    if share >= 9.95 or share == 0.0:
        return f"{share:.0f} %"
    return f"{share:#.2g} %"


def rough(value: float, n_digits: int) -> str:
    """A figure of so many digits that count, e.g. of two: "13", "2.0", "0.39", "150"."""
    digits = n_digits - 1 - int(f"{value:.{n_digits - 1}e}".partition("e")[2]) if value else 0
    return number(round(value, digits), max(0, digits))


def two_digits(value: float) -> str:
    """A rough figure: two digits that count."""
    return rough(value, 2)


def p_value_text(p_value: float) -> str:
    """A p-value after its sign, two digits: "= 0.031", "< 0.0001"."""
    return "< 0.0001" if p_value < 0.0001 else f"= {p_value:.2g}"


_BEFORE_A_SHARE = r"(^|: |highest |lowest |never below |never reaches |levels off at |the )"


def shares_as_percent(sentence: str) -> str:
    """A reason of the statistics with its shares in per cent: "0.5 was" gives "50 % was"."""
    return re.sub(
        _BEFORE_A_SHARE + r"(0(?:\.\d+)?|1)(?=[ :;]|$)",
        lambda found: f"{found[1]}{100.0 * float(found[2]):.3g} %",
        sentence,
    )


def confidence_word(confidence: float) -> str:
    """E.g. "95 %"."""
    return f"{100.0 * confidence:g} %"


def whole(n: int) -> str:
    """A count with thin spaces between thousands from 10 000 on."""
    return f"{n:,}".replace(",", "\u202f") if n >= 10_000 else str(n)


def counted(n: int, one: str, many: str | None = None) -> str:
    """E.g. "1 trial", "2 trials"."""
    return f"{whole(n)} {one if n == 1 else many or one + 's'}"


def about(n: int) -> str:
    """A planned count rounded to two digits: a forecast deserves no more."""
    if n < 10:
        return str(n)
    step = 10 ** (len(str(n)) - 2)
    return whole(round(n / step) * step)


def duration(seconds: float) -> str:
    """A forecast or measured time in the unit a person would use."""
    if seconds < 0.095:
        return f"{1000.0 * seconds:.2g} ms"
    if seconds < 90.0:
        amount, unit = f"{seconds:.2g}" if seconds < 9.95 else f"{seconds:.0f}", "second"
    elif seconds < 90.0 * 60.0:
        amount, unit = f"{seconds / 60.0:.0f}", "minute"
    elif seconds < 36.0 * 3600.0:
        amount, unit = f"{seconds / 3600.0:.1f}", "hour"
    else:
        amount, unit = f"{seconds / 86400.0:.1f}", "day"
    return f"{amount} {unit}" if amount == "1" else f"{amount} {unit}s"


def listed(words: Sequence[str]) -> str:
    """E.g. "a, b and c"."""
    *front, last = words
    return f"{', '.join(front)} and {last}" if front else last


def capital(text: str) -> str:
    """First letter in upper case, the rest as it is."""
    return text[:1].upper() + text[1:]


def share_word(p: float) -> str:
    """A share as the start of a sentence, e.g. "Half of the messages"."""
    return "Half of the messages" if p == 0.5 else f"{100.0 * p:g} % of the messages"


def glued(text: str) -> str:
    """The text with no-break spaces between numbers and their units."""
    return re.sub(r"(?<=[\d”]) (?=(?:%|dB|dBFS|Hz|kHz|s|ms|ppm)(?:\W|$))", "\u00a0", text)


def quoted(name: str) -> str:
    """A name chosen by the user, set apart from the sentence."""
    return f"“{name}”"
