"""A path from transmitter to receiver as a budget in dB, line by line, down to the SNR.

All levels are those at the terminals of a lossless receiving antenna, where Fa is defined. Losses
behind them weaken signal and outer noise alike and count only against the receiver's own noise.
"""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.statistics.shapes import Array
from solidcopy.translate.power import dbm_from_watts
from solidcopy.translate.surroundings import thermal_dbm

LIGHT_M_PER_S = 299_792_458.0


@dataclass(frozen=True, slots=True)
class Link:
    """One direction of a path, every number fixed.

    Args:
        watts: at the transmitter's output, more than 0.
        transmit_gain_dbi: of the antenna, toward the other station.
        transmit_loss_db: of cable and tuner, 0 or more.
        path_loss_db: between isotropic antennas.
        receive_gain_dbi: of the antenna, toward the other station, over what it takes of the noise.
        receive_loss_db: of antenna, cable and tuner, 0 or more.
        noise_figure_db: of the receiver, 0 or more.
    """

    watts: float
    path_loss_db: float
    transmit_gain_dbi: float = 0.0
    transmit_loss_db: float = 0.0
    receive_gain_dbi: float = 0.0
    receive_loss_db: float = 0.0
    noise_figure_db: float = 10.0


@dataclass(frozen=True, slots=True)
class Budget:
    """The lines of a budget, in dBm, dBi and dB."""

    transmitted_dbm: float
    radiated_dbm: float
    received_dbm: float
    outer_noise_dbm: float
    total_noise_dbm: float
    snr_db: float
    """In 2500 Hz."""


def free_space_loss_db(distance_km: float, mhz: float) -> float:
    """20 lg(4π d / λ): between isotropic antennas in free space and nowhere else.

    Source: ITU-R P.525, 32.4 + 20 lg f + 20 lg d, from memory; computed from the definition.
    """
    if not (distance_km > 0.0 and mhz > 0.0):
        raise ValueError("distance and frequency must be more than 0")
    wavelengths = distance_km * 1e3 * mhz * 1e6 / LIGHT_M_PER_S
    return units.db_from_ratio((4.0 * math.pi * wavelengths) ** 2)


def received_dbm(link: Link) -> float:
    """Signal at the terminals of a lossless receiving antenna."""
    radiated = dbm_from_watts(link.watts) - link.transmit_loss_db + link.transmit_gain_dbi
    return radiated - link.path_loss_db + link.receive_gain_dbi


def total_noise_db(link: Link, fa_ratio: Array) -> Array:
    """Noise figure of the whole in dB: f = fa − 1 + l·fr, all as power ratios.

    Args:
        fa_ratio: outer noise over k·T0·b, any shape.
    Source: P.372, operating noise factor, losses at the reference temperature; from memory.
    """
    own = units.ratio_from_db(link.receive_loss_db + link.noise_figure_db)
    return units.db_from_ratios(np.maximum(fa_ratio - 1.0, 0.0) + own)


def snr_db(link: Link, fa_ratio: Array) -> Array:
    """SNR in 2500 Hz at each outer noise, any shape."""
    floor_dbm = thermal_dbm(units.REFERENCE_BANDWIDTH_HZ)
    return received_dbm(link) - floor_dbm - total_noise_db(link, fa_ratio)


def budget(link: Link, fa_db: float) -> Budget:
    """Every line at one outer noise."""
    floor_dbm = thermal_dbm(units.REFERENCE_BANDWIDTH_HZ)
    transmitted = dbm_from_watts(link.watts)
    ratio = np.array(units.ratio_from_db(fa_db))
    return Budget(
        transmitted_dbm=transmitted,
        radiated_dbm=transmitted - link.transmit_loss_db + link.transmit_gain_dbi,
        received_dbm=received_dbm(link),
        outer_noise_dbm=floor_dbm + fa_db,
        total_noise_dbm=floor_dbm + float(total_noise_db(link, ratio)),
        snr_db=float(snr_db(link, ratio)),
    )
