"""Figures as small as they can be: less to parse for the PDF, less to keep."""

from __future__ import annotations

import re
from xml.etree import ElementTree as Tree

from trivet.report.frame.marks import attribute_of

SVG = "http://www.w3.org/2000/svg"
LINK = "http://www.w3.org/1999/xlink"
_KEPT_AS_STYLE = ("font",)
_LONG_NUMBER = re.compile(r"-?\d+\.\d{3,}")


def compact_svg(svg: bytes) -> bytes:
    """Drop groups that only carry a name, and turn style texts into attributes.

    The picture stays the same; coordinates keep two decimals of a point [1/72 in], finer than
    any printer.

    Parameters
    ----------
    svg : bytes
        The figure as drawn.
    """
    Tree.register_namespace("", SVG)
    Tree.register_namespace("xlink", LINK)
    root = Tree.fromstring(svg)
    for metadata in root.findall(f"{{{SVG}}}metadata"):
        root.remove(metadata)
    _joins_on_root(root)
    _name_marks(root)
    _flatten(root)
    for node in root.iter():
        _unstyle(node)
        if node.get("transform", "").startswith("rotate(-0 "):
            del node.attrib["transform"]
    _share_clips(root)
    for node in root.iter():
        for name in ("d", "x", "y", "transform", "points"):
            if name in node.attrib:
                node.set(name, _LONG_NUMBER.sub(_rounded, node.get(name, "")))
    return Tree.tostring(root, encoding="unicode").encode()


def _joins_on_root(root: Tree.Element) -> None:
    """Put the rule for all elements on the root, which they inherit from.

    As a rule it would outrank the attributes that `_unstyle` makes.

    Raises
    ------
    ValueError
        The style sheet is not the one rule known here: a change of the drawing library.
    """
    for parent in list(root.iter()):
        for sheet in parent.findall(f"{{{SVG}}}style"):
            rule = "".join((sheet.text or "").split())
            if rule != "*{stroke-linejoin:round;stroke-linecap:butt}":
                raise ValueError(f"unknown style sheet in a figure: {rule}")
            parent.remove(sheet)
    root.set("stroke-linejoin", "round")
    root.set("stroke-linecap", "butt")


def _rounded(found: re.Match[str]) -> str:
    """Coordinate with two decimals."""
    return f"{float(found.group()):.2f}"


def _flatten(node: Tree.Element) -> None:
    """Put the children of bare groups in the place of the group, all the way down."""
    children: list[Tree.Element] = []
    for child in list(node):
        _flatten(child)
        bare = child.tag == f"{{{SVG}}}g" and set(child.attrib) <= {"id"}
        children += list(child) if bare else [child]
    node[:] = children


def _name_marks(node: Tree.Element) -> None:
    """Turn the address around marks into an attribute: of the mark, or of a group of several."""
    for place, child in enumerate(list(node)):
        _name_marks(child)
        if child.tag != f"{{{SVG}}}a":
            continue
        name, value = attribute_of(child.attrib[f"{{{LINK}}}href"])
        mark = child[0] if len(child) == 1 else Tree.Element(f"{{{SVG}}}g")
        if mark is not child[0]:
            mark.extend(list(child))
        mark.set(name, value)
        node[place] = mark


def _share_clips(node: Tree.Element) -> None:
    """Clip neighbours that are clipped alike together: a tenth of the clips, the same picture."""
    children: list[Tree.Element] = []
    shared: Tree.Element | None = None
    for child in list(node):
        _share_clips(child)
        clip = None if "transform" in child.attrib else child.attrib.pop("clip-path", None)
        if clip is None:
            shared = None
            children.append(child)
            continue
        if shared is None or shared.get("clip-path") != clip:
            shared = Tree.Element(f"{{{SVG}}}g", {"clip-path": clip})
            children.append(shared)
        bare = child.tag == f"{{{SVG}}}g" and not child.attrib
        shared.extend(list(child) if bare else [child])
    node[:] = children


def _unstyle(node: Tree.Element) -> None:
    """Turn `style` into attributes of the same meaning; the short form of fonts stays."""
    kept = []
    for part in node.get("style", "").split(";"):
        name, colon, value = part.partition(":")
        if name.strip() in _KEPT_AS_STYLE:
            kept.append(part.strip())
        elif colon:
            node.set(name.strip(), value.strip())
    node.attrib.pop("style", None)
    if kept:
        node.set("style", "; ".join(kept))
