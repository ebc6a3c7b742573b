"""The figures of a checked path in words."""

import math
from collections.abc import Iterator, Sequence

from solidcopy import units
from solidcopy.actions.path_budget import highest_snr_db, noise_under_tone_db, rate_ppm
from solidcopy.actions.path_finding import PathFinding, Verdict, Weight
from solidcopy.actions.path_findings import edge_text
from solidcopy.noise.features.figure import CannotTell, Figure, Reading
from solidcopy.reports.wording import decimals_for, number, signed
from solidcopy.soundcard.path_measure import Path, gain_db
from solidcopy.soundcard.path_pieces import Below

NAME_WIDTH = 16


def lines_of(path: Path, sent_dbfs: float, latency_s: Reading) -> Iterator[str]:
    """One line for each figure, the reason where there is none."""
    facts = {
        "latency": _figure(latency_s, "ms", scale=1000.0),
        "rate": _figure(rate_ppm(path), "ppm, input against output", is_signed=True),
        "gain": _figure(gain_db(path, sent_dbfs), "dB at 637 Hz", is_signed=True),
        "response": _response(path),
        "noise floor": _noise(path),
        "distortion": _distortion(path),
        "clipping": _clipping(path),
        "gain riding": _riding(path),
        "noise treatment": _treatment(path),
        "gaps": _gaps(path),
        "polarity": _polarity(path),
        "channels": _sides(path),
        "hum": _hum(path),
    }
    for name, fact in facts.items():
        yield f"  {name:<{NAME_WIDTH}} {fact}"


def verdict_line(verdict: Verdict, findings: Sequence[PathFinding]) -> str:
    """The verdict, and what decided it."""
    heavy = Weight.SPOILT if verdict is Verdict.NOT_FIT else Weight.CARE
    reasons = ", ".join(finding.kind for finding in findings if finding.weight is heavy)
    return f"verdict: {verdict}" + (f": {reasons}" if reasons else "")


def _figure(reading: Reading, unit: str, *, scale: float = 1.0, is_signed: bool = False) -> str:
    if isinstance(reading, CannotTell):
        return f"cannot tell: {reading.reason}"
    half = 1.96 * reading.standard_error * scale
    places = min(max(decimals_for(half), 1), 2) if half > 0.0 else 2
    write = signed if is_signed else number
    spread = number(max(half, 10.0**-places), places)
    return f"{write(reading.value * scale, places)} ± {spread} {unit}"


def _bound(level_db: float | Below) -> str:
    if isinstance(level_db, Below):
        return f"below {number(level_db.limit, 0)} dB"
    return f"{number(level_db, 1)} dB"


def _response(path: Path) -> str:
    response = path.response
    if isinstance(response, CannotTell):
        return f"cannot tell: {response.reason}"
    low_hz, high_hz = response.edges_3_db
    edges = f"{edge_text(low_hz, 100)} to {edge_text(high_hz, 3000)} Hz at −3 dB"
    lowest_db, highest_db = response.ripple_db
    echo = f"; echo {number(response.echo_db, 0)} dB" if response.has_echo else ""
    if not isinstance(path.steps, CannotTell) and path.steps.is_riding:
        echo += "; flatter than it is while the gain follows the level"
    return (
        f"{edges}, inside {signed(lowest_db, 1)} to {signed(highest_db, 1)} dB "
        f"(bands of {response.width_hz:g} Hz, ± {number(1.96 * response.error_db, 2)} dB){echo}"
    )


def _noise(path: Path) -> str:
    floor = path.floor
    total, narrow = floor.power_dbfs, floor.in_2500_hz_dbfs
    if isinstance(narrow, Below) or isinstance(total, Below):
        told = f"digital silence (below {number(units_limit(narrow, total), 0)} dBFS)"
    else:
        told = f"{number(total, 1)} dBFS, {number(narrow, 1)} dBFS in 2500 Hz"
        told += f" (rounds {number(floor.apart_db, 1)} dB apart)"
    under_db = noise_under_tone_db(path)
    if under_db > 0.0:
        return f"{told}; {number(under_db, 1)} dB stronger than the loudest tone"
    room_db = highest_snr_db(path)
    room = "no trial" if room_db is None else f"trials up to {number(room_db, 0)} dB SNR"
    return (
        f"{told}; with sound {number(-under_db, 1)} dB under the loudest tone in 2500 Hz: {room} "
        "within 0.1 dB"
    )


def units_limit(*levels: float | Below) -> float:
    """The limit of those that were below one."""
    return max(level.limit for level in levels if isinstance(level, Below))


def _distortion(path: Path) -> str:
    tones = path.tones
    if isinstance(tones, CannotTell):
        return f"cannot tell: {tones.reason}"
    third = tones.products.level_db("2f1-f2", "2f2-f1")
    second = tones.products.level_db("f2-f1", "f1+f2")
    return (
        f"harmonics {_bound(tones.harmonics.total_db)}; two tones, third order {_bound(third)}, "
        f"second {_bound(second)}; THD+N {number(tones.thd_n_db, 1)} dB"
    )


def _clipping(path: Path) -> str:
    tops = path.flat_tops
    if tops is None:
        return "no flat tops"
    at_dbfs = units.peak_dbfs(tops.level)
    return f"{tops.n_samples} samples stand at {number(at_dbfs, 2)} dB from full scale"


def _riding(path: Path) -> str:
    steps = path.steps
    if isinstance(steps, CannotTell):
        return f"cannot tell: {steps.reason}"
    compression = steps.compression_db
    if isinstance(compression, CannotTell):
        return f"cannot tell: {compression.reason}"
    return (
        f"{signed(compression.value, 2)} dB for quiet tones; after a fall of 20 dB the gain moves "
        f"by {signed(steps.release_db, 2)} dB, after a rise by {signed(-steps.attack_db, 2)} dB "
        f"(± {number(max(1.96 * steps.error_db, 0.01), 2)})"
    )


def _treatment(path: Path) -> str:
    treatment = path.treatment
    if isinstance(treatment, CannotTell):
        return f"cannot tell: {treatment.reason}"
    return (
        f"a tone in noise gets {_pm(treatment.tone_over_noise_db)} dB more gain than the noise; "
        f"the noise's gain moves by {signed(-treatment.fade_db.value, 2)} dB in 4 s, by "
        f"{_pm(treatment.pump_db)} dB with the tone"
    )


def _pm(figure: Figure) -> str:
    half = max(1.96 * figure.standard_error, 0.01)
    return f"{signed(figure.value, 2)} ± {number(half, 2)}"


def _gaps(path: Path) -> str:
    if isinstance(path.timing.slips, CannotTell):
        return f"cannot tell: {path.timing.slips.reason}"
    n_events = len(path.slips) + len(path.holes)
    return "none" if n_events == 0 else f"{n_events} found"


def _polarity(path: Path) -> str:
    turn = path.polarity_rad
    if isinstance(turn, CannotTell):
        return f"cannot tell: {turn.reason}"
    degrees = math.degrees(turn.value)
    if abs(degrees) < 30.0:
        return "as sent"
    if abs(degrees) > 150.0:
        return "turned over"
    return f"phase turned by {number(degrees, 0)}°, so neither"


def _sides(path: Path) -> str:
    sides = path.sides
    if isinstance(sides, CannotTell):
        return f"cannot tell: {sides.reason}"
    return (
        f"of both, {number(100 * sides.left, 0)} % come from the left, "
        f"{number(100 * sides.right, 0)} % from the right"
    )


def _hum(path: Path) -> str:
    hum = path.floor.hum
    if hum is None:
        return "none found"
    return f"{hum.mains_hz:g} Hz, {number(hum.power_dbfs, 1)} dBFS"
