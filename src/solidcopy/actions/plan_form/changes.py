"""Changes that a person makes in the form, as a page sends them."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, JsonValue

Step = str | Annotated[int, Field(ge=0, le=10_000)]
PlaceSent = Annotated[
    list[Step],
    Field(min_length=1, max_length=12, description="keys and places (from 0) in the plan file"),
]


class _Change(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class SetField(_Change):
    """A field holds a value; null or an empty text: it is left out."""

    do: Literal["set"]
    place: PlaceSent
    value: JsonValue = Field(description="as typed: text becomes a number where numbers stand")


class Turn(_Change):
    """A field is filled in another way, beginning with a sensible value."""

    do: Literal["turn"]
    place: PlaceSent
    form: str = Field(description='form of one of its shapes, a kind of its tables, or "nothing"')


class TakeWay(_Change):
    """Of several ways to say the same, one is taken, and the fields of the others go."""

    do: Literal["way"]
    place: list[Step] = Field(max_length=12, description="of the table")
    field: str = Field(description="the first field of the way")


class Add(_Change):
    """One more item in a list."""

    do: Literal["add"]
    place: PlaceSent = Field(description="of the list")
    preset: str | None = Field(None, description="name of a preset for that list")
    kind: str | None = Field(None, description="of a table in that list, where no preset is named")


class Double(_Change):
    """A copy of an item behind it, with a name of its own."""

    do: Literal["double"]
    place: PlaceSent


class TakeOut(_Change):
    """An item is taken out of its list."""

    do: Literal["take-out"]
    place: PlaceSent


class Move(_Change):
    """An item changes places with its neighbour."""

    do: Literal["move"]
    place: PlaceSent
    by: Literal[-1, 1] = Field(description="-1: towards the head of the list")


class Sweep(_Change):
    """The axis or the map runs over another field, in every condition that has it."""

    do: Literal["sweep"]
    by: Literal["axis", "map"]
    key: str = Field(description="of a choice; empty: nothing, and a map is taken out")


class TakeStop(_Change):
    """How many trials: the values of a preset."""

    do: Literal["stop"]
    preset: str


Change = Annotated[
    SetField | Turn | TakeWay | Add | Double | TakeOut | Move | Sweep | TakeStop,
    Field(discriminator="do"),
]
