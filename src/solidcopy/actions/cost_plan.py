"""The plan behind the question what a recorded noise costs: ordinary TOML, with comments."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomli_w

from solidcopy import units
from solidcopy.modes.mode import ModeFacts

GAUSSIAN, OWN = "Gaussian noise", "own noise"
"""Names of the two conditions that are compared."""

USUAL_ES_N0_DB = 4.0
"""Half of the messages get through somewhere near this in Gaussian noise, in the modes we have;
only the range of the axis follows from it."""
BELOW_DB, ABOVE_DB = 5, 12
"""The axis reaches so far beyond the two places between which the threshold of a noise is expected:
that of its floor alone, and that of Gaussian noise as strong as all of it."""
HALF_WIDTH_DB = 0.25
INTERNAL_RATE_HZ = 24_000
"""What stands in front of the channel filter asks for a rate wider than the recordings."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that may give some of the loss back."""

    name: str
    chain: str
    """The impairment as a line of TOML."""
    comment: str


BLANKER = Remedy(
    "blanker",
    '{ kind = "wideband-blanker", threshold_db = 12 }',
    "Silence while the envelope passes 12 dB over what is always there, and 1 ms after.",
)
LIMITER = Remedy(
    "limiter",
    '{ kind = "wideband-limiter", level_db = 6 }',
    "The envelope is held below 6 dB over what is always there.",
)
AUTOMATIC_NOTCH = Remedy(
    "automatic notch",
    '{ kind = "automatic-notch" }',
    "Takes out what can be foreseen: steady lines, and slow tones of the signal a little.",
)


def notch_at(audio_hz: float) -> Remedy:
    """A notch at the strongest line of the recording."""
    return Remedy(
        f"notch at {audio_hz:.0f} Hz",
        f'{{ kind = "notch", audio_hz = {audio_hz:.1f}, width_hz = 30 }}',
        "At the strongest line of the recording.",
    )


@dataclass(frozen=True, slots=True)
class CostPlan:
    """Everything that shapes the plan."""

    recording: Path
    mode: ModeFacts
    audio_hz: tuple[float, float]
    """Lowest and highest frequency of the lowest tone; equal for one place."""
    over_floor_db: float
    """Mean power over the floor in 2500 Hz, as far as it is known."""
    receivers: tuple[dict[str, Any], ...]
    remedies: tuple[Remedy, ...] = ()
    channel: int | None = None
    n_trials: int = 400
    root_seed: int = 1

    @property
    def axis_db(self) -> tuple[int, int]:
        """First and last SNR in 2500 Hz."""
        usual_db = units.snr_from_es_n0(USUAL_ES_N0_DB, symbol_s=self.mode.symbol_s)
        return (
            round(usual_db - max(self.over_floor_db, 0.0)) - BELOW_DB,
            round(usual_db) + ABOVE_DB,
        )

    def text(self) -> str:
        """The plan file."""
        blocks = [self._head(), self._condition(GAUSSIAN, _GAUSSIAN_LINES, None)]
        blocks.append(self._condition(OWN, [*_OWN_COMMENT, self._recording()], None))
        blocks += [
            self._condition(f"{OWN}, {remedy.name}", [self._recording()], remedy)
            for remedy in self.remedies
        ]
        return "\n".join(blocks)

    def _head(self) -> str:
        first, last = self.axis_db
        name = self.recording.name.replace("\\", "\\\\").replace('"', '\\"')
        lines = [
            "# What does a recorded noise cost, beside Gaussian noise of equal power?",
            "# Equal power: equal mean power between 200 and 2700 Hz, over the whole recording.",
            "# An ordinary plan: change what you like before its first run, then give",
            "# `solidcopy run` or `solidcopy noise cost` with the same --out.",
            f'title = "{self.mode.name.upper()} in the noise of {name[:120]}"',
            f'mode = "{self.mode.name}"',
            f"root_seed = {self.root_seed}",
            "",
            # Here: in either form that it is written in, what follows must be a table.
            *([tomli_w.dumps({"receivers": list(self.receivers)})] if self.receivers else []),
            "[axis]                        # SNR in 2500 Hz, dB",
            f"start = {first}",
            f"stop = {last}",
            "step = 1",
            'placement = "adaptive"        # trials go where they tell most about the 50 % point',
            "",
            "[stop]",
            f"threshold_half_width_db = {HALF_WIDTH_DB}",
            f"at_most = {self.n_trials}                 # trials of one curve",
            "nothing_sent = 20             # trials without a signal, to count false decodes",
            "",
        ]
        if any("wideband" in remedy.chain for remedy in self.remedies):
            lines += [
                "[audio]",
                f"internal_rate_hz = {INTERNAL_RATE_HZ}      # for the blanker and the limiter",
                "",
            ]
        return "\n".join(lines)

    def _condition(self, name: str, added: list[str], remedy: Remedy | None) -> str:
        low_hz, high_hz = self.audio_hz
        place = f"{low_hz:g}"
        if low_hz != high_hz:
            place = f"{{ low = {low_hz:g}, high = {high_hz:g} }}"
        lines = ["[[conditions]]", f'name = "{name}"', f"sending = {{ audio_hz = {place} }}"]
        lines += ["impairments = [", *(f"    {line}" for line in added)]
        if remedy is not None:
            lines += [f"    # {remedy.comment}", f"    {remedy.chain},"]
        return "\n".join([*lines, "]", ""])

    def _recording(self) -> str:
        file = tomli_w.dumps({"file": str(self.recording.resolve())}).strip()
        channel = "" if self.channel is None else f", channel = {self.channel}"
        return f'{{ kind = "recording", {file}{channel}, placement = "random", snr_db = "axis" }},'


_GAUSSIAN_LINES = ['{ kind = "gaussian-noise", snr_db = "axis" },']
_OWN_COMMENT = [
    "# The recording is the noise: its mean power between 200 and 2700 Hz sets the SNR. Every",
    "# trial takes another place of it.",
]
