"""A plan: what the user asks. It is the file format and the JSON schema at once."""

import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    Field,
    ValidationError,
    ValidationInfo,
    field_validator,
    model_validator,
)

from solidcopy.errors import PlanError
from solidcopy.impairments.level import STRICT
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import AnyReceiver, refuse_mode
from solidcopy.trials.axis import Axis, MapAxis
from solidcopy.trials.condition import Condition
from solidcopy.trials.faults import explain, faults
from solidcopy.trials.live_setup import LiveSetUp
from solidcopy.trials.mapping import expanded
from solidcopy.trials.stop_rule import StopRule

LEVEL_FIELDS = frozenset({"snr_db", "signal_to_interference_db", "interference_to_noise_db"})
"""These mean the same in every impairment, so conditions may sweep them in different ones."""


class Audio(BaseModel):
    """How the recordings are made."""

    model_config = STRICT

    sample_rate_hz: int = Field(
        12_000, ge=8_000, le=192_000, description="of the recordings that receivers are handed"
    )
    level_dbfs: float | Literal["auto"] = Field(
        "auto",
        description='mean power of the whole mix in dBFS; "auto": -20 dBFS, lowered for a trial '
        "whose peak would pass -1 dBFS (ratios stay as asked)",
    )
    internal_rate_hz: Annotated[int, Field(ge=16_000, le=384_000)] | None = Field(
        None,
        description="rate at which everything is made and summed, if wider than the recordings: "
        "a whole multiple of their rate; needed by what stands in front of the channel filter",
    )

    @model_validator(mode="after")
    def _is_wider(self) -> Self:
        internal_hz = self.internal_rate_hz
        if internal_hz is not None and (
            internal_hz % self.sample_rate_hz or internal_hz == self.sample_rate_hz
        ):
            raise ValueError(
                f"internal_rate_hz must be 2, 3, 4 ... times sample_rate_hz "
                f"({self.sample_rate_hz}), not {internal_hz}"
            )
        return self


class Plan(BaseModel):
    """A question: mode, conditions x one axis x receivers, a stop rule and a root seed."""

    model_config = STRICT

    title: str = Field("", max_length=200, description="head of the report")
    notes: str = Field("", description="shown in the report; alters nothing")
    mode: str = Field(description="the protocol, e.g. ft8")
    root_seed: Annotated[int, Field(ge=0, lt=2**63)] = Field(
        description="every random draw follows from it; the same seed gives the same trials"
    )
    axis: Axis = Field(description='values of the field that says "axis"')
    map: MapAxis | None = Field(
        None, description='values of the field that says "map": each has a curve of its own'
    )
    stop: StopRule = Field(description="when enough trials are made")
    audio: Audio = Field(default_factory=Audio, description="how recordings are made")
    live: LiveSetUp | None = Field(
        None, description="how it is played to a station that listens; alters no recording"
    )
    conditions: tuple[Condition, ...] = Field(
        min_length=1,
        description='the first is the one that others are compared with; one that says "map" is '
        "read as one for each value of the map",
    )
    receivers: tuple[AnyReceiver, ...] = Field(
        (BuiltinSettings(),),
        min_length=1,
        description="all hear the same recordings; others are compared with the first",
    )

    @field_validator("conditions")
    @classmethod
    def _have_their_maps(
        cls, conditions: tuple[Condition, ...], info: ValidationInfo
    ) -> tuple[Condition, ...]:
        if "map" not in info.data:  # it is faulty, and that is said already
            return conditions
        values = info.data["map"]
        try:
            return tuple(expanded(conditions, values and values.points()))
        except PlanError as error:
            raise ValueError(str(error)) from None

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        for what, names in (
            ("conditions", [condition.name for condition in self.conditions]),
            ("receivers", [receiver.name for receiver in self.receivers]),
        ):
            repeated = sorted({name for name in names if names.count(name) > 1})
            if repeated:
                raise ValueError(f'{what}: the name "{repeated[0]}" is used twice')
        return self

    @model_validator(mode="after")
    def _are_for_the_mode(self) -> Self:
        for receiver in self.receivers:
            try:
                refuse_mode(receiver, self.mode)
            except PlanError as error:
                raise ValueError(str(error)) from None
        return self

    @model_validator(mode="after")
    def _stops_as_it_can(self) -> Self:
        if self.axis.placement == "adaptive" and self.stop.threshold_half_width_db is None:
            raise ValueError(
                'stop: axis.placement = "adaptive" looks for a threshold: give '
                "`threshold_half_width_db`"
            )
        sizes = (len(self.receivers), len(self.conditions))
        if self.stop.until == "decided" and sizes[0] != 2 and sizes != (1, 2):
            raise ValueError(
                'stop: until = "decided" needs two receivers, or one receiver and two conditions, '
                f"not {sizes[0]} and {sizes[1]}"
            )
        return self

    @property
    def limit_per_curve(self) -> int:
        """Largest number of trials of one curve."""
        limit = self.stop.limit_per_point
        return limit if self.axis.placement == "adaptive" else limit * len(self.axis.points())

    @model_validator(mode="after")
    def _sweeps_one_field(self) -> Self:
        try:
            labels = {condition.swept_label() for condition in self.conditions}
        except PlanError as error:
            raise ValueError(str(error)) from None
        fields = {field for _, field in labels}
        if len(fields) > 1 or (len(labels) > 1 and not fields <= LEVEL_FIELDS):
            listed = ", ".join(sorted(f"{owner}.{name}" for owner, name in labels))
            raise ValueError(f"all conditions must sweep the same field, not {listed}")
        return self

    @model_validator(mode="after")
    def _is_wide_enough(self) -> Self:
        for condition in self.conditions:
            for block in condition.chain_blocks():
                if block.is_wideband and self.audio.internal_rate_hz is None:
                    raise ValueError(
                        f'condition "{condition.name}": {block.kind} stands in front of the '
                        "channel filter and needs a wider band than the recording has: set "
                        f"audio.internal_rate_hz, e.g. to {4 * self.audio.sample_rate_hz}"
                    )
        return self

    def swept_label(self) -> tuple[str, str]:
        """Owner and name of the swept field; "disturbance" where conditions sweep the same level
        of different impairments."""
        labels = {condition.swept_label() for condition in self.conditions}
        owner, field = labels.pop()
        return ("disturbance" if labels else owner), field


def parse_plan(data: dict[str, Any]) -> Plan:
    """A checked plan from parsed TOML or JSON. Raises PlanError naming the field."""
    try:
        return Plan.model_validate(data)
    except ValidationError as error:
        found = faults(error.errors())
        raise PlanError(explain(found), found) from None


def read_plan(path: Path) -> Plan:
    """A checked plan from a TOML file; recordings are looked for beside the file."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise PlanError(f"{path}: cannot be read ({error.strerror}); give a plan file") from None
    except UnicodeDecodeError:
        raise PlanError(f"{path}: is not UTF-8 text; save the plan as UTF-8") from None
    return plan_of_text(text, path)


def plan_of_text(text: str, path: Path) -> Plan:
    """A checked plan from TOML text that is, or will be, the file at `path`."""
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise PlanError(f"{path}: is not valid TOML: nested too deeply") from None
    except ValueError as error:  # of the grammar, or an integer of thousands of digits
        raise PlanError(f"{path}: is not valid TOML: {error}") from None
    try:
        return parse_plan(_with_absolute_files(data, path.resolve().parent))
    except PlanError as error:
        raise PlanError(f"{path}: {error}", error.faults) from None


def _with_absolute_files(data: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Paths of recordings become absolute: relative ones count from the plan's folder."""
    for condition in _tables(data.get("conditions")):
        for impairment in _tables(condition.get("impairments")):
            file = impairment.get("file")
            if isinstance(file, str):
                if "\0" in file:
                    raise PlanError("file: no file has a name with a zero byte in it")
                impairment["file"] = str((folder / file).resolve())
    return data


def _tables(value: object) -> list[dict[str, Any]]:
    """The tables of a list; what else stands there is refused by the schema."""
    return [item for item in value if isinstance(item, dict)] if isinstance(value, list) else []
