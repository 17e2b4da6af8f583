"""What every section of a profile has in common: strict types, no unknown keys, no later change.

The docstring under each field becomes its description, and the description becomes the remedy of a
message, so that what a person reads in an error and what a reader finds here are one text.
"""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints


class Section(BaseModel):
    """A table of the profile."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        use_attribute_docstrings=True,
    )


Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
"""The name of a thing: it becomes a column of logs and an identifier of the exported C."""

Names = Annotated[tuple[Name, ...], Field(strict=False)]
"""A list of names; TOML's arrays arrive as lists."""

PulseUs = Annotated[int, Field(ge=100, le=4000)]
"""A pulse in whole microseconds."""

Milliseconds = Annotated[float, Field(ge=0, le=60_000)]
"""A time of up to a minute."""

Positive = Annotated[float, Field(gt=0, le=1e9)]
NotNegative = Annotated[float, Field(ge=0, le=1e9)]
Share = Annotated[float, Field(ge=0, le=1)]
Point = Annotated[tuple[float, float, float], Field(strict=False)]
"""x forward, y left, z up, in metres from the middle of the wheels on the floor."""
