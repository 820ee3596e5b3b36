"""What every block of the settings shares: strict, frozen, no unknown keys, a unit a field."""

from __future__ import annotations

import types
import typing
from collections.abc import Collection
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, field_validator
from pydantic.fields import FieldInfo

from trivet.schema.limits import MOST

DECIDE = "decide"
"""Stands in settings where a person must decide; no setting has this value."""
BOTH = ("cell", "reference")
"""Both endpoints, whose verdicts a setting may turn."""


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
    called: str = "",
    given_to: Collection[str] = (),
    turns: Collection[str] | None = None,
    registered: bool = True,
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
    called : str
        What people call it, where the report says that it changed; empty: its dotted name.
    given_to : collection of str
        Stages that are given it although the contract does not give them the block it stands in.
    turns : collection of str or None
        Endpoints whose verdicts it may turn; None: those of the block it stands in.
    registered : bool
        Whether the register of reports compares it: not where it decides nothing, or stands in a
        place of its own there.
    **limits
        Limits as pydantic names them (`ge`, `gt`, `le`, `lt`, `min_length`, `pattern`).
    """
    extra: dict[str, Any] = {
        "unit": unit,
        "called": called,
        "given_to": tuple(given_to),
        "registered": registered,
    }
    if example is not None:
        extra["example"] = example
    if turns is not None:
        extra["turns"] = tuple(turns)
    return Field(default, description=description, json_schema_extra=extra, **limits)


def marks_of(field: FieldInfo) -> dict[str, Any]:
    """What `setting` was told of a field beside meaning, default and limits."""
    extra = field.json_schema_extra
    return dict(extra) if isinstance(extra, dict) else {}


def is_block(annotation: Any) -> bool:  # noqa: ANN401
    """Whether a type is a block."""
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)


def without_none(annotation: Any) -> Any:  # noqa: ANN401
    """Type of a setting without its 'or null'."""
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return next(arg for arg in typing.get_args(annotation) if arg is not type(None))
    return annotation
