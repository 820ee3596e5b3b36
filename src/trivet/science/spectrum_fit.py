"""Fit a spectrum: which circuit the data ask for, and its parameters.

Arcs are added while the criterion of Schwarz (BIC) falls; it chooses the better fit, not what
can be told apart, so the split into arcs has its own rule.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from trivet.science.circuit import Circuit, Tail
from trivet.science.circuit_fit import SpectrumFit, explore, fit_circuit, refine

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

HOPELESS = 5.0
"""A rough minimum this much worse in BIC is not refined: that gains a hundredth of the sum."""


def fit(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    most_arcs: int = 2,
    tail: Tail = "warburg",
    inductance: bool = True,
    starts: int = 5,
) -> SpectrumFit:
    """Add arcs while BIC falls, then leave out tail and inductance where BIC falls.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Measured impedance, shape (N,) [ohm].
    most_arcs : int
        Arcs at most.
    tail : Tail
        The richest diffusion tail tried; simpler ones are tried too.
    inductance : bool
        Whether a lead inductance is tried.
    starts : int
        Starting points for each number of arcs.

    Raises
    ------
    FitError
        Fewer points than parameters, or an impedance whose real part is never positive.
    """
    # One arc has one peak to find: two starts do.
    best = fit_circuit(
        frequency_Hz, impedance_ohm, circuit=Circuit(1, tail, inductance), starts=min(starts, 2)
    )
    for arcs in range(2, most_arcs + 1):
        circuit = Circuit(arcs, tail, inductance)
        if len(circuit.names) > len(frequency_Hz):
            break
        found = explore(frequency_Hz, impedance_ohm, circuit=circuit, starts=starts)
        if found.bic > best.bic + HOPELESS:
            break
        richer = refine(found)
        if richer.bic >= best.bic:
            break
        best = richer
    simpler = [
        fit_circuit(
            frequency_Hz,
            impedance_ohm,
            circuit=circuit,
            starts=0,
            known_starts=[_without(best, circuit)],
        )
        for circuit in _simpler(best)
    ]
    # The circuit with fewer parameters wins a tie, whatever the order they were tried in.
    return min([best, *simpler], key=lambda one: (one.bic, len(one.parameters)))


def _simpler(known: SpectrumFit) -> list[Circuit]:
    """Give the circuits without those elements of a fit that may be superfluous.

    An element well over three standard errors from nothing is never left out by BIC, which asks
    for the square root of ln(2N), about two.
    """
    circuit = known.circuit
    inductances = [circuit.inductance]
    if circuit.inductance and not known.stands_out("L_H", 0.0):
        inductances.append(False)
    tails: list[Tail] = [circuit.tail]
    size = {"free": "tail_ohm", "warburg": "sigma_ohm_per_root_s"}.get(circuit.tail)
    if size is not None and not known.stands_out(size, 0.0):
        tails.append("none")
    if circuit.tail == "free" and not known.stands_out("tail_exponent", 0.5):
        tails.append("warburg")
    candidates = [Circuit(circuit.arcs, *pair) for pair in product(tails, inductances)]
    return [one for one in candidates if one != circuit]


def _without(known: SpectrumFit, circuit: Circuit) -> Floats:
    """Parameters of a simpler circuit, taken from a richer fit."""
    stand_in = {"sigma_ohm_per_root_s": "tail_ohm"}
    names = [n if n in known.circuit.names else stand_in[n] for n in circuit.names]
    return np.array([known.value(name) for name in names])
