"""A broadcast station: carrier, two sidebands of programme, and the heterodyne that is heard."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
import scipy.fft
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.impairments.added import sidebands
from solidcopy.impairments.added.limits import refuse_outside
from solidcopy.impairments.added.placed import (
    InterferenceToNoise,
    Reach,
    SignalToInterference,
    frequency_in,
    level_of,
    refuse_level_not_once,
    refuse_place_not_once,
)
from solidcopy.impairments.added.programme import (
    Delivery,
    Programme,
    Spectrum,
    draw_programme,
    spectrum_of,
)
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed

PEAK_ALLOWANCE = 0.03
"""A parabola through 24 000 samples a second missed a peak by up to 1.6 % (60 slots measured)."""

DELIVERIES = {
    "speech": Delivery(swell_db=4.5, swell_hz=4.0, phrase_s=2.5, pause_s=0.6),
    "music": Delivery(swell_db=2.0, swell_hz=2.0),
}
"""An announcer's syllables and pauses; music at 120 beats a minute (own recipe)."""


class AmplitudeModulatedStation(BaseModel):
    """A carrier modulated in amplitude by programme (A3E), heard on one sideband."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["amplitude-modulated-station"] = "amplitude-modulated-station"
    audio_hz: Swept | None = Field(None, description="where its carrier is heard, Hz")
    offset_hz: Swept | None = Field(
        None, description="carrier's distance from the lowest wanted tone, Hz"
    )
    signal_to_interference_db: SignalToInterference = None
    interference_to_noise_db: InterferenceToNoise = None
    programme: Literal["speech", "music"] = Field(
        "speech", description="speech-like with pauses, or music-like without"
    )
    depth_percent: Swept = Field(
        90.0, description="modulation at the highest peak, 0 to 100 %; 0: bare carrier"
    )
    drive_db: float = Field(
        3.0, ge=-20.0, le=20.0, description="programme's mean above the limiter's knee, dB"
    )
    programme_high_hz: float = Field(
        4500.0, ge=1000.0, le=5500.0, description="highest programme frequency, Hz"
    )
    low_hz: float = Field(
        200.0, ge=100.0, le=20_000.0, description="lower edge of the receiver's passband, Hz"
    )
    high_hz: float = Field(2900.0, le=24_000.0, description="upper edge of the passband, Hz")

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        refuse_place_not_once(self)
        refuse_level_not_once(self)
        refuse_outside(self.depth_percent, field="depth_percent", low=0.0, high=100.0)
        sidebands.refuse_narrow(self.low_hz, self.high_hz)
        return self

    def level(self) -> Level:
        """The asked ratio, of carrier and sidebands as they come through the passband."""
        return level_of(self)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """One slot of a running programme; its level refers to the mean of this very slot."""
        band = sidebands.passband(self.low_hz, self.high_hz, scene)
        carrier_hz = frequency_in(
            scene,
            self,
            reach=Reach(band.low_hz, scene.half_rate_hz - band.high_hz),
            name="a station's carrier (heard within the passband)",
        )
        programme = draw_programme(
            self.programme,
            DELIVERIES[self.programme],
            highest_hz=self.programme_high_hz,
            slot_s=scene.duration_s,
            generator=generator,
        )
        modulation = self.modulation(programme)
        sent = sidebands.Sidebands(
            upper=modulation,
            lower=np.conj(modulation),
            carrier=1.0,
            circle_s=programme.circle_s,
        )
        samples, mean_power = sidebands.heard(
            sent,
            band,
            scene,
            carrier_hz=carrier_hz,
            phase_rad=generator.uniform(0.0, 2.0 * math.pi),
        )
        return Disturbance(samples, mean_power, spread_db=0.0, occupied_hz=band.feet_hz)

    def modulation(self, programme: Programme) -> Spectrum:
        """Spectrum of what is added to the carrier's 1, and never takes it below 0.

        The limiter is a hyperbolic tangent; a filter then keeps its products within the programme
        band, and the highest peak of what is left is set to the asked depth.
        """
        drive = math.sqrt(units.ratio_from_db(self.drive_db))
        limited = programme.samples * np.float32(drive)
        spectrum = spectrum_of(np.tanh(limited, out=limited))
        spectrum[math.floor(self.programme_high_hz * programme.circle_s) + 1 :] = 0.0
        spectrum *= fixed(self.depth_percent, "depth_percent") / 100.0 / _highest_peak(spectrum)
        return spectrum

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def _highest_peak(spectrum: Spectrum) -> float:
    """Largest magnitude of the programme, between its samples too, rounded up a little."""
    n_finer = 4 * (spectrum.size - 1)
    finer = np.abs(scipy.fft.irfft(spectrum, n_finer, norm="forward"))
    high = np.flatnonzero(finer > 0.8 * finer.max())
    before, at, after = (finer[(high + step) % n_finer].astype(np.float64) for step in (-1, 0, 1))
    is_peak = (at >= before) & (at >= after)
    before, at, after = before[is_peak], at[is_peak], after[is_peak]
    curve = np.maximum(2.0 * at - before - after, 1e-12)
    top = at + np.square(after - before) / (8.0 * curve)
    return float(top.max()) * (1.0 + PEAK_ALLOWANCE)
