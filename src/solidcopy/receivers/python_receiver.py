"""A receiver written in Python by the user, named in a plan."""

from typing import ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field


class PythonSettings(BaseModel):
    """A callable that takes (samples, sample_rate_hz) and returns decodes; runs in a process of
    its own, so that a crash or a hang costs one trial only."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    recipe: ClassVar[int] = 1

    kind: Literal["python"] = "python"
    name: str = Field(min_length=1, max_length=80)
    load: str = Field(
        pattern=r"^[A-Za-z_][\w.]*:[A-Za-z_]\w*$",
        description='where to find the callable: "package.module:name"',
    )
    time_limit_s: float = Field(30.0, gt=0, le=3600, description="a slower answer is a failure")
    version: str = Field(
        "1", description="change it when the callable changes: old trials no longer count"
    )
