"""Fewer elements in a figure: markers become paths, and like paths one after another become one."""

from __future__ import annotations

import re
from xml.etree import ElementTree as Tree

SVG = "http://www.w3.org/2000/svg"
LINK = "http://www.w3.org/1999/xlink"
_PATH, _USE, _DEFS, _GROUP = (f"{{{SVG}}}{name}" for name in ("path", "use", "defs", "g"))
_HREF = f"{{{LINK}}}href"
_TOKEN = re.compile(r"[A-Za-z]|-?\d+(?:\.\d+)?(?:e-?\d+)?")
_MOVED = frozenset("MLCQz")
"""Commands whose numbers are pairs of absolute coordinates."""
_CIRCLE = 0.5523
"""Distance of the control points of a quarter circle, over the radius: the curve's middle lies on
the circle at 4/3 (sqrt(2) - 1), which follows from that condition."""
_SEE_THROUGH = ("opacity", "fill-opacity", "stroke-opacity")


def join(root: Tree.Element) -> None:
    """Turn uses of a marker into paths, then join neighbours that look the same.

    A page layout spends most of its time for a figure on the number of its elements. The picture
    stays the same, but for markers of one series that overlap: their outlines show through.

    Parameters
    ----------
    root : xml.etree.ElementTree.Element
        The figure; style texts must have become attributes. It is changed in place.
    """
    markers = _markers(root)
    for parent in list(root.iter()):
        for place, child in enumerate(list(parent)):
            if child.tag == _USE and child.get(_HREF, "")[1:] in markers:
                parent[place] = _placed(child, markers[child.get(_HREF, "")[1:]])
    _drop_unused(root)
    for parent in root.iter():
        if parent.tag != _DEFS:
            _join_groups(parent)
            _join_paths(parent)


def _markers(root: Tree.Element) -> dict[str, Tree.Element]:
    """Paths of definitions that can be moved, by their names."""
    found = {}
    for defs in root.iter(_DEFS):
        for path in defs.findall(_PATH):
            shape = path.get("d", "")
            if set(re.findall(r"[A-Za-z]", shape)) <= _MOVED and not path.get("transform"):
                path.set("d", _simpler(shape))
                found[path.get("id", "")] = path
    return found


def _simpler(shape: str) -> str:
    """Circle of eight curves as one of four; any other shape as it is."""
    letters = "".join(re.findall(r"[A-Za-z]", shape))
    numbers = [float(token) for token in _TOKEN.findall(shape) if not token.isalpha()]
    if letters not in ("MCCCCCCCCz", "MCCCCCCCC") or numbers[0]:
        return shape
    r = numbers[1]
    k = _CIRCLE * r
    return (
        f"M 0 {r} C {k} {r} {r} {k} {r} 0 C {r} {-k} {k} {-r} 0 {-r} "
        f"C {-k} {-r} {-r} {-k} {-r} 0 C {-r} {k} {-k} {r} 0 {r} z"
    )


def _placed(use: Tree.Element, marker: Tree.Element) -> Tree.Element:
    """Path of a marker at the place of its use; what the marker says of itself wins."""
    given = {name: value for name, value in use.items() if name not in (_HREF, "x", "y")}
    own = {name: value for name, value in marker.items() if name not in ("id", "d")}
    moved = _moved(marker.get("d", ""), float(use.get("x", "0")), float(use.get("y", "0")))
    return Tree.Element(_PATH, {**given, **own, "d": moved})


def _moved(path: str, right: float, down: float) -> str:
    """Path with every point moved."""
    words, shifts, turn = [], (right, down), 0
    for token in _TOKEN.findall(path):
        if token.isalpha():
            words.append(token)
            turn = 0
        else:
            words.append(f"{float(token) + shifts[turn % 2]:.2f}")
            turn += 1
    return " ".join(words)


def _drop_unused(root: Tree.Element) -> None:
    """Take away definitions of paths that nothing uses, and definitions without content."""
    used = {use.get(_HREF, "")[1:] for use in root.iter(_USE)}
    for parent in list(root.iter()):
        for defs in parent.findall(_DEFS):
            for path in defs.findall(_PATH):
                if path.get("id") not in used:
                    defs.remove(path)
            if not len(defs):
                parent.remove(defs)


def _join_groups(parent: Tree.Element) -> None:
    """Join neighbouring groups of the same attributes, such as markers clipped one by one."""
    kept: list[Tree.Element] = []
    for child in parent:
        last = kept[-1] if kept else None
        if last is not None and child.tag == last.tag == _GROUP and child.attrib == last.attrib:
            last.extend(list(child))
        else:
            kept.append(child)
    parent[:] = kept


def _join_paths(parent: Tree.Element) -> None:
    """Join neighbouring paths of the same look; see-through ones stay, since they would blend."""
    kept: list[Tree.Element] = []
    for child in parent:
        last = kept[-1] if kept else None
        if last is not None and child.tag == last.tag == _PATH and _look(child) == _look(last):
            last.set("d", f"{last.get('d', '')} {child.get('d', '')}")
        else:
            kept.append(child)
    parent[:] = kept


def _look(path: Tree.Element) -> dict[str, str] | int:
    """All attributes but name and shape; never equal where the path is seen through."""
    if any(name in path.attrib for name in _SEE_THROUGH):
        return id(path)
    return {name: value for name, value in path.items() if name not in ("id", "d")}
