"""A figure as part of a web page: named for who can't see it, its ids its own."""

from __future__ import annotations

import re
from collections.abc import Callable
from xml.etree import ElementTree as Tree

from trivet.report.frame.marks import CELL, GROUPS, names_of
from trivet.report.frame.printed import Subject

_SVG = "http://www.w3.org/2000/svg"
_LINK = "{http://www.w3.org/1999/xlink}href"
_ADDRESS = re.compile(r"url\(([^)]*)\)")
_TEXT = (f"{{{_SVG}}}text", f"{{{_SVG}}}tspan")


def inline_svg(
    svg: bytes,
    *,
    prefix: str,
    title: str,
    numbers: Callable[[Subject], dict[str, str]] = lambda _: {},
) -> str:
    """Give a figure as it stands in the page.

    Parameters
    ----------
    svg : bytes
        The figure as kept in its own file.
    prefix : str
        What tells its ids from those of all other figures.
    title : str
        What it shows: read out, and shown to a pointer that rests on it.
    numbers : callable
        Gives the attributes of a mark that is about cells or groups.

    Raises
    ------
    ValueError
        The figure asks for something outside itself, or has styles of its own, which the policy
        of the page forbids.
    """
    Tree.register_namespace("", _SVG)
    root = Tree.fromstring(svg)
    named = [node for node in root.iter() if "id" in node.attrib]
    names = {node.attrib["id"]: f"{prefix}-{place}" for place, node in enumerate(named, start=1)}
    for node in root.iter():
        if "style" in node.attrib or node.tag == f"{{{_SVG}}}style":
            raise ValueError(f"a figure has styles of its own: {title}")
        about = Subject(
            cells=names_of(node.attrib.pop(CELL, "")), groups=names_of(node.attrib.pop(GROUPS, ""))
        )
        for key, value in list(node.attrib.items()):
            if key == "id":
                node.set(key, names[value])
            elif key == _LINK:
                del node.attrib[key]
                node.set("href", f"#{_own(value, names)}")
            elif "url(" in value:
                node.set(
                    key, _ADDRESS.sub(lambda found: f"url(#{_own(found.group(1), names)})", value)
                )
        node.attrib.update(numbers(about))
        if node.tag not in _TEXT:  # spaces between elements mean nothing, those in a text do
            node.text = None
            for child in node:
                child.tail = None
    for name in ("width", "height", "version"):
        root.attrib.pop(name, None)
    label = Tree.Element(f"{{{_SVG}}}title", {"id": prefix})
    label.text = title
    root.insert(0, label)
    root.set("role", "img")
    root.set("aria-labelledby", prefix)
    return Tree.tostring(root, encoding="unicode")


def _own(address: str, names: dict[str, str]) -> str:
    """Name of a part of the figure itself, from its address."""
    hash_sign, name = address[:1], address[1:]
    if hash_sign != "#" or name not in names:
        raise ValueError(f"a figure asks for something outside itself: {address}")
    return names[name]
