"""What every section of a profile has in common: strict types, no unknown keys, no later change.

The docstring under each field becomes its description, and the description becomes the remedy of a
message, so that what a person reads in an error and what a reader finds here are one text.
"""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, StringConstraints, WithJsonSchema
from pydantic_core import PydanticCustomError


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


def _pin(value: object) -> object:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 999:
        return value
    if isinstance(value, str) and 0 < len(value) <= 16 and value.isascii() and value.isalnum():
        return value
    raise PydanticCustomError("pin", "must be a pin's number or its name")


_PINS = {
    "anyOf": [
        {"type": "integer", "minimum": 0, "maximum": 999},
        {"type": "string", "pattern": "^[A-Za-z0-9]+$", "maxLength": 16},
    ]
}
Pin = Annotated[int | str, PlainValidator(_pin), WithJsonSchema(_PINS)]
"""A pin of the board, by its number or its name as the board prints it."""
