"""What every block of the settings shares: strict, frozen, no unknown keys, a unit a field."""

from __future__ import annotations

import types
import typing
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, field_validator

from trivet.schema.limits import MOST

DECIDE = "decide"
"""Stands in settings where a person must decide; no setting has this value."""


class Block(BaseModel):
    """A block of settings: strict types, unknown keys refused, never changed after reading."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", allow_inf_nan=False)

    @field_validator("*")
    @classmethod
    def _can_be_meant(cls, value: Any) -> Any:  # noqa: ANN401
        """Refuse numbers that nothing in a laboratory has, before they overflow in the work."""
        if isinstance(value, float | int) and abs(value) > MOST:
            message = f"must lie between -{MOST:g} and {MOST:g}"
            raise ValueError(message)
        return value


def setting(
    default: Any,  # noqa: ANN401
    description: str,
    *,
    unit: str = "",
    example: Any = None,  # noqa: ANN401
    **limits: Any,  # noqa: ANN401
) -> Any:  # noqa: ANN401
    """Give a setting with its meaning.

    Parameters
    ----------
    default : object
        Default value; `...` where the user must decide.
    description : str
        Meaning, in one sentence; printed in the generated example.
    unit : str
        Unit of the value; empty for text and pure numbers.
    example : object
        Value printed in the generated example where there is no default or it says too little.
    **limits
        Limits as pydantic names them (`ge`, `gt`, `le`, `lt`, `min_length`, `pattern`).
    """
    extra: dict[str, Any] = {"unit": unit}
    if example is not None:
        extra["example"] = example
    return Field(default, description=description, json_schema_extra=extra, **limits)


def without_none(annotation: Any) -> Any:  # noqa: ANN401
    """Type of a setting without its 'or null'."""
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return next(arg for arg in typing.get_args(annotation) if arg is not type(None))
    return annotation
