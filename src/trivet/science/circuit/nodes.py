"""Nodes of a model written out: elements, nodes composed of others, and a porous line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from trivet.science.circuit.elements import ELEMENTS
from trivet.science.circuit.model import Complex, Floats


@dataclass(frozen=True)
class Part:
    """A node.

    Attributes
    ----------
    kind : str
        An element, `series` or `parallel`.
    parts : tuple of Part
        What is composed; the surface of a porous line.
    names : tuple of str
        Names of its own parameters.
    """

    kind: str
    parts: tuple[Part, ...] = ()
    names: tuple[str, ...] = ()

    def leaves(self) -> Iterator[Part]:
        """Elements in the order of their parameters."""
        if self.names:
            yield self
        for part in self.parts:
            yield from part.leaves()


def porous(ionic_ohm: float, surface: Complex, slopes: Complex) -> tuple[Complex, Complex]:
    """Impedance of a porous line and its slopes, first by ln Rion, then by those of its surface.

    Parameters
    ----------
    ionic_ohm : float
        Rion [ohm].
    surface : numpy.ndarray
        Impedance Zs of the inner surface, shape (N,) [ohm].
    slopes : numpy.ndarray
        Its slopes, shape (p, N) [ohm].

    References
    ----------
    Z = Rion coth(q)/q with q = sqrt(Rion/Zs), the transmission line of
    `trivet.science.circuit.closed_forms.porous_line`.
    """
    root = np.sqrt(ionic_ohm / surface)
    hyperbolic = 1 / np.tanh(root)
    impedance = np.asarray(ionic_ohm * hyperbolic / root, dtype=np.complex128)
    half = 0.5 * (impedance + ionic_ohm * (hyperbolic**2 - 1))
    rows = np.vstack([impedance - half, slopes * (half / surface)])
    return impedance, np.asarray(rows, dtype=np.complex128)


def direct_ohm(part: Part, values: Floats) -> float:
    """Resistance of a node to direct current, diffusion left out; infinite where it blocks [ohm].

    Parameters
    ----------
    part : Part
        The node.
    values : numpy.ndarray
        Its parameters and those of its parts, in order.
    """
    if part.kind in ELEMENTS and not part.parts:
        element = ELEMENTS[part.kind]
        return float("inf") if element.blocks else element.direct_share * float(values[0])
    at, inner = len(part.names), []
    for one in part.parts:
        size = sum(len(leaf.names) for leaf in one.leaves())
        inner.append(direct_ohm(one, values[at : at + size]))
        at += size
    if part.kind == "series":
        return sum(inner)
    if part.kind == "parallel":
        if 0.0 in inner:
            return 0.0
        conductance = sum(1 / resistance for resistance in inner)
        return 1 / conductance if conductance > 0 else float("inf")
    if not np.isfinite(inner[0]):
        return float("inf")
    root = float(np.sqrt(values[0] / inner[0]))
    return float(values[0]) / (root * float(np.tanh(root)))
