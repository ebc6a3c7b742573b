"""The level of what is always there, whatever rare and strong things come on top of it."""

import math

import numpy as np

from solidcopy.signals.amplitude_distribution import Envelope

MEDIAN_OF_RAYLEIGH = math.sqrt(math.log(2.0))
"""Median over rms of the envelope of Gaussian noise (closed form)."""


def background_rms(values: Envelope) -> float:
    """Root mean square that an envelope has without its rare peaks.

    The median, as if of Gaussian noise: impulses during a few hundredths of the time move it by
    as little, where they may make the mean power a hundred times larger.

    Source: closed form of the Rayleigh distribution; derived here.
    """
    return float(np.median(values)) / MEDIAN_OF_RAYLEIGH
