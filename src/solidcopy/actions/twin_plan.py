"""The plan that holds a twin beside its recording: ordinary TOML, with comments."""

from dataclasses import dataclass
from pathlib import Path

import tomli_w

from solidcopy import units
from solidcopy.actions.cost_plan import ABOVE_DB, BELOW_DB, HALF_WIDTH_DB, OWN, USUAL_ES_N0_DB
from solidcopy.modes.mode import ModeFacts
from solidcopy.noise.features.figure import db_error
from solidcopy.noise.twin.fitted import FittedPart, Twin, inline

TWIN = "twin"
WITHOUT = "twin without "
MAX_WITHOUT = 12
"""Groups that are taken out one at a time, the strongest."""


@dataclass(frozen=True, slots=True)
class TwinPlan:
    """Everything that shapes the plan."""

    recording: Path
    twin: Twin
    mode: ModeFacts
    audio_hz: tuple[float, float]
    channel: int | None = None
    is_each: bool = False
    """Conditions without one group of parts each as well."""
    n_trials: int = 400
    root_seed: int = 1

    @property
    def axis_db(self) -> tuple[int, int]:
        """From the recording at its own floor to a twin that is as bad as all of its power."""
        usual_db = units.snr_from_es_n0(USUAL_ES_N0_DB, symbol_s=self.mode.symbol_s)
        over_db = max(self.twin.over_floor_db, 0.0)
        return round(usual_db - over_db) - BELOW_DB, round(usual_db + over_db) + ABOVE_DB

    @property
    def without(self) -> tuple[str, ...]:
        """Groups that are taken out one at a time."""
        if not self.is_each:
            return ()
        strength = dict.fromkeys(self.twin.groups, 0.0)
        for part in self.twin.parts:
            strength[part.group] += part.power
        strongest = sorted(strength, key=lambda group: -strength[group])[:MAX_WITHOUT]
        return tuple(group for group in self.twin.groups if group in strongest)

    def text(self) -> str:
        """The plan file."""
        blocks = [self._head(), self._own(), self._twin(TWIN, None)]
        blocks += [self._twin(f"{WITHOUT}{group}", group) for group in self.without]
        return "\n".join(blocks)

    def _head(self) -> str:
        first, last = self.axis_db
        over_db = self.twin.over_floor_db
        title = {"title": f"{self.mode.name.upper()} in {self.recording.name[:100]} and its twin"}
        return "\n".join(
            [
                "# A recorded noise and its twin: impairments fitted to it, with numbers to turn.",
                "# Levels of parts: mean power over that of the white floor in 2500 Hz.",
                f'# The axis of "{OWN}" is the SNR against all of its power between 200 and',
                "# 2700 Hz, that of the twins the SNR against their white floor, which lies",
                f"# {over_db:.2f} dB lower: a twin that fits has its threshold so much higher.",
                "# A twin knows what its features know: rhythm, strength, place. It does not know",
                "# what the recording did at which moment.",
                tomli_w.dumps(title).strip(),
                f'mode = "{self.mode.name}"',
                f"root_seed = {self.root_seed}",
                "",
                "[axis]                        # SNR in 2500 Hz, dB; see above",
                f"start = {first}",
                f"stop = {last}",
                "step = 1",
                'placement = "adaptive"        # trials go where they tell most',
                "",
                "[stop]",
                f"threshold_half_width_db = {HALF_WIDTH_DB}",
                f"at_most = {self.n_trials}                 # trials of one curve",
                "nothing_sent = 0",
                "",
            ]
        )

    def _own(self) -> str:
        file = tomli_w.dumps({"file": str(self.recording.resolve())}).strip()
        channel = "" if self.channel is None else f", channel = {self.channel}"
        own = f'{{ kind = "recording", {file}{channel}, placement = "random", snr_db = "axis" }},'
        return self._condition(OWN, [own])

    def _twin(self, name: str, left_out: str | None) -> str:
        floor = self.twin.floor_density
        density_dbfs = units.dbfs_from_power(floor.value)
        error_db = db_error(floor.standard_error / floor.value)
        lines = [
            f"# white floor at {density_dbfs:.1f} dBFS in 1 Hz (standard error {error_db:.2f} dB)",
            '{ kind = "gaussian-noise", snr_db = "axis" },',
        ]
        for part in self.twin.parts:
            if part.group != left_out:
                lines += self._part(part, is_said=left_out is None)
        lines += [
            "# passband of the recording",
            f"{inline(self.twin.filter_fields())},",
        ]
        return self._condition(name, lines)

    def _part(self, part: FittedPart, *, is_said: bool) -> list[str]:
        comment = [f"# {part.group}: {part.comment} ({part.sureness})"] if is_said else []
        return [*comment, f"{inline(self.twin.fields(part))},"]

    def _condition(self, name: str, lines: list[str]) -> str:
        low_hz, high_hz = self.audio_hz
        place = (
            f"{low_hz:g}" if low_hz == high_hz else f"{{ low = {low_hz:g}, high = {high_hz:g} }}"
        )
        return "\n".join(
            [
                "[[conditions]]",
                f'name = "{name}"',
                f"sending = {{ audio_hz = {place} }}",
                "impairments = [",
                *(f"    {line}" for line in lines),
                "]",
                "",
            ]
        )
