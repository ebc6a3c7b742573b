"""What a path from transmitter to receiver is worth: from watts and noise to chances."""

import math
from dataclasses import dataclass

from solidcopy.actions.decide.noise import Measured, checked_mhz, surroundings_named
from solidcopy.actions.decide.subject import Subject, generator_of
from solidcopy.errors import FigureError
from solidcopy.reports.link_words import LinkFacts, budget_sheet, link_sentences, link_sheet
from solidcopy.reports.sheet_text import said_text, sheet_text
from solidcopy.reports.wording import plain
from solidcopy.translate.delivery import questions
from solidcopy.translate.link import Link, budget, free_space_loss_db
from solidcopy.translate.link_chances import OuterNoise, UncertainLink
from solidcopy.translate.link_outcome import outcome_of
from solidcopy.translate.repeats import ORDINARY
from solidcopy.translate.surroundings import GALACTIC, UPPER_DECILE, fa_from_dbm

MINUTES = (1.0, 2.0, 5.0, 10.0)
LIMITS_DB = {
    "the path loss": (0.0, 400.0),
    "the gain of the transmitting antenna": (-60.0, 60.0),
    "the gain of the receiving antenna": (-60.0, 60.0),
    "the loss before the transmitting antenna": (0.0, 60.0),
    "the loss behind the receiving antenna": (0.0, 60.0),
    "the noise figure": (0.0, 60.0),
    "the error of the path loss": (0.0, 60.0),
}


@dataclass(frozen=True, slots=True)
class PathLoss:
    """The loss of a path: given, or that of free space over a distance."""

    given_db: float | None = None
    free_space_km: float | None = None
    error_db: float = 0.0
    """Half the width of an interval that holds it in 8 of 10 cases."""

    def at(self, mhz: float) -> tuple[float, str]:
        """In dB, and where it comes from. Raises FigureError."""
        if (self.given_db is None) == (self.free_space_km is None):
            raise FigureError(
                "give the path loss with --path-loss-db, or a distance with --free-space-km (for "
                "paths in free space only: by sky wave or along the ground the loss depends on the "
                "path)"
            )
        if self.given_db is not None:
            return self.given_db, "as given"
        km = self.free_space_km
        if km is None or not (math.isfinite(km) and km > 0.0):
            raise FigureError(f"the distance must be more than 0 km, not {km}")
        return free_space_loss_db(km, mhz), f"free space, {plain(km)} km"


@dataclass(frozen=True, slots=True)
class NoiseHere:
    """Outer noise at the receiving place: surroundings, a measurement, or both."""

    surroundings: str | None = None
    measured: Measured | None = None
    has_galactic: bool = False

    def at(self, mhz: float) -> OuterNoise:
        """As it is drawn. Raises FigureError."""
        if self.surroundings is None and self.measured is None:
            raise FigureError(
                "say what the noise is: --surroundings city, residential, rural or quiet-rural, or "
                "your own with --noise-dbm and --noise-hz, or both"
            )
        if self.has_galactic and mhz > GALACTIC.range_mhz[1]:
            raise FigureError(f"galactic noise is given up to {GALACTIC.range_mhz[1]:g} MHz only")
        kind = None if self.surroundings is None else surroundings_named(self.surroundings)
        fa, error_db = None, 0.0
        if self.measured is not None:
            fa = fa_from_dbm(self.measured.level_dbm, self.measured.bandwidth_hz)
            error_db = self.measured.error_db / UPPER_DECILE
        return OuterNoise(checked_mhz(mhz), kind, fa, error_db, self.has_galactic)


@dataclass(frozen=True, slots=True)
class Stations:
    """Power and antennas."""

    watts: float
    transmit_gain_dbi: float = 0.0
    transmit_loss_db: float = 0.0
    receive_gain_dbi: float = 0.0
    receive_loss_db: float = 0.0
    noise_figure_db: float = 10.0


def link_facts(
    subject: Subject, stations: Stations, loss: PathLoss, noise: NoiseHere, mhz: float
) -> LinkFacts:
    """All that can be said of a path. Raises FigureError where a figure cannot be meant."""
    if subject.axis.sense != "snr" or subject.is_tied:
        raise FigureError(
            f"{subject.name}: a path needs a curve along the SNR, on which no disturbance is tied "
            "to the signal by a fixed S/I"
        )
    outer = noise.at(checked_mhz(mhz))
    loss_db, loss_words = loss.at(mhz)
    link = _checked(stations, loss_db, loss.error_db)
    path = UncertainLink(link, outer, loss.error_db / UPPER_DECILE)
    asked = questions(subject.mode.slot_s, MINUTES, ORDINARY.n_messages)
    return LinkFacts(
        name=subject.name,
        basis=subject.basis,
        path=path,
        loss_words=loss_words,
        budget=budget(link, outer.middle_fa_db),
        asked=asked,
        outcome=outcome_of(
            path,
            subject.chances,
            asked,
            n_messages=ORDINARY.n_messages,
            generator=generator_of("path"),
        ),
        tested=subject.chances.tested,
    )


def link_text(facts: LinkFacts) -> str:
    """For a terminal."""
    tables = [sheet_text(sheet) for sheet in (budget_sheet(facts), link_sheet(facts))]
    return "\n\n".join([said_text(link_sentences(facts)), *tables])


def _checked(stations: Stations, loss_db: float, error_db: float) -> Link:
    if not (math.isfinite(stations.watts) and stations.watts > 0.0):
        raise FigureError(f"the power must be more than 0 W, not {stations.watts:g} W")
    given = (
        loss_db,
        stations.transmit_gain_dbi,
        stations.receive_gain_dbi,
        stations.transmit_loss_db,
        stations.receive_loss_db,
        stations.noise_figure_db,
        error_db,
    )
    for (name, (low, high)), value in zip(LIMITS_DB.items(), given, strict=True):
        if not low <= value <= high:
            raise FigureError(f"{name} must lie between {low:g} and {high:g} dB, not {value:g} dB")
    return Link(
        watts=stations.watts,
        path_loss_db=loss_db,
        transmit_gain_dbi=stations.transmit_gain_dbi,
        transmit_loss_db=stations.transmit_loss_db,
        receive_gain_dbi=stations.receive_gain_dbi,
        receive_loss_db=stations.receive_loss_db,
        noise_figure_db=stations.noise_figure_db,
    )
