"""A figure as the PDF takes it: the same picture in fewer and simpler elements.

The library that makes the PDF looks every copied mark up anew, reads each path letter by letter,
sets the state of its pen for each element, and keeps a part of its own for each text that does not
start where it stands. Marks that stand where they are drawn, as circles and lines rather than
paths, and neighbours of one pen drawn as one, take half of its time and a tenth of its file.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree as Tree

from trivet.report.frame.column_widths import width_em
from trivet.report.frame.compact_svg import LINK, SVG
from trivet.report.frame.marks import CELL, GROUPS

_HREF = f"{{{LINK}}}href"
_OF_A_COPY = (_HREF, "x", "y", CELL, GROUPS)
_SHIFTS = {"start": 0.0, "middle": 0.5, "end": 1.0}
_PART = re.compile(r"[A-Za-z]|-?[\d.]+(?:e-?\d+)?")
_PATH, _USE, _TEXT = (f"{{{SVG}}}{tag}" for tag in ("path", "use", "text"))
_CORNERS_OF_A_CIRCLE = 8
_ROUNDED = 0.015
"""How far a point can lie from its place in a figure of two decimals, both ways [pt]."""
_SEPARATE = {"id", "opacity", "stroke-opacity", "clip-path", "transform"}
"""What makes two lines drawn one after the other unlike one line of both."""

Point = tuple[float, float]


@dataclass(frozen=True)
class _Step:
    """A step of a path.

    Attributes
    ----------
    letter : str
        Kind of step: `M`, `L`, `C`, `Q` or `z`.
    points : tuple of (float, float)
        Its points; the last is where the step ends [pt].
    """

    letter: str
    points: tuple[Point, ...]


def paper_svg(svg: bytes) -> bytes:
    """Write copied marks out, start texts where they start, drop what only the web page needs.

    Parameters
    ----------
    svg : bytes
        The figure as kept in its own file.
    """
    root = Tree.fromstring(svg)
    named = {node.attrib["id"]: node for node in root.iter() if "id" in node.attrib}
    read = {name: _steps(node.attrib["d"]) for name, node in named.items() if node.tag == _PATH}
    for parent in list(root.iter()):
        for name in (CELL, GROUPS):
            parent.attrib.pop(name, None)
        for place, node in enumerate(list(parent)):
            if node.tag == _USE:
                name = node.attrib[_HREF][1:]
                parent[place] = _written_out(node, named[name], read[name])
            elif node.tag == _TEXT:
                _start(node)
    for parent in list(root.iter()):
        _draw_at_once(parent)
    return Tree.tostring(root, encoding="unicode").encode()


def _steps(path: str) -> tuple[_Step, ...]:
    """Steps of a path, all of whose letters are capitals.

    Raises
    ------
    ValueError
        A letter that marks of figures don't have: a change of the drawing library.
    """
    steps: list[_Step] = []
    letter, numbers = "", list[float]()
    for part in [*_PART.findall(path), "end"]:
        if part[0].isalpha():
            if letter:
                steps.append(_Step(letter, tuple(zip(numbers[::2], numbers[1::2], strict=True))))
            if part not in ("M", "L", "C", "Q", "z", "end"):
                raise ValueError(f"unknown step '{part}' of a mark: {path}")
            letter, numbers = part, []
        else:
            numbers.append(float(part))
    return tuple(steps)


def _written_out(use: Tree.Element, mark: Tree.Element, steps: tuple[_Step, ...]) -> Tree.Element:
    """A mark in the place of its copy; what the mark says of itself outranks the copy."""
    said = {name: value for name, value in use.attrib.items() if name not in _OF_A_COPY}
    own = {name: value for name, value in mark.attrib.items() if name not in ("id", "d")}
    at = float(use.get("x", "0")), float(use.get("y", "0"))
    if "transform" in own:
        own["transform"] = f"translate({at[0]} {at[1]}) {own['transform']}"
        at = (0.0, 0.0)
    tag, geometry = _drawn(steps, at)
    return Tree.Element(f"{{{SVG}}}{tag}", {**said, **own, **geometry})


def _drawn(steps: tuple[_Step, ...], at: Point) -> tuple[str, dict[str, str]]:
    """Element and attributes that draw a mark at a place."""
    radius = _radius(steps)
    if radius is not None:
        return "circle", {"cx": f"{at[0]:.2f}", "cy": f"{at[1]:.2f}", "r": f"{radius:.2f}"}
    parts = (
        step.letter + " ".join(f"{x + at[0]:.2f} {y + at[1]:.2f}" for x, y in step.points)
        for step in steps
    )
    return "path", {"d": "".join(parts)}


def _radius(steps: tuple[_Step, ...]) -> float | None:
    """Radius of a mark that is a circle around its place [pt]; `None` for any other."""
    letters = "".join(step.letter for step in steps)
    if letters != "M" + "C" * _CORNERS_OF_A_CIRCLE + "z":
        return None
    corners = [step.points[-1] for step in steps[:-1]]
    radius = math.hypot(*corners[0])
    turns = (math.remainder(math.atan2(*one) - math.atan2(*other), 2 * math.pi)
             for one, other in pairwise(corners))  # fmt: skip
    step_rad = 2 * math.pi / _CORNERS_OF_A_CIRCLE
    alike = all(abs(math.hypot(*corner) - radius) < _ROUNDED for corner in corners)
    even = all(abs(abs(turn) - step_rad) * radius < 2 * _ROUNDED for turn in turns)
    return radius if alike and even else None


def _draw_at_once(parent: Tree.Element) -> None:
    """Join open lines of one pen that follow each other: in one opaque colour, the same picture."""
    children: list[Tree.Element] = []
    last: dict[str, str] | None = None
    for node in parent:
        pen = _pen(node)
        if pen is not None and pen == last:
            children[-1].set("d", children[-1].attrib["d"] + node.attrib["d"])
            continue
        if pen is not None:
            node.set("fill", "none")
        children.append(node)
        last = pen
    if len(children) < len(parent):
        parent[:] = children


def _pen(node: Tree.Element) -> dict[str, str] | None:
    """What a line is drawn with; `None` for what is no opaque line without area."""
    path = node.get("d", "")
    if node.tag != _PATH or not path or set(path) & set("CQz") or set(node.attrib) & _SEPARATE:
        return None
    if node.get("fill") != "none" and path.count("L") > 1:
        return None
    return {name: value for name, value in node.attrib.items() if name not in ("d", "fill")}


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
