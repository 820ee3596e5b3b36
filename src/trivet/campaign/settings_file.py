"""Read `campaign.yaml` into the settings, or say everything that is wrong with it at once."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from trivet.campaign.settings_rules import broken_rules
from trivet.campaign.table_lives import UNUSED_BLOCKS
from trivet.errors import Problem, near_name
from trivet.schema.settings.block import DECIDE, without_none
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.yaml_lines import Place, line_of, read_yaml
from trivet.store.regular_file import read_regular

_WANTED = {
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "string_type": "must be text",
    "bool_type": "must be true or false",
    "list_type": "must be a list",
    "dict_type": "must be a block of 'name: value' lines",
    "model_type": "must be a block of 'name: value' lines",
    "model_attributes_type": "must be a block of 'name: value' lines",
}


@dataclass(frozen=True)
class SettingsFile:
    """What could be read of `campaign.yaml`.

    Attributes
    ----------
    settings : Settings or None
        None where the model refuses the file.
    blocks : dict of str to Block
        The blocks that are right by themselves, so that what they say can be checked further.
    lines : dict of Place to int
        Line of every key, for problems found later.
    problems : tuple of Problem
        Everything wrong with the file itself.
    """

    settings: Settings | None
    blocks: dict[str, Any]
    lines: dict[Place, int]
    problems: tuple[Problem, ...]


def read_settings(path: Path, overrides: dict[Place, Any] | None = None) -> SettingsFile:
    """Read the settings of a campaign.

    Parameters
    ----------
    path : Path
        The file `campaign.yaml`.
    overrides : dict of Place to object
        Settings given on the command line, which win.
    """
    name = path.name
    document, lines, problems = read_yaml(path, name, read_regular)
    if document is not None and not isinstance(document, dict):
        problems.append(Problem(name, "must be blocks of 'name: value' lines."))
    if not isinstance(document, dict):
        return SettingsFile(None, {}, lines, tuple(problems))
    for place, value in (overrides or {}).items():
        inner = document
        for key in place[:-1]:
            inner = inner.setdefault(key, {})
        inner[place[-1]] = value
    if isinstance(document.get("lifetime"), dict) and document["lifetime"].get("table"):
        document = UNUSED_BLOCKS | document
    settings, refused_at = None, set[Place]()
    try:
        settings = Settings.model_validate(document)
        blocks = {block: getattr(settings, block) for block in Settings.model_fields}
    except ValidationError as error:
        problems += _model_problems(error, name, lines)
        refused_at = {tuple(detail["loc"]) for detail in error.errors()}
        refused = {str(detail["loc"][0]) for detail in error.errors()}
        blocks = _blocks(document, refused)
    problems += [
        Problem(name, f"'{_dotted(place)}' is still '{DECIDE}'.", line_of(lines, place))
        for place in _undecided(document)
        if place not in refused_at
    ]
    problems += [
        Problem(name, message, line_of(lines, place)) for place, message in broken_rules(blocks)
    ]
    return SettingsFile(settings, blocks, lines, tuple(problems))


def _undecided(value: object, place: Place = ()) -> Iterator[Place]:
    """Places of every value that waits for a decision."""
    if value == DECIDE:
        yield place
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _undecided(inner, (*place, key))
    elif isinstance(value, list):
        for position, inner in enumerate(value):
            yield from _undecided(inner, (*place, position))


def _blocks(document: dict[str, Any], refused: set[str]) -> dict[str, Any]:
    """Blocks that the model takes when the whole is refused."""
    blocks = {}
    for block, field in Settings.model_fields.items():
        if block in refused:
            continue
        model = _model_at((block,))
        if block in document and model is not None:
            blocks[block] = model.model_validate(document[block])
        elif not field.is_required():
            blocks[block] = field.default
    return blocks


def _model_problems(error: ValidationError, name: str, lines: dict[Place, int]) -> list[Problem]:
    """Say each error of the model in one line; a misspelt key is said once, with its near name."""
    details = error.errors(include_url=False)
    proposed: set[Place] = set()
    problems = []
    for detail in details:
        place = tuple(detail["loc"])
        if detail["type"] == "extra_forbidden":
            known = _known_names(place[:-1])
            hint = near_name(str(place[-1]), known)
            proposed |= {
                (*place[:-1], known_name) for known_name in known if f"'{known_name}'" in hint
            }
            where = f" in '{_dotted(place[:-1])}'" if place[:-1] else ""
            message = f"unknown setting '{place[-1]}'{where}."
            problems.append(Problem(name, message, line_of(lines, place), hint))
    for detail in details:
        place = tuple(detail["loc"])
        if detail["type"] == "extra_forbidden" or place in proposed:
            continue
        problems.append(_one_problem(detail, place, name, lines))
    return problems


def _one_problem(
    detail: Any,  # noqa: ANN401
    place: Place,
    name: str,
    lines: dict[Place, int],
) -> Problem:
    """One error of the model in words."""
    line = line_of(lines, place)
    if detail["type"] == "missing":
        meaning = _meaning(place)
        return Problem(name, f"'{_dotted(place)}' is missing ({meaning}).", line)
    value = detail["input"]
    shown = f"is {value!r}" if not isinstance(value, dict | list) else "is a block or list"
    if detail["type"] == "literal_error":
        expected = str(detail["ctx"]["expected"])
        choices = [word.strip("' ") for word in expected.replace(" or ", ", ").split(",")]
        hint = near_name(str(value), [choice for choice in choices if choice])
        return Problem(name, f"'{_dotted(place)}' {shown}; it must be {expected}.", line, hint)
    own = str(detail["ctx"]["error"]) if detail["type"] == "value_error" else detail["msg"]
    wanted = _WANTED.get(detail["type"], own[0].lower() + own[1:])
    return Problem(name, f"'{_dotted(place)}' {shown}; it {_verb(wanted)}.", line)


def _verb(wanted: str) -> str:
    """Turn the model's own words into the rest of a sentence that starts with 'it'."""
    return (
        wanted
        if wanted.startswith("must")
        else wanted.replace("input should", "must")
        .replace("string should", "must")
        .replace("list should", "must")
    )


def _dotted(place: Place) -> str:
    """Path as a person would write it: `raw.cycling[0].files`."""
    text = ""
    for key in place:
        text += f"[{key}]" if isinstance(key, int) else (f".{key}" if text else str(key))
    return text


def _model_at(place: Place) -> type[BaseModel] | None:
    """Model of the block at a place, None where the place is no block."""
    model: type[BaseModel] | None = Settings
    annotation: Any = Settings
    for key in place:
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            field = annotation.model_fields.get(str(key))
            if field is None:
                return None
            annotation = without_none(field.annotation)
        elif typing.get_origin(annotation) in (list, dict):
            annotation = without_none(typing.get_args(annotation)[-1])
        else:
            return None
    model = annotation if isinstance(annotation, type) else None
    return model if model is not None and issubclass(model, BaseModel) else None


def _known_names(place: Place) -> list[str]:
    """Names that the block at a place knows."""
    model = _model_at(place)
    return [] if model is None else list(model.model_fields)


def _meaning(place: Place) -> str:
    """Meaning of a setting, from the model."""
    model = _model_at(place[:-1])
    field = None if model is None else model.model_fields.get(str(place[-1]))
    return "required" if field is None or not field.description else field.description
