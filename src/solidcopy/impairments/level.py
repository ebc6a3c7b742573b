"""How strong a disturbance is asked to be: numbers a plan may sweep, and what they refer to."""

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import AfterValidator, ConfigDict, Field, StrictFloat, StrictInt

from solidcopy.errors import PlanError

AXIS = "axis"
"""Written in place of a number, it marks the field that the campaign sweeps."""

MAP = "map"
"""Written in place of a number, it marks the field that a map runs over, curve by curve."""

STRICT = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
"""Settings of every model that a plan file is read into."""


def _as_float(value: float | str) -> float | str:
    return value if isinstance(value, str) else float(value)


Swept = Annotated[
    Annotated[StrictFloat | StrictInt, Field(ge=-1e6, le=1e6)] | Literal["axis", "map"],
    AfterValidator(_as_float),
]
"""A number, or "axis" or "map" where the campaign's axis or its map supplies it."""


def fixed(value: float | str, field: str) -> float:
    """The number of a field; PlanError if the axis or map has not supplied it yet."""
    if isinstance(value, str):
        raise PlanError(f'{field} is "{value}": a value on the {value} must be chosen first')
    return float(value)


@dataclass(frozen=True, slots=True)
class Level:
    """One stated level of an added disturbance.

    `quantity` is one of
    - "snr": wanted power over this noise's power in 2500 Hz,
    - "signal_to_interference": wanted power over this disturbance's mean power in the slot,
    - "interference_to_noise": its mean power in the slot over the noise power in 2500 Hz of
      the condition's noise (the impairment that states an SNR),
    - "as_recorded": the samples keep the level they have.
    """

    quantity: Literal["snr", "signal_to_interference", "interference_to_noise", "as_recorded"]
    level_db: float


def one_level(
    signal_to_interference_db: float | str | None, interference_to_noise_db: float | str | None
) -> Level:
    """The one level that is given, its axis value put in."""
    if signal_to_interference_db is not None:
        value = fixed(signal_to_interference_db, "signal_to_interference_db")
        return Level("signal_to_interference", value)
    assert interference_to_noise_db is not None
    return Level(
        "interference_to_noise", fixed(interference_to_noise_db, "interference_to_noise_db")
    )


def refuse_not_one(**levels: object) -> None:
    """ValueError unless exactly one of the named levels is given."""
    given = [name for name, value in levels.items() if value is not None and value is not False]
    if len(given) != 1:
        listed = " or ".join(f"`{name}`" for name in levels)
        raise ValueError(f"give exactly one of {listed}, not {len(given)}")
