"""A condition: the ordered impairments and the sending parameters of a trial."""

from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, Field, ValidationError, model_validator

from solidcopy.errors import PlanError
from solidcopy.impairments.catalogue import (
    AnyAdded,
    AnyChainBlock,
    AnyImpairment,
    AnyPath,
    is_added,
    is_chain_block,
    is_path,
)
from solidcopy.impairments.level import AXIS, MAP, STRICT, Swept
from solidcopy.trials.field_words import field_at

FieldPath = tuple[str | int, ...]

MAX_NAME = 80


class Spread(BaseModel):
    """A number drawn evenly between two ends for each trial."""

    model_config = STRICT

    low: float = Field(description="lower end")
    high: float = Field(description="upper end")

    @model_validator(mode="after")
    def _is_ordered(self) -> Self:
        if self.low > self.high:
            raise ValueError(f"low ({self.low:g}) must not exceed high ({self.high:g})")
        return self


class Sending(BaseModel):
    """How the wanted signal is sent."""

    model_config = STRICT

    message: str = Field(
        "random",
        min_length=1,
        description='"random": a new valid message for each trial; or one fixed text for all',
    )
    audio_hz: Annotated[float, Field(ge=0, le=24_000)] | Spread | Literal["axis", "map"] = Field(
        Spread(low=500.0, high=2300.0),
        description="frequency of the lowest tone in Hz; a number or {low, high}",
    )
    start_offset_s: Annotated[float, Field(ge=-2.5, le=2.5)] | Spread | Literal["axis", "map"] = (
        Field(
            Spread(low=-0.5, high=0.5),
            description="start after the mode's nominal start in s; a number or {low, high}",
        )
    )
    signal_dbfs: Swept | None = Field(
        None,
        description="mean power while transmitting in dBFS; needed beside a recording used as "
        "recorded, otherwise chosen by the head-room",
    )


class Mapped(BaseModel):
    """Where in a map a condition stands. Written by the program; it alters no trial."""

    model_config = STRICT

    condition: str = Field(description='name of the condition that says "map"')
    impairment: int | None = Field(
        description="number, from 1, of the impairment that says so; null: the sending does"
    )
    field: str = Field(description='the field that says "map"')
    value: float = Field(description="the value put in there")

    @property
    def path(self) -> FieldPath:
        """Of the field in its condition."""
        if self.impairment is None:
            return "sending", self.field
        return "impairments", self.impairment - 1, self.field


class Condition(BaseModel):
    """All physics of a trial, no chance."""

    model_config = STRICT

    name: str = Field(min_length=1, max_length=MAX_NAME, description="shown in tables and figures")
    sending: Sending = Field(default_factory=Sending)
    impairments: tuple[AnyImpairment, ...] = Field(
        min_length=1, description="disturbances in order; each has a `kind`"
    )
    mapped: Mapped | None = Field(
        None, description="set by the program where a condition comes from a map"
    )

    @model_validator(mode="after")
    def _levels_refer_to_something(self) -> Self:
        given = {
            name
            for impairment in self.impairments
            for name, value in impairment
            if value is not None and value is not False
        }
        if "interference_to_noise_db" in given and not given & {"snr_db", "as_recorded"}:
            raise ValueError(
                "interference_to_noise_db needs a noise to refer to: add an impairment that "
                "states snr_db, or give signal_to_interference_db instead"
            )
        if "as_recorded" in given and self.sending.signal_dbfs is None:
            raise ValueError(
                "a recording mixed as recorded needs sending.signal_dbfs: say how strong the "
                "wanted signal is, or give the recording a level instead"
            )
        return self

    @model_validator(mode="after")
    def _is_mapped_as_it_says(self) -> Self:
        mapped = self.mapped
        if mapped is not None and mapped.path not in self.fields_saying(mapped.value):
            raise ValueError("leave `mapped` out: the program writes it")
        return self

    def added(self) -> list[AnyAdded]:
        """What is added to the wanted signal."""
        return [impairment for impairment in self.impairments if is_added(impairment)]

    def paths(self) -> list[AnyPath]:
        """What acts on the wanted signal, in order."""
        return [impairment for impairment in self.impairments if is_path(impairment)]

    def chain_blocks(self) -> list[AnyChainBlock]:
        """What acts on the sum."""
        return [impairment for impairment in self.impairments if is_chain_block(impairment)]

    def fixes_full_scale(self) -> bool:
        """Whether the chain ends in absolute steps, so that nothing may be scaled behind it."""
        return any(block.on and block.fixes_full_scale for block in self.chain_blocks())

    def fields_saying(self, word: str | float) -> list[FieldPath]:
        """Paths of all fields that say "axis" or "map", or hold a number."""
        found: list[FieldPath] = [
            ("sending", name) for name, value in self.sending if value == word
        ]
        for place, impairment in enumerate(self.impairments):
            found += [("impairments", place, name) for name, value in impairment if value == word]
        return found

    def label_of(self, path: FieldPath) -> tuple[str, str]:
        """Owner ("sending" or the impairment's kind) and name of a field."""
        owner = "sending" if path[0] == "sending" else self.impairments[int(path[1])].kind
        return owner, str(path[-1])

    def swept_label(self) -> tuple[str, str]:
        """Owner and name of the one swept field."""
        paths = self.fields_saying(AXIS)
        if len(paths) != 1:
            raise PlanError(
                f'condition "{self.name}": exactly one field must say "{AXIS}", '
                f"not {len(paths)}; write a number in the others"
            )
        return self.label_of(paths[0])

    def at(self, axis_value: float) -> "Condition":
        """The same condition with the axis value put in."""
        return self._with(self.fields_saying(AXIS), axis_value)

    def on_map(self, value: float) -> "Condition":
        """The same condition with a map's value put in, and named after it. Raises PlanError."""
        paths = self.fields_saying(MAP)
        if len(paths) != 1:
            raise PlanError(
                f'condition "{self.name}": one field may say "{MAP}", not {len(paths)}; write a '
                "number in the others"
            )
        (path,) = paths
        name = f"{self.name}, {field_at(str(path[-1]), value)}"
        if len(name) > MAX_NAME:
            raise PlanError(
                f'condition "{self.name}": its name is too long for "{name}", which may have '
                f"{MAX_NAME} letters; shorten it by {len(name) - MAX_NAME}"
            )
        number = None if path[0] == "sending" else int(path[1]) + 1
        mapped = Mapped(condition=self.name, impairment=number, field=str(path[-1]), value=value)
        return self._with(paths, value, name=name, mapped=mapped.model_dump())

    def as_written(self) -> "Condition":
        """A condition on a map as the plan's author wrote it; any other as it is."""
        if self.mapped is None:
            return self
        return self._with([self.mapped.path], MAP, name=self.mapped.condition, mapped=None)

    def _with(self, paths: list[FieldPath], value: float | str, **changes: Any) -> "Condition":
        """A copy with a value in some fields, and with changes besides. Raises PlanError."""
        data = {**self.model_dump(), **changes}
        for path in paths:
            place: Any = data
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = value
        try:
            return Condition.model_validate(data)
        except ValidationError as error:
            # Of a union of types each member complains; the first is the number.
            message = error.errors()[0]["msg"].removeprefix("Value error, ")
            on = MAP if changes else AXIS
            raise PlanError(
                f'condition "{self.name}" at {value:g} on the {on}: {message}'
            ) from None

    def identity(self) -> dict[str, Any]:
        """Everything that can alter a recording; the name and the place in a map are left out."""
        return {
            "sending": self.sending.model_dump(mode="json"),
            "impairments": [impairment.identity() for impairment in self.impairments],
        }
