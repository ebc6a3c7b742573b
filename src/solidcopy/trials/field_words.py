"""Names of plan fields in words, with the units that their endings state."""

UNIT_WORDS = (
    ("_dbfs", "dBFS"),
    ("_dbm", "dBm"),
    ("_db", "dB"),
    ("_khz", "kHz"),
    ("_hz_per_s", "Hz/s"),
    ("_hz_per_minute", "Hz/min"),
    ("_hz_s", "Hz/s"),
    ("_per_s", "per second"),
    ("_per_minute", "per minute"),
    ("_hz", "Hz"),
    ("_ppm", "ppm"),
    ("_ms", "ms"),
    ("_us", "µs"),
    ("_s", "s"),
    ("_rad", "rad"),
    ("_deg", "°"),
    ("_bits", "bits"),
    ("_samples", "samples"),
    ("_symbols", "symbols"),
    ("_percent", "%"),
    ("_wpm", "words per minute"),
)
"""Endings of field names and their units; the longest fitting ending comes first."""

SHORT_WORDS = {
    "snr_db": "SNR",
    "signal_to_interference_db": "S/I",
    "interference_to_noise_db": "I/N",
}
"""What the trade writes for these."""


def split_unit(field: str) -> tuple[str, str]:
    """Field name into words without its unit, and the unit: "offset_hz" -> ("offset", "Hz")."""
    for ending, unit in UNIT_WORDS:
        if field.endswith(ending) and field != ending.strip("_"):
            return field.removesuffix(ending).replace("_", " "), unit
    return field.replace("_", " "), ""


def field_at(field: str, value: float) -> str:
    """A field at a value, e.g. "offset -12.5 Hz": easy to type, so with a plain minus."""
    words, unit = split_unit(field)
    return f"{SHORT_WORDS.get(field, words)} {value + 0.0:.10g} {unit}".strip()
