"""What a person says about a measurement: a small TOML file, checked before anything is heard.

There is no field for whose a device is: the sheet speaks of devices and hours.
"""

import tomllib
from pathlib import Path
from typing import Annotated

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    model_validator,
)

from solidcopy.errors import EvidenceError
from solidcopy.trials.faults import explain, faults

STRICT = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

EXAMPLE = """\
# What `solidcopy evidence` says of a measurement. Name things, not people.
title = "Noise on 7 MHz at the club station by the harbour"
place = "club station by the harbour, antenna 60 m from the pasture"
switched = "the electric fence of the pasture, at its switch; nothing else was changed"
receiver = "communications receiver, upper sideband, 2.7 kHz filter"
settings = "gain control, noise blanker and noise reduction off; same gain in both"
antenna = "half-wave dipole, 10 m above ground, 20 m of cable"
frequency_mhz = 7.074
# measured_by = "station by the harbour"
# notes = "Dry evening, light wind."
# band_hz = [300, 2700]          # of the audio; left out: what both have of 300-2700
# channel = "left"               # of files with several: left, right, a number or sum
# gain_change_db = 10            # if the second was taken with so much more gain
# campaign = "harbour.campaign"  # what the noise costs in decodes, if it was measured

[[recordings]]
file = "fence-on.wav"
state = "fence on"
start = 2026-11-30T18:10:00Z     # with its time zone

[[recordings]]                   # leave this one out if there is only one
file = "fence-off.wav"
state = "fence off"
start = 2026-11-30T18:15:00Z

# [calibration]                  # without it only relative levels are known
# dbm_at_0_dbfs = -51.0          # power at the antenna socket that gives 0 dBFS
# error_db = 2.0                 # how far that may be off either way
# how = "signal generator at the antenna socket, -73 dBm read as -22.0 dBFS"
"""


def _one_line(text: str) -> str:
    line = " ".join(text.split())
    if not line:
        raise ValueError("must not be empty")
    if not line.isprintable():
        raise ValueError("must hold printable signs only")
    return line


Short = Annotated[str, Field(max_length=40), AfterValidator(_one_line)]
Line = Annotated[str, Field(max_length=120), AfterValidator(_one_line)]
Words = Annotated[str, Field(max_length=240), AfterValidator(_one_line)]


class Taken(BaseModel):
    """One recording and what was switched how."""

    model_config = STRICT

    file: str = Field(min_length=1, description="sound file; relative to the description")
    state: Short = Field(description="how it was switched, in a few words")
    start: AwareDatetime = Field(description="date and time with its zone")


class Calibration(BaseModel):
    """What a level of the recorder is at the antenna socket."""

    model_config = STRICT

    dbm_at_0_dbfs: float = Field(ge=-200.0, le=100.0)
    error_db: float = Field(ge=0.0, le=40.0, description="how far it may be off either way")
    how: Words = Field(description="how it was found")


class Description(BaseModel):
    """What the sheet is told. Lengths are limited so that two pages hold it."""

    model_config = STRICT

    title: Line
    place: Words = Field(description="in words")
    switched: Words = Field(description="what was switched between the recordings")
    receiver: Words
    settings: Words = Field(description="of the receiver: gain control, blanker, reduction, gain")
    antenna: Words
    frequency_mhz: float = Field(gt=0.0, le=300_000.0)
    measured_by: Line | None = None
    notes: Words | None = None
    band_hz: tuple[float, float] | None = None
    channel: str | None = Field(None, description="left, right, a number or sum")
    gain_change_db: float | None = Field(None, ge=-120.0, le=120.0)
    campaign: str | None = Field(None, min_length=1, description="campaign folder or plan file")
    calibration: Calibration | None = None
    recordings: tuple[Taken, ...] = Field(min_length=1, max_length=2)

    @model_validator(mode="after")
    def _differ(self) -> "Description":
        if len({one.state for one in self.recordings}) < len(self.recordings):
            raise ValueError("the two recordings need different states, e.g. on and off")
        band = self.band_hz
        if band is not None and not 0.0 <= band[0] <= band[1] - 50.0:
            raise ValueError("band_hz needs two frequencies at least 50 Hz apart, low to high")
        return self


def read_description(path: Path) -> Description:
    """The description in a file; paths in it are made to count from its folder.

    Raises: EvidenceError, one sentence.
    """
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise EvidenceError(
            f"{path}: cannot be read ({error.strerror}); `solidcopy evidence --example` prints one "
            "to begin with"
        ) from None
    except UnicodeDecodeError:
        raise EvidenceError(f"{path}: is not UTF-8 text; save it as UTF-8") from None
    except (ValueError, RecursionError) as error:
        raise EvidenceError(f"{path}: is not valid TOML: {error}") from None
    try:
        return Description.model_validate(data)
    except ValidationError as error:
        found = faults(error.errors())
        raise EvidenceError(f"{path}: {explain(found)}".replace("the plan: ", "")) from None
