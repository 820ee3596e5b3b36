"""Settings narrowed to those that a stage is given; any other is no attribute of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar, cast

from trivet.schema.settings.block import Block, without_none

OfBlock = TypeVar("OfBlock", bound=Block)


def narrowed(model: type[OfBlock], given: Mapping[str, Any], paths: Iterable[str]) -> OfBlock:
    """Give a block with the settings at some paths and no others, not even with their defaults.

    So a stage can be handed one object, and still reads nothing that its contract does not name:
    its results would not be made anew where such a setting changes.

    Parameters
    ----------
    model : type of Block
        The block, e.g. all settings.
    given : mapping
        Its settings by name, checked before, as JSON has them.
    paths : iterable of str
        Blocks and single settings, as `cycling` and `report.cycles_drawn`.

    Returns
    -------
    Block
        Of the type of `model`; a setting at no path raises AttributeError.
    """
    inner: dict[str, list[str]] = {}
    for path in paths:
        name, _, rest = path.partition(".")
        inner.setdefault(name, []).append(rest)
    values = {
        name: _value(model.model_fields[name].annotation, given[name], rests)
        for name, rests in inner.items()
    }
    made = cast("OfBlock", model.model_construct(**values))
    for name in model.model_fields.keys() - values.keys():
        made.__dict__.pop(name, None)
    return made


def _value(annotation: Any, value: Any, paths: list[str]) -> Any:  # noqa: ANN401
    """A setting, a whole block where its own path is among them, else a narrowed one."""
    kind = without_none(annotation)
    if value is None or not (isinstance(kind, type) and issubclass(kind, Block)):
        return value
    return kind.model_validate(value) if "" in paths else narrowed(kind, value, paths)
