"""What the marks of settings say by dotted name: who is given one, which verdicts it may turn."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

from pydantic import BaseModel

from trivet.schema.settings.block import is_block, marks_of, without_none
from trivet.schema.settings.campaign import Settings


def given_to(stage: str) -> tuple[str, ...]:
    """Single settings that a stage is given although it is not given their block.

    Parameters
    ----------
    stage : str
        Name of the stage.

    Returns
    -------
    tuple of str
        Dotted names, in the order of the settings.
    """
    return tuple(path for path, marks in _marked().items() if stage in marks["given_to"])


def stages_given() -> frozenset[str]:
    """Every stage that a mark names."""
    return frozenset(stage for marks in _marked().values() for stage in marks["given_to"])


def called(name: str) -> str:
    """What people call a setting; its dotted name where it has no other."""
    return str(_marked().get(name, {}).get("called", "")) or name


def registered(name: str) -> bool:
    """Whether the register of reports compares a setting."""
    return bool(_marked().get(name, {}).get("registered", True))


def endpoints_of(name: str) -> tuple[str, ...]:
    """Endpoints whose verdicts a setting may turn.

    Parameters
    ----------
    name : str
        Its dotted name, or that of something within its value.

    Returns
    -------
    tuple of str
        As its own mark says, else that of the nearest block it stands in.
    """
    turned: tuple[str, ...] = ()
    path = ""
    for key in name.split("."):
        path = f"{path}.{key}" if path else key
        turned = _marked().get(path, {}).get("turns", turned)
    return turned


@cache
def _marked() -> dict[str, dict[str, Any]]:
    """Marks of every setting and block by dotted name."""
    return dict(_walked(Settings, ""))


def _walked(model: type[BaseModel], above: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Marks of a block and below; lists and tables of blocks stand whole."""
    for name, field in model.model_fields.items():
        yield f"{above}{name}", marks_of(field)
        kind = without_none(field.annotation)
        # a block that holds blocks of its own kind, as a model of a circuit, has no end
        if is_block(kind) and kind is not model:
            yield from _walked(kind, f"{above}{name}.")
