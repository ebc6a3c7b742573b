"""What may be asked about a recording: the same choices as the commands have."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from solidcopy.noise.reading import Answers, Side

CHANNEL = "left, right, a number, or sum (their mean); needed where the channels differ"


class _Asked(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    recording: str = Field(description="file name in the bench folder")

    def recordings(self) -> tuple[str, ...]:
        """All that are read."""
        return (self.recording,)


class HealthAsked(_Asked):
    """What is the recording fit for? As `solidcopy inspect`."""

    kind: Literal["health"] = "health"
    channel: str | None = Field(None, max_length=10, description=CHANNEL)
    iq: Side | None = Field(
        None, description="the channels are I and Q; this side of the centre is heard"
    )
    join: bool = Field(False, description="join the pieces of sound that stand in the file")

    def answers(self) -> Answers:
        """What the person says of the file."""
        return Answers(self.channel, self.iq, self.join)


class PartsAsked(_Asked):
    """What is the noise made of? As `solidcopy noise parts`."""

    kind: Literal["parts"] = "parts"
    channel: str | None = Field(None, max_length=10, description=CHANNEL)
    iq: Side | None = Field(
        None, description="the channels are I and Q; this side of the centre is heard"
    )
    start_s: float = Field(0.0, ge=0.0, description="begin here")
    length_s: float = Field(600.0, ge=2.0, le=3600.0, description="look at so many seconds")

    def answers(self) -> Answers:
        """What the person says of the file."""
        return Answers(self.channel, self.iq)


class SlotsAsked(_Asked):
    """Where do known slots lie? As `solidcopy noise slots`."""

    kind: Literal["slots"] = "slots"
    channel: str | None = Field(None, max_length=10, description=CHANNEL)
    mode: Literal["ft8", "ft4"] = "ft8"
    reference_hz: float | None = Field(
        None, gt=0.0, description="true frequency of a steady tone in the recording"
    )
    start: str | None = Field(
        None,
        max_length=40,
        description="when the first sample was taken, e.g. 2026-11-25T18:30:07Z",
    )


class ChangeAsked(_Asked):
    """How much quieter is a second recording? As `solidcopy noise compare`."""

    kind: Literal["change"] = "change"
    after: str = Field(description="the second recording, taken the same way")
    channel: str | None = Field(None, max_length=10, description=CHANNEL)
    band: str = Field(
        "", max_length=40, description="of the answer, e.g. 300-2700; what both have if left"
    )
    gain_change_db: float | None = Field(
        None, ge=-200.0, le=200.0, description="if the gain was raised from first to second"
    )

    def recordings(self) -> tuple[str, ...]:
        """Both."""
        return (self.recording, self.after)


class TwinAsked(_Asked):
    """Which impairments stand for the noise? As `solidcopy noise twin`."""

    kind: Literal["twin"] = "twin"
    channel: int | None = Field(
        None, ge=1, le=64, description="1 = left; needed where the channels differ"
    )
    mode: Literal["ft8", "ft4"] = "ft8"
    n_trials: int = Field(400, ge=20, le=100_000, description="most trials of one curve")
    is_each: bool = Field(
        False, description="also take out one part at a time: what does each cost?"
    )
    audio_hz: float | None = Field(
        None, gt=0.0, le=6000.0, description="send at this place only, not all over the band"
    )
    root_seed: int = Field(1, ge=0, le=2**63 - 1, description="root seed of the plan")


LookAsked = Annotated[
    HealthAsked | PartsAsked | SlotsAsked | ChangeAsked | TwinAsked, Field(discriminator="kind")
]
LOOK: TypeAdapter[LookAsked] = TypeAdapter(LookAsked)

KINDS = ("health", "parts", "slots", "change", "twin")
