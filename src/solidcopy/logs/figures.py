"""What a column holds, told by its figures alone."""

from collections.abc import Sequence

from solidcopy.logs.entry import Role
from solidcopy.logs.table import MOST

MAX_AUDIO_HZ = 6000.0
MAX_OFFSET_S = 5.0
MIN_BANDWIDTH_HZ = 100.0
MIN_DIAL_MHZ, MAX_DIAL_MHZ = 1.8, 54.0
"""Of a column without a heading: the bands of 160 m to 6 m."""


_LIMITS = {
    Role.SNR: (-100.0, 100.0),
    Role.SNR_REFERENCE: (1.0, 1e6),
    Role.AUDIO: (0.0, 24_000.0),
    Role.OFFSET: (-60.0, 60.0),
    Role.DIAL: (0.1, 1e12),
}


def fits(role: Role, numbers: Sequence[float]) -> bool:
    """Whether nearly all figures are possible for what a heading announces."""
    low, high = _LIMITS[role]
    return sum(low <= number <= high for number in numbers) >= MOST * len(numbers) > 0


def is_audio(numbers: Sequence[float]) -> bool:
    """Not negative, and some well above the figures of an SNR or an offset."""
    return bool(numbers) and all(0.0 <= n <= MAX_AUDIO_HZ for n in numbers) and max(numbers) >= 50.0


def is_offset(numbers: Sequence[float]) -> bool:
    """Small, with decimals."""
    return all(abs(number) <= MAX_OFFSET_S for number in numbers) and any(
        number != int(number) for number in numbers
    )


def is_snr(numbers: Sequence[float]) -> bool:
    """Such as decoders report, some below 0, and no time offset."""
    is_possible = all(-50.0 <= number <= 60.0 for number in numbers) and min(numbers) < 0.0
    return is_possible and not is_offset(numbers)


def is_dial(numbers: Sequence[float]) -> bool:
    """Too high for audio; or few values, in MHz."""
    is_steady = len(set(numbers)) <= max(1, len(numbers) // 10)
    is_mhz = is_steady and all(MIN_DIAL_MHZ <= number <= MAX_DIAL_MHZ for number in numbers)
    return min(numbers) > MAX_AUDIO_HZ or is_mhz


BY_FIGURES = {
    Role.DIAL: is_dial,
    Role.AUDIO: is_audio,
    Role.SNR: is_snr,
    Role.OFFSET: is_offset,
}
"""In the order in which figures are tried. Small figures with decimals may be an SNR as well, so
they are an offset only beside a column that is the SNR."""


def dial_hz(value: float, unit: str) -> float:
    """A dial frequency in Hz; without a unit, its size says whether it is in MHz, kHz or Hz."""
    if unit in ("mhz", "khz", "hz"):
        return value * {"mhz": 1e6, "khz": 1e3, "hz": 1.0}[unit]
    return value * (1e6 if value < 1000.0 else 1e3 if value < 1_000_000.0 else 1.0)
