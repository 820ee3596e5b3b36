"""Elements of a model written out: impedance, slopes by the fitted parameters, direct current.

References
----------
Elements as in `trivet.science.circuit.elements`; the slopes are own derivations, checked against
finite differences. With x = sqrt(jw tau): d(coth x/x)/dln tau = -(coth x/x + 1/sinh^2 x)/2, and
d(tanh x/x)/dln tau = (1/cosh^2 x - tanh x/x)/2.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from trivet.science.circuit.model import Complex, Floats, Grid


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


@dataclass(frozen=True)
class Leaf:
    """An element: its sign in labels, patterns of its names, kinds of its parameters, values."""

    label: str
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    evaluate: Callable[[Grid, Floats], tuple[Complex, Complex]]


def _resistor(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R."""
    impedance = np.full(len(grid.logarithm), own[0], dtype=np.complex128)
    return impedance, impedance[None, :]


def _capacitor(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """1/(jwC)."""
    impedance = 1 / (own[0] * grid.laplace_rad_s)
    return impedance, -impedance[None, :]


def _inductor(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """The inductance times jw."""
    impedance = own[0] * grid.laplace_rad_s
    return impedance, impedance[None, :]


def _constant_phase(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """1/(Q (jw)^n)."""
    impedance = np.exp(-own[1] * grid.logarithm) / own[0]
    return impedance, np.stack([-impedance, -impedance * grid.logarithm])


def _arc(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R/(1 + (jw tau)^n)."""
    logarithm = grid.logarithm + np.log(own[1])
    share = 1 / (1 + np.exp(own[2] * logarithm))
    impedance = own[0] * share
    falling = impedance * (share - 1)
    return impedance, np.stack([impedance, falling * own[2], falling * logarithm])


def _warburg(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """The coefficient times (1 - j)/sqrt(w)."""
    impedance = own[0] * grid.diffusion
    return impedance, impedance[None, :]


def _warburg_open(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R coth(x)/x."""
    root = np.sqrt(grid.laplace_rad_s * own[1])
    hyperbolic = 1 / np.tanh(root)
    impedance = own[0] * hyperbolic / root
    slope = -0.5 * (impedance + own[0] * (hyperbolic**2 - 1))
    return impedance, np.stack([impedance, slope])


def _warburg_short(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R tanh(x)/x."""
    root = np.sqrt(grid.laplace_rad_s * own[1])
    hyperbolic = np.tanh(root)
    impedance = own[0] * hyperbolic / root
    return impedance, np.stack([impedance, 0.5 * (own[0] * (1 - hyperbolic**2) - impedance)])


def _gerischer(grid: Grid, own: Floats) -> tuple[Complex, Complex]:
    """R/sqrt(1 + jw tau)."""
    product = grid.laplace_rad_s * own[1]
    impedance = own[0] / np.sqrt(1 + product)
    return impedance, np.stack([impedance, -0.5 * impedance * product / (1 + product)])


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
    `trivet.science.circuit.elements.porous_line`.
    """
    root = np.sqrt(ionic_ohm / surface)
    hyperbolic = 1 / np.tanh(root)
    impedance = np.asarray(ionic_ohm * hyperbolic / root, dtype=np.complex128)
    half = 0.5 * (impedance + ionic_ohm * (hyperbolic**2 - 1))
    rows = np.vstack([impedance - half, slopes * (half / surface)])
    return impedance, np.asarray(rows, dtype=np.complex128)


LEAVES: dict[str, Leaf] = {
    "resistor": Leaf("R", ("R{}_ohm",), ("R",), _resistor),
    "capacitor": Leaf("C", ("C{}_F",), ("C",), _capacitor),
    "inductor": Leaf("L", ("L{}_H",), ("L",), _inductor),
    "constant phase": Leaf("CPE", ("Q{}_S_s_n", "n{}"), ("Q", "n"), _constant_phase),
    "arc": Leaf("ZARC", ("R{}_ohm", "tau{}_s", "n{}"), ("R", "tau", "n"), _arc),
    "warburg": Leaf("W", ("sigma{}_ohm_per_root_s",), ("sigma",), _warburg),
    "warburg open": Leaf("W open", ("R{}_ohm", "tau{}_s"), ("R", "slow"), _warburg_open),
    "warburg short": Leaf("W short", ("R{}_ohm", "tau{}_s"), ("R", "slow"), _warburg_short),
    "gerischer": Leaf("G", ("R{}_ohm", "tau{}_s"), ("R", "tau"), _gerischer),
    "porous line": Leaf("porous", ("R{}_ohm",), ("R",), _resistor),
}
"""Elements by name; a porous line is put together by `porous`."""
KINDS: dict[str, tuple[str, ...]] = {name: leaf.kinds for name, leaf in LEAVES.items()}
"""Kinds of the parameters of each element."""


def direct_ohm(part: Part, values: Floats) -> float:
    """Resistance of a node to direct current, diffusion left out; infinite where it blocks [ohm].

    Parameters
    ----------
    part : Part
        The node.
    values : numpy.ndarray
        Its parameters and those of its parts, in order.
    """
    if part.kind in _DIRECT:
        share, blocks = _DIRECT[part.kind]
        return float("inf") if blocks else share * float(values[0])
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


_DIRECT = {
    "resistor": (1.0, False),
    "arc": (1.0, False),
    "gerischer": (1.0, False),
    "inductor": (0.0, False),
    "warburg": (0.0, False),
    "warburg open": (0.0, False),
    "warburg short": (0.0, False),
    "capacitor": (0.0, True),
    "constant phase": (0.0, True),
}
"""Share of its first parameter that an element is to direct current, and whether it blocks."""
