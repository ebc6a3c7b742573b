"""An opened recording."""

from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from solidcopy.errors import AudioFileError
from solidcopy.noise.reading.answers import Answers, Question, Side, channel_index
from solidcopy.signals.sound_file.channels import ChannelRelation, ChannelSums, Likeness
from solidcopy.signals.sound_file.facts import Frames, SoundFacts, SoundSource
from solidcopy.signals.sound_file.findings import Finding
from solidcopy.signals.sound_file.opening import open_source

N_LOOKS = 48
"""Places, evenly spread, at which the channels are compared when a file is opened."""
LOOK_S = 1.0
ABOVE = {Side.UPPER: "above", Side.LOWER: "below"}


class Sound:
    """A recording, read in pieces. Used with `with`; see `open_sound`."""

    def __init__(self, path: Path, source: SoundSource, answers: Answers) -> None:
        """Look at the channels. Raises AudioFileError if an answer does not fit the file."""
        self.path = path
        self.answers = answers
        self._source = source
        self.relation: ChannelRelation = self._compare_channels()
        self.channel: int | None = self._chosen_channel()
        """The one that `mono` takes, from 0; None for a sum, for I/Q, or while it is open."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the file back."""
        self._source.close()

    @property
    def facts(self) -> SoundFacts:
        """What the file is."""
        return self._source.facts

    @property
    def sample_rate_hz(self) -> int:
        """As the file says; never changed."""
        return self.facts.sample_rate_hz

    @property
    def n_channels(self) -> int:
        """In the file."""
        return self.facts.n_channels

    @property
    def n_samples(self) -> int:
        """Of each channel."""
        return self.facts.n_samples

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.facts.duration_s

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is odd about the file and its channels; `noise.health` says more."""
        if not self.relation.sentence:
            return self.facts.findings
        told = self.relation.told(self.channel)
        if self.answers.iq is not None:
            told += f"; what lies {ABOVE[self.answers.iq]} the centre frequency is taken"
        elif self.channel is None and not self.is_open:
            told += "; their mean is taken"
        channels = Finding("channels", told, brief=self.relation.brief)
        return (*self.facts.findings, channels)

    @property
    def is_open(self) -> bool:
        """Whether the user has yet to say which channel is meant."""
        has_answer = self.answers.channel is not None or self.answers.iq is not None
        return self.channel is None and not has_answer

    @property
    def question(self) -> Question | None:
        """What to ask, one thing at most."""
        if self.is_open:
            if self.relation.likeness is Likeness.QUADRATURE:
                return Question(
                    "Are they I and Q? Then which side of the centre frequency is to be heard, "
                    "upper or lower? Else choose a channel with --channel.",
                    "--iq",
                )
            names = "left, right" if self.n_channels == 2 else f"1 to {self.n_channels}"
            return Question(
                f"Which channel is the recording: {names} or sum? (Are they I and Q of a "
                "receiver: --iq upper or lower.)",
                "--channel",
            )
        if self.facts.n_pieces > 1 and not self.answers.join:
            return Question(
                f"Are the {self.facts.n_pieces} pieces one recording? Then join them.", "--join"
            )
        return None

    def read(self, start: int, n_samples: int) -> Frames:
        """Samples of all channels from a place on, (n_channels, up to n_samples) float64."""
        return self._source.read(start, n_samples)

    def blocks(self, n_samples_a_block: int) -> Iterator[NDArray[np.float64]]:
        """The whole recording in pieces, (n_channels, up to n_samples_a_block) float64."""
        for start in range(0, self.n_samples, n_samples_a_block):
            yield self._source.read(start, n_samples_a_block)

    def looks(self, *, n_looks: int = N_LOOKS, look_s: float = LOOK_S) -> Iterator[Frames]:
        """Pieces of `look_s` seconds, evenly spread, never overlapping."""
        n_look = min(max(round(look_s * self.sample_rate_hz), 1), self.n_samples)
        n_places = max(min(n_looks, self.n_samples // n_look), 1)
        for start in np.linspace(0, self.n_samples - n_look, n_places):
            yield self._source.read(int(start), n_look)

    def _compare_channels(self) -> ChannelRelation:
        sums = ChannelSums(self.n_channels)
        if self.n_channels > 1:
            for frames in self.looks():
                if not np.isfinite(frames).all():
                    frames = np.nan_to_num(frames, nan=0.0, posinf=0.0, neginf=0.0)  # noqa: PLW2901
                sums.add(frames)
        return sums.relation()

    def _chosen_channel(self) -> int | None:
        answers = self.answers
        if answers.iq is not None and self.n_channels != 2:
            raise AudioFileError(
                f"{self.path}: I and Q need two channels, and it has {self.n_channels}; "
                "leave --iq out"
            )
        if answers.iq is not None:
            return None
        if answers.channel is None:
            return self.relation.channel
        try:
            return channel_index(answers.channel, self.n_channels)
        except AudioFileError as error:
            raise AudioFileError(f"{self.path}: {error}") from None


def open_sound(
    path: Path, *, channel: str | None = None, iq: Side | None = None, join: bool = False
) -> Sound:
    """Open a recording of any kind.

    Args:
        path: the file.
        channel, iq, join: see `Answers`.
    Raises: AudioFileError, one sentence: no sound file, empty, a rate that cannot be, or an
        answer that does not fit.
    """
    answers = Answers(channel, iq, join)
    source = open_source(path, join=join)
    try:
        return Sound(path, source, answers)
    except BaseException:
        source.close()
        raise
