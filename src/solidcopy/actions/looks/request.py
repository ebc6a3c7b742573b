"""What may be asked about a recording: the same choices as the commands have."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from solidcopy.noise.reading import Answers, Side
from solidcopy.receivers.builtin.settings import Effort

LATEST_S = 1e7
"""Four months into a recording."""
CHANNEL = "left, right, a number, or sum (their mean); needed where the channels differ"


class _Asked(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    kind: str
    recording: str = Field(description="file name in the bench folder")

    def recordings(self) -> tuple[str, ...]:
        """All that are read."""
        return (self.recording,)

    def subject(self) -> str:
        """Of several looks at a recording about the same subject the newest is shown."""
        return self.kind


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
    start_s: float = Field(0.0, ge=0.0, le=LATEST_S, description="begin here")
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
        None, gt=0.0, le=1e6, description="true frequency of a steady tone in the recording"
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


class CostAsked(_Asked):
    """How is it measured what the noise costs? The plan of `solidcopy noise cost`."""

    kind: Literal["cost"] = "cost"
    channel: int | None = Field(
        None, ge=1, le=64, description="1 = left; needed where the channels differ"
    )
    mode: Literal["ft8", "ft4"] = "ft8"
    n_trials: int = Field(400, ge=20, le=100_000, description="most trials of one curve")
    has_remedies: bool = Field(False, description="try a blanker, a limiter and notches as well")
    efforts: tuple[Effort, ...] = Field(
        (), max_length=3, description="efforts of the built-in receiver; its usual one if none"
    )
    audio_hz: float | None = Field(
        None, gt=0.0, le=6000.0, description="send at this place only, not all over the band"
    )
    root_seed: int = Field(1, ge=0, le=2**63 - 1, description="root seed of the plan")


class AnswerAsked(_Asked):
    """What does a campaign about this noise answer? As `solidcopy noise cost` and `twin` end."""

    kind: Literal["answer"] = "answer"
    campaign: str = Field(description="name of a campaign of the bench folder that plays it")

    def subject(self) -> str:
        """One for each campaign."""
        return f"answer of {self.campaign}"


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
    HealthAsked | PartsAsked | CostAsked | AnswerAsked | ChangeAsked | SlotsAsked | TwinAsked,
    Field(discriminator="kind"),
]
LOOK: TypeAdapter[LookAsked] = TypeAdapter(LookAsked)
