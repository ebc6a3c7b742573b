"""What no straight wire does to sound: clipping, gain riding, noise reduction."""

import math
from collections.abc import Iterator

from solidcopy import units
from solidcopy.actions.path_budget import is_reducing
from solidcopy.actions.path_finding import PathFinding, Weight
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.reports.wording import number
from solidcopy.soundcard.path_measure import Path
from solidcopy.soundcard.path_pieces import Below
from solidcopy.soundcard.path_sequence import RELEASE_STEP
from solidcopy.soundcard.path_steps import Steps
from solidcopy.soundcard.path_tones import Tones

CARE_DISTORTION_DB, SPOILT_DISTORTION_DB = -40.0, -26.0
CLIPS_STEEPLY_DB = 15.0
"""Distortion that falls so much faster than the level, 10 dB lower, comes from a limit."""
SPOILT_RIDING_DB = 1.0
COMPRESSED_DB = 0.3


def _is_limit(tones: Tones) -> bool:
    """Whether distortion sets in steeply, as at a limit."""
    loud, lower = tones.harmonics.total_db, tones.lower[0].total_db
    if isinstance(loud, Below):
        return False
    return (lower.limit if isinstance(lower, Below) else lower) < loud - CLIPS_STEEPLY_DB - 10.0


def is_clipping(path: Path) -> bool:
    """Whether something cuts the peaks off."""
    tones = path.tones
    if path.flat_tops is not None:
        return True
    if isinstance(tones, CannotTell) or isinstance(tones.harmonics.total_db, Below):
        return False
    return tones.harmonics.total_db > CARE_DISTORTION_DB and _is_limit(tones)


def nonlinear(path: Path) -> Iterator[PathFinding]:
    """Clipping, or distortion of another kind."""
    tones = path.tones
    if is_clipping(path):
        over_db = None if isinstance(tones, CannotTell) else tones.clip_over_peak_db
        how_far = (
            "" if over_db is None else f", {number(-over_db, 1)} dB below the peak of the tone"
        )
        where = ""
        if path.flat_tops is not None:
            at_dbfs = units.peak_dbfs(path.flat_tops.level)
            where = f" ({path.flat_tops.n_samples} samples stand at {number(at_dbfs, 1)} dBFS)"
        down_db = math.ceil(3.0 if over_db is None else 3.0 - over_db)
        yield PathFinding(
            "clipping",
            Weight.SPOILT,
            f"peaks are cut off{how_far}{where}",
            f"turn the level down by {down_db} dB in front of where it clips, and check again",
        )
        return
    if isinstance(tones, CannotTell):
        return
    worst = [tones.harmonics.total_db, tones.products.total_db]
    level_db = max((one for one in worst if not isinstance(one, Below)), default=-math.inf)
    if level_db > CARE_DISTORTION_DB:
        yield PathFinding(
            "distortion",
            Weight.SPOILT if level_db > SPOILT_DISTORTION_DB else Weight.CARE,
            f"tones are distorted: the products lie {number(-level_db, 1)} dB below them",
            "turn the level down; take out whatever shapes the sound (limiter, loudness)",
        )


def riding(path: Path) -> Iterator[PathFinding]:
    """Gain that follows the level, slowly or at once."""
    steps = path.steps
    if isinstance(steps, CannotTell):
        return
    if steps.is_riding:
        depth_db = max(steps.release_db, _value(steps))
        yield PathFinding(
            "gain riding",
            Weight.SPOILT if depth_db > SPOILT_RIDING_DB else Weight.CARE,
            f"the gain follows the level: {number(depth_db, 1)} dB more for quiet sound, "
            f"coming back {_time(steps.release_s)}, falling {_time(steps.attack_s)}",
            "switch off automatic gain control, microphone boost, communications or voice "
            "processing in the system's sound settings and in the receiver",
        )
    elif _at_once_db(steps) > COMPRESSED_DB and not _explains_compression(path):
        yield PathFinding(
            "compression",
            Weight.CARE,
            f"quiet tones get {number(_at_once_db(steps), 1)} dB more gain than loud ones, without "
            "distortion and at once",
            "look for a limiter or compressor and switch it off, or turn the level down",
        )


def _value(steps: Steps) -> float:
    return steps.compression_db.value if isinstance(steps.compression_db, Figure) else 0.0


def _at_once_db(steps: Steps) -> float:
    """The lesser of two: coarse words alone change the gain of the quietest tones."""
    middle = steps.gains_db[RELEASE_STEP]
    return min(_value(steps), middle.value if isinstance(middle, Figure) else 0.0)


def _explains_compression(path: Path) -> bool:
    tones = path.tones
    is_distorted = not isinstance(tones, CannotTell) and not isinstance(
        tones.harmonics.total_db, Below
    )
    return is_distorted or is_reducing(path)


def _time(constant: float | Below | CannotTell) -> str:
    if isinstance(constant, CannotTell):
        return "in more than can be watched"
    if isinstance(constant, Below):
        return f"in less than {number(1000 * constant.limit, 0)} ms"
    return (
        f"in {number(constant, 2)} s" if constant > 0.1 else f"in {number(1000 * constant, 0)} ms"
    )


def treatment(path: Path) -> Iterator[PathFinding]:
    """Noise that is weakened where a tone is not."""
    figures = path.treatment
    if is_reducing(path) and not isinstance(figures, CannotTell):
        yield PathFinding(
            "noise reduction",
            Weight.SPOILT,
            f"steady noise fades by {number(figures.fade_db.value, 1)} dB, and a tone in it gets "
            f"{number(figures.tone_over_noise_db.value, 1)} dB more gain than the noise",
            "switch off noise reduction, suppression or voice enhancement in the system's sound "
            "settings, the sound card's own program and the receiver",
        )
