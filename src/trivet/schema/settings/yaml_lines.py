"""YAML with line numbers: what stands where, so that a problem can name its line."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import yaml

from trivet.errors import Problem

Place = tuple[str | int, ...]
"""Path into a document: keys and list positions."""


MOST_LEVELS = 30
"""Deepest nesting that settings may have."""
MOST_SIGNS = 100_000
"""Longest text that one value may have."""
MOST_DIGITS = 100
"""Longest number that one value may have."""
_NUMBER = re.compile(r"[-+]?[0-9][0-9_:xXoObBa-fA-F.]*")


class _Loader(yaml.SafeLoader):
    """Safe loader that leaves dates and times as text, since people write them without a zone."""


_Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:timestamp"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def read_yaml(
    path: Path, name: str, read: Callable[[Path], bytes] = Path.read_bytes
) -> tuple[Any, dict[Place, int], list[Problem]]:
    """Read a YAML file.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        How to call it in problems.
    read : callable
        What gives the bytes of a file.

    Returns
    -------
    document : object
        None where the file can't be read.
    lines : dict of Place to int
        Line of every key and list item, counted from 1.
    problems : list of Problem
        File missing, not UTF-8, not YAML, a key given twice.
    """
    try:
        text = read(path).decode("utf-8-sig")
    except OSError as error:
        return None, {}, [Problem(name, f"can't be read: {error.strerror}.")]
    except UnicodeDecodeError as error:
        return None, {}, [Problem(name, f"is not UTF-8 text (byte {error.start}).")]
    try:
        _look_at_cost(text)
        return _built(text, name)
    except (ValueError, yaml.YAMLError) as error:
        return None, {}, [_unusable(name, error)]


def _built(text: str, name: str) -> tuple[Any, dict[Place, int], list[Problem]]:
    """Document, lines and problems of a text of bounded cost."""
    loader = _Loader(text)
    try:
        node = loader.get_single_node()
        lines: dict[Place, int] = {}
        problems: list[Problem] = []
        if node is None:
            return None, {}, [Problem(name, "is empty.")]
        _walk(node, (), name, lines, problems)
        return loader.construct_document(node), lines, problems
    finally:
        loader.dispose()


class _TooCostlyError(yaml.MarkedYAMLError):
    """A document that would take too much to build."""


def _unusable(name: str, error: ValueError | yaml.YAMLError) -> Problem:
    """What the parser says, with the line where it stands."""
    mark = getattr(error, "problem_mark", None)
    what = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
    message = what if isinstance(error, _TooCostlyError) else f"is not YAML: {what}"
    return Problem(name, f"{message}.", None if mark is None else mark.line + 1)


def _look_at_cost(text: str) -> None:
    """Refuse what makes a document too costly to build, before anything is built of it.

    Events come one by one: aliases that multiply, depth and numbers of thousands of digits are
    known by them.

    Raises
    ------
    yaml.YAMLError
        It costs too much, or is no YAML.
    """
    depth = 0
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        depth += isinstance(event, yaml.CollectionStartEvent)
        depth -= isinstance(event, yaml.CollectionEndEvent)
        fault = _too_much(event, depth)
        if fault:
            mark: Any = event.start_mark
            raise _TooCostlyError(problem=fault, problem_mark=mark)


def _too_much(event: yaml.Event, depth: int) -> str:
    """What is too much in one event; empty where nothing is."""
    if isinstance(event, yaml.AliasEvent):
        return f"uses an alias, '*{event.anchor}'; write the value out instead"
    if depth > MOST_LEVELS:
        return f"is nested deeper than {MOST_LEVELS} levels"
    if isinstance(event, yaml.ScalarEvent):
        if len(event.value) > MOST_SIGNS:
            return f"has a value of more than {MOST_SIGNS} signs"
        if len(event.value) > MOST_DIGITS and _NUMBER.fullmatch(event.value):
            return f"has a number of more than {MOST_DIGITS} digits"
    return ""


def _walk(
    node: yaml.Node, place: Place, name: str, lines: dict[Place, int], problems: list[Problem]
) -> None:
    """Note the line of every key and item; a key given twice is a problem."""
    if isinstance(node, yaml.MappingNode):
        for key_node, value_node in node.value:
            key = str(key_node.value)
            inner = (*place, key)
            line = key_node.start_mark.line + 1
            if inner in lines:
                problems.append(
                    Problem(name, f"'{key}' is given twice; first on line {lines[inner]}.", line)
                )
            lines[inner] = line
            _walk(value_node, inner, name, lines, problems)
    elif isinstance(node, yaml.SequenceNode):
        for position, item in enumerate(node.value):
            inner = (*place, position)
            lines[inner] = item.start_mark.line + 1
            _walk(item, inner, name, lines, problems)


def line_of(lines: dict[Place, int], place: Place) -> int | None:
    """Line of a place, or of the nearest enclosing one that stands in the file."""
    while place:
        if place in lines:
            return lines[place]
        place = place[:-1]
    return None
