"""On/off keying by Morse signals: timing and code table of ITU-R M.1677-1 (10/2009)."""

import math
from typing import Any, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, field_validator, model_validator

from solidcopy.impairments.added.clicks import ClickBand
from solidcopy.impairments.added.running_text import RANDOM_TEXT, draw_groups
from solidcopy.impairments.level import STRICT
from solidcopy.modes.plain_text.morse_code import CODE, dot_s, edge_times
from solidcopy.signals.keyed_amplitude import keyed_amplitude
from solidcopy.signals.waveform import Samples

SHORTEST_LETTER_UNITS = 4
"""E, a dot, and the gap after it."""
LEAST_EDGE_MS = 1.0


class MorseKeying(BaseModel):
    """A text sent over and over, beginning anywhere in it."""

    model_config = STRICT

    kind: Literal["morse"] = "morse"
    text: str = Field(
        "CQ CQ DE Q1ABC Q1ABC K",
        min_length=1,
        max_length=500,
        description='sent over and over; "random": new groups of five letters in every trial',
    )
    speed_wpm: float = Field(20.0, ge=5.0, le=60.0, description="words (PARIS) per minute")
    edge_ms: float = Field(
        5.0,
        ge=0.0,
        le=20.0,
        description="raised-cosine rise and fall of the amplitude, ms, 1 to 20; 5 is free of "
        "clicks; 0: hard edges, which click",
    )
    clicks: ClickBand | None = Field(
        None, description="passband through which the clicks of hard edges come (200 to 2900 Hz)"
    )

    @field_validator("text")
    @classmethod
    def _is_in_the_code(cls, text: str) -> str:
        if text == RANDOM_TEXT:
            return text
        words = text.upper().split()
        unknown = sorted(set("".join(words)) - set(CODE))
        if unknown:
            raise ValueError(f'no Morse signal for "{unknown[0]}"; use letters, figures, /?=.,+-')
        if not words:
            raise ValueError("give at least one letter to send")
        return " ".join(words)

    @model_validator(mode="after")
    def _edges_fit(self) -> Self:
        if 0.0 < self.edge_ms < LEAST_EDGE_MS:
            raise ValueError(
                f"edge_ms is {self.edge_ms:g}; it may be 0 (hard edges) or {LEAST_EDGE_MS:g} to 20"
            )
        if self.clicks is not None and not self.is_hard:
            raise ValueError("clicks come from hard edges only; write edge_ms = 0")
        if self.edge_ms > 1000.0 * self.dot_s:
            raise ValueError(
                f"edge_ms is {self.edge_ms:g}; it must not exceed a dot "
                f"({1000.0 * self.dot_s:g} ms at this speed)"
            )
        return self

    @property
    def dot_s(self) -> float:
        """Length of a dot: 60 s / (50 units * speed)."""
        return dot_s(self.speed_wpm)

    @property
    def is_hard(self) -> bool:
        """Whether it is switched in no time."""
        return self.edge_ms == 0.0

    @property
    def click_band(self) -> ClickBand:
        """Passband of the clicks of hard edges."""
        return self.clicks or ClickBand()

    def amplitude(
        self, *, n_samples: int, sample_rate_hz: float, generator: np.random.Generator
    ) -> Samples:
        """Keying amplitude 0..1, (n_samples,); every edge is at half amplitude on time."""
        return keyed_amplitude(
            self.edges_s(duration_s=n_samples / sample_rate_hz, generator=generator),
            edge_s=self.edge_ms / 1000.0,
            n_samples=n_samples,
            sample_rate_hz=sample_rate_hz,
        )

    def edges_s(self, *, duration_s: float, generator: np.random.Generator) -> NDArray[np.float64]:
        """Key-down and key-up times in turn, (n_edges,) from before a slot to after it."""
        n_letters = math.ceil(duration_s / (self.dot_s * SHORTEST_LETTER_UNITS)) + 1
        text = self.text
        if text == RANDOM_TEXT:
            text = draw_groups(generator, n_characters=n_letters).strip()
        edges_units, period_units = edge_times(text)
        period_s = period_units * self.dot_s
        start_s = generator.uniform(0.0, period_s)
        n_rounds = int(np.ceil((start_s + duration_s) / period_s)) + 2
        # One round earlier: an edge before the slot may still be rising in it.
        rounds_s = period_s * np.arange(-1, n_rounds - 1) - start_s
        return np.asarray((rounds_s[:, None] + self.dot_s * edges_units[None, :]).ravel())

    def identity(self) -> dict[str, Any]:
        """Numbers; those that are younger than recipe 1 only where they are given."""
        younger = {"clicks"} if self.clicks is None else set()
        return self.model_dump(mode="json", exclude=younger)
