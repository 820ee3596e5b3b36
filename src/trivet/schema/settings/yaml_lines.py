"""YAML with line numbers: what stands where, so that a problem can name its line."""

from __future__ import annotations

from typing import Any

import yaml

from trivet.errors import Problem

MOST_DEPTH = 60
"""Deepest nesting of settings; models of impedance nest by two for each element."""
MOST_NODES = 200_000
"""Most values of a file of settings."""
Place = tuple[str | int, ...]
"""Path into a document: keys and list positions."""


class _Loader(yaml.SafeLoader):
    """Safe loader that leaves dates and times as text, since people write them without a zone."""


_Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:timestamp"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def parse_yaml(content: bytes, name: str) -> tuple[Any, dict[Place, int], list[Problem]]:
    """Read YAML.

    Parameters
    ----------
    content : bytes
        Content of the file.
    name : str
        How to call it in problems.

    Returns
    -------
    document : object
        None where the file can't be read.
    lines : dict of Place to int
        Line of every key and list item, counted from 1.
    problems : list of Problem
        Not UTF-8, not YAML, a key given twice; nested, repeated or long beyond what settings are.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return None, {}, [Problem(name, f"is not UTF-8 text (byte {error.start}).")]
    deepest = _deepest(text)
    if deepest > MOST_DEPTH:
        message = f"is nested {deepest} deep, {MOST_DEPTH} at most."
        return None, {}, [Problem(name, message, hint="Is a bracket left open?")]
    try:
        return _parsed(text, name)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = None if mark is None else mark.line + 1
        what = getattr(error, "problem", None) or getattr(error, "reason", error)
        return None, {}, [Problem(name, f"is not YAML: {what}.", line)]
    except (ValueError, RecursionError) as error:
        return None, {}, [Problem(name, f"holds a value that can't be read: {error}.")]


def _parsed(text: str, name: str) -> tuple[Any, dict[Place, int], list[Problem]]:
    """Document, lines and problems of a text that is not too deep."""
    loader = _Loader(text)
    try:
        node = loader.get_single_node()
        if node is None:
            return None, {}, [Problem(name, "is empty.")]
        if _size(node) > MOST_NODES:
            hint = "Write out what an alias (*) repeats, and let none refer to itself."
            return None, {}, [Problem(name, f"has over {MOST_NODES} values.", hint=hint)]
        lines: dict[Place, int] = {}
        problems: list[Problem] = []
        _walk(node, (), name, lines, problems)
        return loader.construct_document(node), lines, problems
    finally:
        loader.dispose()


def _deepest(text: str) -> int:
    """Most brackets open at once, or half of the widest indent: how deep a document may nest."""
    depth = deepest = 0
    for sign in text:
        if sign in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif sign in "]}":
            depth -= 1
    starts = (line.lstrip(" ") for line in text.splitlines())
    dashes = max((len(s) - len(s.lstrip("- ")) for s in starts), default=0) // 2
    indent = max((len(s) - len(s.lstrip(" ")) for s in text.splitlines() if s.strip()), default=0)
    return max(deepest, indent // 2, dashes)


def _size(node: yaml.Node) -> int:
    """Values of a document with what aliases repeat; counting stops beyond what may be."""
    waiting, count = [node], 0
    while waiting and count <= MOST_NODES:
        here = waiting.pop()
        count += 1
        if isinstance(here, yaml.MappingNode):
            waiting += [part for pair in here.value for part in pair]
        elif isinstance(here, yaml.SequenceNode):
            waiting += here.value
    return count


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
