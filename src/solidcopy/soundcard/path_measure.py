"""All that a recording of the test sequence tells about the path that it came through."""

import math
from dataclasses import dataclass, replace

import numpy as np

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, Figure, Reading, db_error
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.path_channels import Sides, measure_sides
from solidcopy.soundcard.path_clip import FlatTops, find_flat_tops, word_bits
from solidcopy.soundcard.path_find import Found, find_sequence, on_sequence_clock
from solidcopy.soundcard.path_holes import Hole, find_holes
from solidcopy.soundcard.path_noise import (
    Floor,
    NoiseTreatment,
    measure_floor,
    measure_treatment,
)
from solidcopy.soundcard.path_pieces import Heard
from solidcopy.soundcard.path_response import Response, measure_response, through
from solidcopy.soundcard.path_sequence import LOUDEST_AMPLITUDE, SEQUENCE_HZ, sequence
from solidcopy.soundcard.path_steps import Steps, measure_steps
from solidcopy.soundcard.path_tones import Tones, measure_tones
from solidcopy.soundcard.path_track import Slip, Timing, aligned, track


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """A path as measured; every part says itself where it cannot tell."""

    sample_rate_hz: int
    found: Found
    timing: Timing
    stretch: Reading
    """Samples heard per sample sent, at the rates that both sides state."""
    sequence_at_s: float
    """When the sequence began, seconds of the recording's own clock."""
    polarity_rad: Reading
    """Turn of the phase: 0 as sent, pi turned over."""
    holes: tuple[Hole, ...]
    flat_tops: FlatTops | None
    n_bits: int | None
    """8 or 16, if all samples are whole steps of so many bits."""
    steps: Steps | CannotTell
    tones: Tones | CannotTell
    response: Response | CannotTell
    floor: Floor
    treatment: NoiseTreatment | CannotTell
    sides: Sides | CannotTell

    @property
    def slips(self) -> tuple[Slip, ...]:
        """Lost or repeated sound, where that can be told."""
        return self.timing.slips if isinstance(self.timing.slips, tuple) else ()


def measure_path(heard: Samples, sample_rate_hz: int) -> Path | None:
    """Look for the test sequence in a recording and measure the path by it.

    Args:
        heard: (n_samples,) one channel.
        sample_rate_hz: as the device or the file states it.
    Returns: None if the sequence is not in it.
    Raises: AudioFileError if its beginning or end is missing.
    """
    found = find_sequence(heard, sample_rate_hz)
    if found is None:
        return None
    on_clock = on_sequence_clock(heard, sample_rate_hz, found)
    timing, (beside, holes), response = _beside(on_clock)
    n_bits = word_bits(heard)
    word_step = 0.0 if n_bits is None else 2.0 ** (1 - n_bits)
    has_echo = isinstance(response, Response) and response.has_echo
    return Path(
        sample_rate_hz,
        found,
        timing,
        _stretch(found, timing),
        found.start_s + float(timing.delay[0]) / SEQUENCE_HZ * found.stretch,
        _polarity(timing),
        holes,
        find_flat_tops(heard, word_step),
        n_bits,
        measure_steps(beside, has_echo=has_echo, word_step=word_step),
        measure_tones(beside),
        response,
        measure_floor(beside),
        CannotTell(response.reason)
        if isinstance(response, CannotTell)
        else measure_treatment(beside, response),
        measure_sides(beside, timing.arrivals),
    )


def _beside(
    on_clock: Samples,
) -> tuple[Timing, tuple[Heard, tuple[Hole, ...]], Response | CannotTell]:
    """The recording beside the sequence, its holes, and the path's response.

    Where sound was lost is found best by the response, and the response best without what is
    spoiled by it: so there are two passes if anything was lost.
    """
    plain = sequence().both
    timing = track(on_clock, plain)
    beside = _with_spoiled(on_clock, timing)
    response = measure_response(beside[0])
    has_slips = isinstance(timing.slips, tuple) and bool(timing.slips)
    if has_slips and isinstance(response, Response):
        timing = track(on_clock, through(plain, response))
        beside = _with_spoiled(on_clock, timing)
        response = measure_response(beside[0])
    return timing, beside, response


def _with_spoiled(on_clock: Samples, timing: Timing) -> tuple[Heard, tuple[Hole, ...]]:
    whole = Heard(aligned(on_clock, timing), ())
    holes = tuple(find_holes(whole))
    slips = timing.slips if isinstance(timing.slips, tuple) else ()
    spoiled_s = [slip.at_s for slip in slips] + [hole.at_s for hole in holes]
    spoiled_s += [hole.at_s + hole.length_s for hole in holes]
    return replace(whole, spoiled_s=tuple(spoiled_s)), holes


def _stretch(found: Found, timing: Timing) -> Reading:
    residual = timing.residual_ppm
    if isinstance(residual, CannotTell):
        return residual
    return Figure(
        found.stretch * (1.0 + residual.value * 1e-6),
        found.stretch * residual.standard_error * 1e-6,
    )


def _polarity(timing: Timing) -> Reading:
    """Mean phase of all arrivals; their spread says how sure it is."""
    vectors = np.exp(1j * np.array([one.phase_rad for one in timing.arrivals]))
    mean = complex(vectors.mean())
    if abs(mean) < 0.7:
        return CannotTell("the phases of the ticks scatter")
    spread = math.sqrt(max(-2.0 * math.log(abs(mean)), 0.0) / vectors.size)
    return Figure(float(np.angle(mean)), spread)


def level_dbfs(path: Path) -> float:
    """Level of the loudest tone as heard; beneath the noise that of the chirps, as loud."""
    if isinstance(path.steps, CannotTell):
        return units.peak_dbfs(path.found.height)
    return units.peak_dbfs(LOUDEST_AMPLITUDE * path.steps.loudest_gain)


def gain_db(path: Path, sent_dbfs: float) -> Reading:
    """Level heard over level sent, dB: of the loudest tone, beneath the noise of the chirps."""
    if isinstance(path.steps, CannotTell):
        error_db = db_error(2.0 / path.found.quality / math.sqrt(2.0))
    else:
        error_db = path.steps.error_db
    return Figure(level_dbfs(path) - sent_dbfs, error_db)
