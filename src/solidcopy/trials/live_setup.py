"""How a campaign is played to a station that listens. Alters no recording."""

import platform
from typing import Literal

from pydantic import BaseModel, Field

from solidcopy.impairments.level import STRICT


class LiveSetUp(BaseModel):
    """The sound device that a campaign is played through, and what was confirmed of it."""

    model_config = STRICT

    output: str = Field(
        "", max_length=200, description="sound device by number or name; empty: the system's own"
    )
    every: Literal[1, 2] = Field(
        1,
        description="1: each slot is played; 2: each second one, as a station does that listens "
        "in between",
    )
    gain_db: float = Field(
        0.0, ge=-80.0, le=0.0, description="of what is played over the recordings' own level, dB"
    )
    confirmed_for: str | None = Field(
        None,
        max_length=500,
        description="output and machine for which it was confirmed that nothing that can radiate "
        "hangs on it; written by `solidcopy play`",
    )

    @property
    def here(self) -> str:
        """This output on this machine: a plan that was handed on is to be confirmed anew."""
        return f"{self.output or 'the usual output'} on {platform.node()}"

    @property
    def is_confirmed(self) -> bool:
        """Whether somebody has confirmed that this output is safe to play into."""
        return self.confirmed_for == self.here
