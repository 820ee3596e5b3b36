"""YAML with line numbers: what stands where, so that a problem can name its line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from trivet.errors import Problem

Place = tuple[str | int, ...]
"""Path into a document: keys and list positions."""


class _Loader(yaml.SafeLoader):
    """Safe loader that leaves dates and times as text, since people write them without a zone."""


_Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:timestamp"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def read_yaml(path: Path, name: str) -> tuple[Any, dict[Place, int], list[Problem]]:
    """Read a YAML file.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        How to call it in problems.

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
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        return None, {}, [Problem(name, f"can't be read: {error.strerror}.")]
    except UnicodeDecodeError as error:
        return None, {}, [Problem(name, f"is not UTF-8 text (byte {error.start}).")]
    loader = _Loader(text)
    try:
        node = loader.get_single_node()
        lines: dict[Place, int] = {}
        problems: list[Problem] = []
        if node is None:
            return None, {}, [Problem(name, "is empty.")]
        _walk(node, (), name, lines, problems)
        return loader.construct_document(node), lines, problems
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = None if mark is None else mark.line + 1
        return None, {}, [Problem(name, f"is not YAML: {getattr(error, 'problem', error)}.", line)]
    finally:
        loader.dispose()


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
