"""A model written out node by node: elements, nodes in series, nodes in parallel.

Every node gives its impedance and the slopes by its fitted parameters; series and parallel put
them together by the chain rule, so that any composition has an analytic Jacobian.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from trivet.science.circuit.elements import ELEMENTS, proposed, spans
from trivet.science.circuit.model import Complex, Flags, Floats, Grid, Guess, cut
from trivet.science.circuit.nodes import Part, direct_ohm, porous

STEP = 1e-6
"""Step of the central difference by which the direct-current resistance is differentiated."""


@dataclass(frozen=True)
class TreeCircuit:
    """A model written out; behaves as `trivet.science.circuit.model.Model`."""

    root: Part

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters with their units, in order."""
        return tuple(name for leaf in self.root.leaves() for name in leaf.names)

    @cached_property
    def kinds(self) -> tuple[str, ...]:
        """Kind of each parameter, as its element names it."""
        return tuple(kind for leaf in self.root.leaves() for kind in ELEMENTS[leaf.kind].kinds)

    @cached_property
    def logarithmic(self) -> Flags:
        """Which parameters are fitted as logarithms, shape (p,)."""
        return np.array([kind != "n" for kind in self.kinds])

    @cached_property
    def label(self) -> str:
        """The circuit in words of the report, e.g. `R + (R | CPE) + W`."""
        return _label(self.root)

    @cached_property
    def arc_places(self) -> tuple[int, ...]:
        """Position of the width of every arc in the outermost series."""
        outermost = {id(part) for part in _outermost(self.root) if part.kind == "arc"}
        places, at = [], 0
        for leaf in self.root.leaves():
            if id(leaf) in outermost:
                places.append(at)
            at += len(leaf.names)
        return tuple(places)

    @cached_property
    def slots(self) -> int:
        """Time constants that a start must place."""
        return sum(_has_time(leaf, self._tails) for leaf in self.root.leaves())

    @cached_property
    def has_tail(self) -> bool:
        """Whether there is a diffusion tail."""
        return any(ELEMENTS[leaf.kind].diffuses for leaf in self.root.leaves())

    @cached_property
    def _tails(self) -> frozenset[int]:
        """Blocking elements of the outermost series: they stand for diffusion."""
        outermost = [part for part in _outermost(self.root) if part.kind in ELEMENTS]
        return frozenset(id(part) for part in outermost if ELEMENTS[part.kind].blocks)

    def inner(self, parameters: Floats) -> Floats:
        """Parameters as fitted: logarithms but for the exponents, shape (p,)."""
        values = np.array(parameters, dtype=np.float64)
        values[self.logarithmic] = np.log(values[self.logarithmic])
        return values

    def outer(self, inner: Floats) -> Floats:
        """Parameters in their units from those fitted, shape (p,)."""
        return np.where(self.logarithmic, np.exp(cut(inner)), inner)

    def impedance_and_slopes(self, grid: Grid, inner: Floats) -> tuple[Complex, Complex]:
        """Impedance, shape (N,), and its derivatives by the fitted parameters, shape (p, N)."""
        impedance, slopes, _ = _evaluated(self.root, grid, self.outer(inner), 0)
        return impedance, slopes

    def impedance(self, frequency_Hz: Floats, parameters: Floats) -> Complex:
        """Impedance at frequencies, shape (N,) [ohm]."""
        return self.impedance_and_slopes(Grid(frequency_Hz), self.inner(parameters))[0]

    def bounds(self, frequency_Hz: Floats, impedance_ohm: Complex) -> tuple[Floats, Floats]:
        """Lowest and highest value of each fitted parameter, shape (p,) each."""
        by_kind = spans(frequency_Hz, impedance_ohm)
        low, high = zip(*(by_kind[kind] for kind in self.kinds), strict=True)
        return self.inner(np.array(low)), self.inner(np.array(high))

    def start(self, guess: Guess) -> Floats:
        """Parameters to start from, in their units, shape (p,)."""
        times = list(guess.time_constants_s)
        width = guess.width_ohm / max(self.slots, 1)
        values: list[float] = []
        for leaf in self.root.leaves():
            time = times.pop(0) if _has_time(leaf, self._tails) else guess.slowest_s
            resistance = guess.ohmic_ohm if leaf.names == ("R0_ohm",) else width
            by_kind = proposed(
                guess,
                resistance_ohm=resistance,
                width_ohm=width,
                time_s=time,
                tail=id(leaf) in self._tails,
            )
            values += [by_kind[kind] for kind in ELEMENTS[leaf.kind].kinds]
        return np.array(values)

    def polarisation(self, parameters: Floats) -> tuple[float, Floats]:
        """Resistance to direct current without the ohmic part and diffusion, and its slopes.

        Infinite where the outermost nodes let no direct current through.
        """
        inner = self.inner(parameters)

        def at(place: Floats) -> float:
            return _direct(self.root, self.outer(place), self._tails)

        slopes, found = np.zeros(len(inner)), at(inner)
        for which in range(len(inner) if np.isfinite(found) else 0):
            step = np.zeros(len(inner))
            step[which] = STEP
            slopes[which] = (at(inner + step) - at(inner - step)) / (2 * STEP)
        return found, slopes


def build_circuit(node: Mapping[str, Any]) -> TreeCircuit:
    """Compose a model from nodes.

    Parameters
    ----------
    node : mapping
        With one of `element` (a name), `series` and `parallel` (lists of nodes); a porous line
        has a `surface` (a node) too.

    Returns
    -------
    TreeCircuit
        The first resistor of the outermost series is R0, the first inductor L; the other
        elements are numbered in order.
    """
    return TreeCircuit(_named(_shape(node)))


def _shape(node: Mapping[str, Any]) -> Part:
    """The node without names."""
    for name in ("series", "parallel"):
        if node.get(name):
            return Part(name, tuple(_shape(part) for part in node[name]))
    surface = node.get("surface")
    return Part(str(node["element"]), (_shape(surface),) if surface else ())


def _named(root: Part) -> Part:
    """Name the parameters of every element, in order."""
    ohmic = next((part for part in _outermost(root) if part.kind == "resistor"), None)
    used: dict[str, int] = {"number": 0, "inductors": 0}

    def named(part: Part) -> Part:
        names: tuple[str, ...] = ()
        if part.kind == "inductor":
            used["inductors"] += 1
            names = ("L_H" if used["inductors"] == 1 else f"L{used['inductors']}_H",)
        elif part is ohmic:
            names = ("R0_ohm",)
        elif part.kind in ELEMENTS:
            used["number"] += 1
            names = tuple(name.format(used["number"]) for name in ELEMENTS[part.kind].names)
        return replace(part, names=names, parts=tuple(named(inner) for inner in part.parts))

    return named(root)


def _outermost(root: Part) -> tuple[Part, ...]:
    """Nodes of the outermost series, series within series laid flat."""
    if root.kind != "series":
        return (root,)
    return tuple(inner for part in root.parts for inner in _outermost(part))


def _has_time(leaf: Part, tails: frozenset[int]) -> bool:
    """Whether a start must give an element a time constant."""
    return id(leaf) not in tails and ELEMENTS[leaf.kind].starts_at_time


def _label(part: Part) -> str:
    """A node in words."""
    if part.kind == "series":
        return " + ".join(_label(inner) for inner in part.parts)
    if part.kind == "parallel":
        inside = [f"({_label(p)})" if p.kind == "series" else _label(p) for p in part.parts]
        return f"({' | '.join(inside)})"
    name = "R0" if part.names == ("R0_ohm",) else ELEMENTS[part.kind].label
    return f"{name}({_label(part.parts[0])})" if part.parts else name


def _evaluated(part: Part, grid: Grid, values: Floats, at: int) -> tuple[Complex, Complex, int]:
    """Impedance and slopes of a node whose parameters start at a position, and where they end."""
    own = values[at : at + len(part.names)]
    at += len(part.names)
    if part.kind not in ("series", "parallel", "porous line"):
        impedance, slopes = ELEMENTS[part.kind].evaluate(grid, own)
        return impedance, slopes, at
    inner: list[tuple[Complex, Complex]] = []
    for one in part.parts:
        impedance, slopes, at = _evaluated(one, grid, values, at)
        inner.append((impedance, slopes))
    if part.kind == "porous line":
        impedance, slopes = porous(float(own[0]), *inner[0])
        return impedance, slopes, at
    if part.kind == "series":
        total = np.sum([impedance for impedance, _ in inner], axis=0)
        return total, np.concatenate([slopes for _, slopes in inner]), at
    total = 1 / np.sum([1 / impedance for impedance, _ in inner], axis=0)
    shares = [slopes * (total / impedance) ** 2 for impedance, slopes in inner]
    return total, np.concatenate(shares), at


def _direct(root: Part, values: Floats, tails: frozenset[int]) -> float:
    """Resistance to direct current of the outermost nodes but resistors and tails [ohm]."""
    total, at = 0.0, 0
    for part in _outermost(root):
        size = sum(len(leaf.names) for leaf in part.leaves())
        if part.kind != "resistor" and id(part) not in tails:
            total += direct_ohm(part, values[at : at + size])
        at += size
    return total
