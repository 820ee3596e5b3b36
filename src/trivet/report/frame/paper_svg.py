"""A figure as the PDF takes it: the same picture in fewer and simpler elements.

The library that makes the PDF looks every copied mark up anew, and keeps a part of its own for each
text that does not start where it stands: half a second, and a tenth of the file.
"""

from __future__ import annotations

from xml.etree import ElementTree as Tree

from trivet.report.frame.column_widths import width_em
from trivet.report.frame.compact_svg import LINK, SVG
from trivet.report.frame.marks import CELL, GROUPS

_HREF = f"{{{LINK}}}href"
_OF_A_COPY = (_HREF, "x", "y", CELL, GROUPS)
_SHIFTS = {"start": 0.0, "middle": 0.5, "end": 1.0}


def paper_svg(svg: bytes) -> bytes:
    """Write copied marks out, start texts where they start, drop what only the web page needs.

    Parameters
    ----------
    svg : bytes
        The figure as kept in its own file.
    """
    root = Tree.fromstring(svg)
    named = {node.attrib["id"]: node for node in root.iter() if "id" in node.attrib}
    for parent in list(root.iter()):
        for name in (CELL, GROUPS):
            parent.attrib.pop(name, None)
        for place, node in enumerate(list(parent)):
            if node.tag == f"{{{SVG}}}use":
                parent[place] = _written_out(node, named[node.attrib[_HREF][1:]])
            elif node.tag == f"{{{SVG}}}text":
                _start(node)
    return Tree.tostring(root, encoding="unicode").encode()


def _written_out(use: Tree.Element, mark: Tree.Element) -> Tree.Element:
    """A mark in the place of its copy; what the mark says of itself outranks the copy."""
    said = {name: value for name, value in use.attrib.items() if name not in _OF_A_COPY}
    own = {name: value for name, value in mark.attrib.items() if name != "id"}
    moved = f"translate({use.get('x', '0')} {use.get('y', '0')})"
    both = " ".join(part for part in (moved, own.pop("transform", "")) if part)
    return Tree.Element(mark.tag, {**said, **own, "transform": both})


def _start(text: Tree.Element) -> None:
    """Put the start of a text where its anchor asks for, by the widths of its letters.

    The library sets each letter of a figure by its own width, so that sums of them are exact.
    """
    anchor, size = text.attrib.get("text-anchor"), text.get("font-size", "")
    if anchor not in _SHIFTS or "x" not in text.attrib or not size.endswith("px"):
        return
    width = width_em(text.text or "", bold=text.get("font-weight") == "600")
    start = float(text.attrib["x"]) - _SHIFTS[anchor] * width * float(size.removesuffix("px"))
    text.set("x", f"{start:.2f}")
    del text.attrib["text-anchor"]
