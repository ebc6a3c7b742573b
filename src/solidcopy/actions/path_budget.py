"""What a path leaves for measuring: its rate, and the SNR that its own noise allows."""

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.soundcard.path_find import MISREAD
from solidcopy.soundcard.path_measure import Path, level_dbfs
from solidcopy.soundcard.path_pieces import Below
from solidcopy.soundcard.path_steps import Steps

MISREAD_WITHIN = 0.003
TONE_OVER_NOISE_DB = 1.0
TONE_OVER_NOISE_ECHO_DB = 4.0
"""An echo longer than the response that is kept weakens what is explained of noise."""
FADES_DB = 1.0
SURE = 5.0
"""Standard errors by which a figure must be beyond its limit."""
COST_DB = 0.1
CREST_DB = 13.0
"""Peak over rms of a trial's noise (a slot of Gaussian noise peaks 13.4 dB over its rms)."""
TRIAL_BANDWIDTH_HZ = 6000.0
"""Noise of a trial reaches to half of 12 kHz."""


def misread(path: Path) -> float | None:
    """The ratio of rates by which the samples are misread, if they are."""
    if isinstance(path.stretch, CannotTell):
        return None
    stretch = path.stretch.value
    near = [ratio for ratio in MISREAD if abs(stretch / ratio - 1.0) < MISREAD_WITHIN]
    return near[0] if near else None


def rate_ppm(path: Path) -> Figure | CannotTell:
    """Error of the input's clock against the output's, a misread rate taken out."""
    if isinstance(path.stretch, CannotTell):
        return path.stretch
    ratio = misread(path) or 1.0
    stretch = path.stretch
    return Figure((stretch.value / ratio - 1.0) * 1e6, stretch.standard_error / ratio * 1e6)


def is_reducing(path: Path) -> bool:
    """Whether noise is treated otherwise than a tone in it."""
    treatment = path.treatment
    if isinstance(treatment, CannotTell):
        return False
    is_riding = isinstance(path.steps, Steps) and path.steps.is_riding
    has_echo = not isinstance(path.response, CannotTell) and path.response.has_echo
    limit_db = TONE_OVER_NOISE_ECHO_DB if has_echo else TONE_OVER_NOISE_DB
    lifted, fade = treatment.tone_over_noise_db, treatment.fade_db
    if lifted.value > max(limit_db, SURE * lifted.standard_error):
        return True
    return not is_riding and fade.value > max(FADES_DB, SURE * fade.standard_error)


def path_cost_db(path: Path, snr_db: float) -> float:
    """By how much the path's own noise lowers the SNR of a trial.

    The trial's peaks are where the loudest tone's are, its noise 13 dB below and 6 kHz wide. Of
    the noise in silence and beside the tone the stronger counts. Derived here.
    """
    own = noise_under_tone_db(path)
    mix = units.ratio_from_db(3.01 - CREST_DB)
    signal_over_noise = units.ratio_from_db(snr_db) * units.REFERENCE_BANDWIDTH_HZ
    noise = mix / (1.0 + signal_over_noise / TRIAL_BANDWIDTH_HZ)
    noise_2500 = noise * units.REFERENCE_BANDWIDTH_HZ / TRIAL_BANDWIDTH_HZ
    return units.db_from_ratio(1.0 + units.ratio_from_db(own) / noise_2500)


def highest_snr_db(path: Path) -> float | None:
    """Highest SNR in 2500 Hz, of whole dB from -30 to 40, that loses less than 0.1 dB."""
    costs = [(snr_db, path_cost_db(path, snr_db)) for snr_db in range(40, -31, -1)]
    return next((float(snr) for snr, cost in costs if cost < COST_DB), None)


def gain_within_check_db(sent_dbfs: float) -> float:
    """Gain for playing, 0 or less: a recording's full scale then peaks where the loudest tone did.

    Up to there the check has seen that nothing clips or limits.

    Args:
        sent_dbfs: mean power of the loudest tone as sent; its peak is 3.01 dB above.
    """
    return min(0.0, sent_dbfs + units.db_from_ratio(2.0))


def noise_under_tone_db(path: Path) -> float:
    """Noise in 2500 Hz over the loudest tone, dB: in silence or beside it, the stronger.

    Where the gain moves, what lies beside the tone is no noise, and silence alone counts.
    """
    heard_dbfs = level_dbfs(path)
    silent = path.floor.in_2500_hz_dbfs
    silent_dbfs = silent.limit if isinstance(silent, Below) else silent
    is_moving = is_reducing(path) or (isinstance(path.steps, Steps) and path.steps.is_riding)
    if isinstance(path.tones, CannotTell) or is_moving:
        return silent_dbfs - heard_dbfs
    beside_db = path.tones.noise_beside_db
    return max(silent_dbfs - heard_dbfs, beside_db)
