"""What is wrong with a path, and what to change."""

import math
from collections.abc import Iterator

from solidcopy.actions.path_budget import COST_DB, highest_snr_db, misread, path_cost_db, rate_ppm
from solidcopy.actions.path_faults import nonlinear, riding, treatment
from solidcopy.actions.path_finding import PathFinding, Weight
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.reports.wording import number, signed
from solidcopy.soundcard.path_measure import Path, level_dbfs
from solidcopy.soundcard.path_noise import Floor

CARE_PPM, SPOILT_PPM = 300.0, 1000.0
"""300 ppm move 1500 Hz by 0.45 Hz; 1000 ppm by 1.5 Hz and a slot of 12.64 s by 13 ms."""
WANTED_BAND_HZ = (300.0, 2700.0)
CARE_RIPPLE_DB = 3.0
SPOILT_COST_DB = 0.5
HUM_DB = -40.0
FAINT_DBFS = -50.0
CARE_ECHO_DB = -20.0


def find_faults(path: Path, *, asked_snr_db: float) -> list[PathFinding]:
    """All findings, the heaviest first.

    Args:
        path: as measured.
        asked_snr_db: highest SNR in 2500 Hz at which trials are to be played.
    """
    found = [
        *_rate(path),
        *_lost(path),
        *_level(path),
        *nonlinear(path),
        *riding(path),
        *treatment(path),
        *_response(path),
        *_noise(path, asked_snr_db),
        *_sides(path),
    ]
    order = (Weight.SPOILT, Weight.CARE, Weight.NOTE)
    return sorted(found, key=lambda finding: order.index(finding.weight))


def _rate(path: Path) -> Iterator[PathFinding]:
    ratio = misread(path)
    if ratio is not None:
        made_hz, read_hz = _rates(ratio)
        yield PathFinding(
            "misread rate",
            Weight.SPOILT,
            f"everything is heard {number(100 * abs(ratio - 1), 1)} % too "
            f"{'slowly and too low' if ratio > 1 else 'fast and too high'}: samples of "
            f"{made_hz} Hz are taken for {read_hz} Hz",
            "set output, input and every program between them to the same sample rate (48 000 Hz)",
        )
    ppm = rate_ppm(path)
    if isinstance(ppm, Figure) and abs(ppm.value) > CARE_PPM:
        yield PathFinding(
            "rate error",
            Weight.SPOILT if abs(ppm.value) > SPOILT_PPM else Weight.CARE,
            f"the input's clock is off the output's by {signed(ppm.value, 0)} ppm",
            "take both from one sound card, or another card; let no program in between change "
            "the rate",
        )


def _rates(ratio: float) -> tuple[str, str]:
    if ratio == 48_000 / 44_100:
        return "48 000", "44 100"
    if ratio == 44_100 / 48_000:
        return "44 100", "48 000"
    return ("96 000", "48 000") if ratio > 1 else ("48 000", "96 000")


def _lost(path: Path) -> Iterator[PathFinding]:
    events = [
        (slip.at_s, "lost" if slip.length_s < 0 else "put in", abs(slip.length_s))
        for slip in path.slips
    ]
    events += [(hole.at_s, "silenced", hole.length_s) for hole in path.holes]
    if not events:
        return
    told = "; ".join(
        f"{number(1000 * length_s, 1)} ms {what} at {number(at_s, 2)} s"
        for at_s, what, length_s in sorted(events)[:6]
    )
    more = f"; and {len(events) - 6} more" if len(events) > 6 else ""
    yield PathFinding(
        "gaps",
        Weight.SPOILT,
        f"sound was lost or repeated: {told}{more} (from the beginning of the sequence)",
        "give the sound device longer buffers, close other programs, take a cable instead of a "
        "wireless or network link",
    )


def _level(path: Path) -> Iterator[PathFinding]:
    heard_dbfs = level_dbfs(path)
    if heard_dbfs < FAINT_DBFS:
        yield PathFinding(
            "faint",
            Weight.CARE,
            f"the loudest tone is heard at only {number(heard_dbfs, 1)} dBFS",
            "turn the output or the input up",
        )
    if path.n_bits == 8:
        yield PathFinding(
            "coarse words",
            Weight.CARE,
            "samples have 8 bits only: quiet sound is distorted, and noise comes with it",
            "record with 16 bits or more",
        )
    turn = path.polarity_rad
    if isinstance(turn, Figure) and abs(abs(turn.value) - math.pi) < 0.5:
        yield PathFinding(
            "turned over", Weight.NOTE, "the path turns the signal over (minus for plus)", ""
        )


def _response(path: Path) -> Iterator[PathFinding]:
    response = path.response
    if isinstance(response, CannotTell):
        return
    low_hz, high_hz = response.edges_3_db
    is_narrow = (low_hz or 0.0) > WANTED_BAND_HZ[0] or (
        high_hz is not None and high_hz < WANTED_BAND_HZ[1]
    )
    if is_narrow:
        yield PathFinding(
            "narrow",
            Weight.CARE,
            f"the pass band at −3 dB is {edge_text(low_hz, 100)} to {edge_text(high_hz, 3000)} Hz",
            "widen the filter, or keep signals inside it; noise outside it is not heard either",
        )
    if response.has_echo and response.echo_db > CARE_ECHO_DB:
        yield PathFinding(
            "echo",
            Weight.CARE,
            f"an echo is heard, {number(-response.echo_db, 0)} dB below the direct sound",
            "take a cable; over the air bring loudspeaker and microphone closer together",
        )
    ripple_db = response.ripple_db[1] - response.ripple_db[0]
    if ripple_db > CARE_RIPPLE_DB:
        yield PathFinding(
            "uneven",
            Weight.CARE,
            f"within its pass band the level goes up and down by {number(ripple_db, 1)} dB",
            "switch off equalisers; signals at unlike frequencies meet unlike SNR only if noise is "
            "added after the path",
        )


def edge_text(edge_hz: float | None, looked_hz: float) -> str:
    """An edge, or the end of what was looked at."""
    return number(edge_hz, 0) if edge_hz is not None else f"{looked_hz:g} (or beyond)"


def _noise(path: Path, asked_snr_db: float) -> Iterator[PathFinding]:
    cost_db = path_cost_db(path, asked_snr_db)
    if cost_db > COST_DB:
        room_db = highest_snr_db(path)
        bound = "at none" if room_db is None else f"only up to {number(room_db, 0)} dB"
        yield PathFinding(
            "noisy",
            Weight.SPOILT if cost_db > SPOILT_COST_DB else Weight.CARE,
            f"the path's own noise takes {number(cost_db, 1)} dB off a trial at "
            f"{number(asked_snr_db, 0)} dB SNR; less than 0.1 dB {bound}",
            "turn the output up and the input down, take a cable, or ask for lower SNR",
        )
    floor: Floor = path.floor
    heard_dbfs = level_dbfs(path)
    if floor.hum is not None:
        under_db = floor.hum.power_dbfs - heard_dbfs
        yield PathFinding(
            "hum",
            Weight.CARE if under_db > HUM_DB else Weight.NOTE,
            f"mains hum: {floor.hum.n_lines} multiples of {floor.hum.mains_hz:g} Hz, "
            f"{number(floor.hum.power_dbfs, 1)} dBFS together",
            "break the earth loop (isolating transformer, one socket for all devices)",
        )


def _sides(path: Path) -> Iterator[PathFinding]:
    sides = path.sides
    if isinstance(sides, CannotTell) or (sides.left == 0.0) == (sides.right == 0.0):
        return
    heard = "left" if sides.left else "right"
    yield PathFinding(
        "one side",
        Weight.NOTE,
        f"only the {heard} channel of the output is heard",
        "",
    )
