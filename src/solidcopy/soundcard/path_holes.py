"""Holes: sound replaced by silence for a few milliseconds, nothing moved."""

from dataclasses import dataclass

import numpy as np
import scipy.ndimage

from solidcopy import units
from solidcopy.soundcard.path_pieces import Heard
from solidcopy.soundcard.path_sequence import LOUDEST_AMPLITUDE, SEQUENCE_HZ, Piece, sequence

BLOCK_S = 0.00125
AROUND_S = 0.6
"""The level expected is the median of so much around."""
DEEP_DB = -14.0
DEEP_CHIRP_DB = -30.0
"""An echo makes narrow notches, through which a chirp passes in a few milliseconds."""
MIN_BLOCKS = 3
SHARP_DB = -6.0
"""Two blocks before and after it the level is at least this: a gain that comes back is no hole."""
LONGEST_S = 0.25
"""What lasts longer is no hole: it would be judged by its own median."""
WATCHED = (Piece.STEPS, Piece.TWO_TONES, Piece.CHIRP, Piece.NOISE)
QUIETEST_DB = -35.0


@dataclass(frozen=True, slots=True)
class Hole:
    """Sound that is missing."""

    at_s: float
    """From the beginning of the sequence."""
    length_s: float


def find_holes(heard: Heard) -> list[Hole]:
    """Blocks in which next to nothing was heard though there was sound before and after.

    Three blocks at least, 3.75 ms; edges are known to a block.
    """
    sent = sequence().both
    n_block = round(BLOCK_S * SEQUENCE_HZ)
    quietest = LOUDEST_AMPLITUDE**2 / 2.0 * units.ratio_from_db(QUIETEST_DB)
    n_around = round(AROUND_S / BLOCK_S) | 1
    holes = []
    for place in sequence().places:
        if place.piece not in WATCHED:
            continue
        n_blocks = place.n_samples // n_block
        span = slice(place.start, place.start + n_blocks * n_block)
        powers = [
            np.square(samples[span]).reshape(n_blocks, n_block).mean(axis=1)
            for samples in (heard.samples, sent)
        ]
        is_on = powers[1] > quietest
        ratios = powers[0] / np.maximum(powers[1], quietest)
        expected = scipy.ndimage.median_filter(ratios, n_around, mode="nearest")
        deep_db = DEEP_CHIRP_DB if place.piece is Piece.CHIRP else DEEP_DB
        is_low = is_on & (ratios < units.ratio_from_db(deep_db) * expected)
        labels, n_found = scipy.ndimage.label(is_low)
        normal = units.ratio_from_db(SHARP_DB) * expected
        for first, last in _runs(labels, n_found):
            length_s = (last - first + 1) * BLOCK_S
            if first < 2 or last >= n_blocks - 2 or last - first + 1 < MIN_BLOCKS:
                continue
            is_sharp = ratios[first - 2] > normal[first] and ratios[last + 2] > normal[last]
            if is_sharp and length_s < LONGEST_S:
                holes.append(Hole(place.start / SEQUENCE_HZ + first * BLOCK_S, length_s))
    return holes


def _runs(labels: np.ndarray, n_found: int) -> list[tuple[int, int]]:
    spans = scipy.ndimage.find_objects(labels, n_found)
    return [(span[0].start, span[0].stop - 1) for span in spans]
