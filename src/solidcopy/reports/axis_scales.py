"""References in which the axis of an SNR can be read; the conversions are those of `units`."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from solidcopy import units
from solidcopy.errors import PlanError
from solidcopy.modes.mode import ModeFacts
from solidcopy.reports.facts import AxisFacts
from solidcopy.reports.wording import plain

AS_PLANNED = "as-planned"


@dataclass(frozen=True, slots=True)
class AxisScale:
    """One way to read the axis."""

    key: str
    words: str
    """For a list of choices."""
    label: str
    """Of the axis: quantity with its bandwidth, and unit."""
    shift_db: float
    """Added to a value as planned."""
    unit: str | None = None
    """None: as planned."""


def axis_scales(axis: AxisFacts, mode: ModeFacts) -> tuple[AxisScale, ...]:
    """All scales of an axis, as planned first; another axis than an SNR has no second one."""
    planned = AxisScale(AS_PLANNED, axis.label, axis.label, 0.0)
    return (planned, *_of_snr(mode)) if axis.sense == "snr" else (planned,)


def scale_named(key: str, axis: AxisFacts, mode: ModeFacts) -> AxisScale:
    """The scale of that key. Raises PlanError with those that there are."""
    scales = axis_scales(axis, mode)
    for scale in scales:
        if scale.key == key:
            return scale
    listed = ", ".join(scale.key for scale in scales)
    raise PlanError(f"scale {key[:80]!r}: this axis can be read as {listed}")


def _of_snr(mode: ModeFacts) -> Iterator[AxisScale]:
    """An SNR in 2500 Hz in other bandwidths and per symbol and bit."""
    for key, bandwidth_hz, whose in (
        ("500-hz", 500.0, ""),
        ("mode-width", mode.width_hz, f", the width of {mode.name.upper()}"),
    ):
        words = f"SNR in {plain(bandwidth_hz)} Hz"
        yield _scale(key, words + whose, f"{words}, dB", _in_bandwidth(bandwidth_hz))
    yield _scale(
        "1-hz", "C/N0: SNR in 1 Hz", "C/N0 (SNR in 1 Hz), dB-Hz", _in_bandwidth(1.0), "dB-Hz"
    )
    yield _scale(
        "es-n0",
        "Es/N0: energy of a symbol",
        "Es/N0 (energy of a symbol over noise in 1 Hz), dB",
        lambda snr_db: units.es_n0_db(snr_db, symbol_s=mode.symbol_s),
    )
    if mode.n_payload_bits == 0:  # their number follows from the text
        return
    yield _scale(
        "eb-n0",
        f"Eb/N0: energy of one of {mode.n_payload_bits} payload bits",
        "Eb/N0 (energy of a payload bit over noise in 1 Hz), dB",
        lambda snr_db: units.eb_n0_db(
            snr_db, n_bits=mode.n_payload_bits, duration_s=mode.duration_s
        ),
    )


def _in_bandwidth(bandwidth_hz: float) -> Callable[[float], float]:
    return lambda snr_db: units.snr_in_bandwidth(snr_db, to_bandwidth_hz=bandwidth_hz)


def _scale(
    key: str, words: str, label: str, convert: Callable[[float], float], unit: str = "dB"
) -> AxisScale:
    """All conversions add a constant, which is what 0 dB becomes."""
    return AxisScale(key, words, label, convert(0.0), unit)
