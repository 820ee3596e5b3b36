"""The commented example of `campaign.yaml`, generated from the model of the settings."""

from __future__ import annotations

import json
import textwrap
import typing
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from trivet.schema.settings.block import is_block, marks_of, without_none
from trivet.schema.settings.campaign import Settings

_INTRODUCTION = """\
Settings of a campaign. Every setting stands here with its meaning and its default;
a line may be left out where a default is given. Lines marked 'decide' have none.
Rates are in units of the capacity basis per hour; a charging current is positive.\
"""


def example_yaml() -> str:
    """Give the complete commented example, which the model accepts as it stands."""
    lines = [f"# {line}" for line in _INTRODUCTION.splitlines()]
    for name, field in Settings.model_fields.items():
        lines += ["", *_comment(field, 0), f"{name}:"]
        lines += _block(without_none(field.annotation), 2)
    return "\n".join(lines) + "\n"


def _block(model: type[BaseModel], indent: int, given: dict[str, Any] | None = None) -> list[str]:
    """Lines of a block, with values given for some of its settings."""
    lines = []
    for name, field in model.model_fields.items():
        value = given[name] if given and name in given else _example(field)
        lines += _field(name, field, indent, value)
    return lines


def _field(name: str, field: FieldInfo, indent: int, value: Any) -> list[str]:  # noqa: ANN401
    """Lines of one setting: meaning, then name and value."""
    pad = " " * indent
    lines = _comment(field, indent)
    annotation = without_none(field.annotation)
    inner = typing.get_args(annotation)
    if value is None and field.default is None:
        return [*lines, f"{pad}{name}: null"]
    if value == []:
        return [*lines, f"{pad}{name}: []"]
    if is_block(annotation):
        given = value if isinstance(value, dict) else None
        return [*lines, f"{pad}{name}:", *_block(annotation, indent + 2, given)]
    if inner and is_block(inner[-1]) and typing.get_origin(annotation) is list:
        return [*lines, f"{pad}{name}:", *_items(inner[0], indent + 2, value)]
    if inner and is_block(inner[-1]):
        lines.append(f"{pad}{name}:")
        for key, block in value.items():
            lines += [f"{pad}  {key}:", *_block(inner[-1], indent + 4, block)]
        return lines
    return [*lines, f"{pad}{name}: {_plain(value)}"]


def _items(model: type[BaseModel], indent: int, values: list[dict[str, Any]]) -> list[str]:
    """Blocks of a list: the first with its comments, the others on a line each."""
    pad = " " * indent
    block = _block(model, indent + 2, values[0])
    first = next(i for i, line in enumerate(block) if not line.lstrip().startswith("#"))
    comments = [line[2:] for line in block[:first]]
    lines = [*comments, f"{pad}- {block[first].lstrip()}", *block[first + 1 :]]
    for value in values[1:]:
        inside = ", ".join(f"{key}: {_plain(item)}" for key, item in value.items())
        lines.append(f"{pad}- {{{inside}}}")
    return lines


def _example(field: FieldInfo) -> Any:  # noqa: ANN401
    """Example where there is one, else the default."""
    extra = marks_of(field)
    value: Any = extra.get("example", field.default)
    if value is PydanticUndefined:
        if is_block(without_none(field.annotation)):
            return None
        raise ValueError(f"a required setting needs an example: {field.description}")
    return value


def _comment(field: FieldInfo, indent: int) -> list[str]:
    """Meaning, unit and choices as comment lines."""
    text = field.description or ""
    extra = marks_of(field)
    notes = []
    if extra.get("unit"):
        notes.append(str(extra["unit"]))
    annotation = without_none(field.annotation)
    if typing.get_origin(annotation) is typing.Literal:
        notes.append(" | ".join(_plain(choice) for choice in typing.get_args(annotation)))
    simple = not is_block(annotation)
    if field.is_required() and simple and not _holds_blocks(annotation):
        notes.append("decide")
    elif simple and "example" in extra and not _holds_blocks(annotation):
        notes.append(f"default: {_plain(field.default)}")
    text += f" [{'; '.join(notes)}]" if notes else ""
    width = 98 - indent
    return [f"{' ' * indent}# {line}" for line in textwrap.wrap(text, width - 2)]


def _plain(value: Any) -> str:  # noqa: ANN401
    """One value in YAML: JSON is YAML, and bare words where they are safe."""
    if isinstance(value, str) and value.replace(" ", "").isalpha():
        return (
            value if value not in ("yes", "no", "true", "false", "null", "none") else f'"{value}"'
        )
    if isinstance(value, float):
        return f"{value:.1f}" if value == int(value) and abs(value) < 1e5 else repr(value)
    return json.dumps(value, ensure_ascii=False)


def _holds_blocks(annotation: Any) -> bool:  # noqa: ANN401
    """Whether a type is a list or table of blocks."""
    return any(is_block(arg) for arg in typing.get_args(annotation))
