"""Fit a spectrum: which circuit the data ask for, and its parameters.

Arcs are added while the criterion of Schwarz (BIC) falls; it chooses the better fit, not what
can be told apart, so the split into arcs has its own rule.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from trivet.science.circuit.arcs import Circuit, Tail
from trivet.science.circuit.fit import Explored, SpectrumFit, explore, fit_circuit
from trivet.science.circuit.model import Model
from trivet.science.circuit.tree import TreeCircuit

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

HOPELESS = 5.0
"""A rough minimum this much worse in BIC is not refined: that gains a hundredth of the sum."""

CAUTIOUS_GAIN = 10.0
"""Where one arc is expected, another must lower BIC by more than this; common practice."""

INADEQUATE = 3.0
"""A fit so many times worse than the linear test has a wrong model; common practice."""
SMALLEST_SCATTER_PERCENT = 0.05
"""Misfits below three times this are of no consequence, however clean the data."""
BETTER = 0.9
"""A circuit that lowers the misfit to this share follows the data better."""

FARTHEST_JUMP = 3.0
"""Time constants of consecutive spectra further apart are no longer the same process."""


def fit(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    most_arcs: int = 2,
    tail: Tail = "warburg",
    inductance: bool = True,
    starts: int = 5,
    cautious: bool = False,
    neighbour: SpectrumFit | None = None,
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
    cautious : bool
        Whether another arc must lower BIC by more than 10 and leave a split that may be read,
        as for lithium, which shows one arc.
    neighbour : SpectrumFit or None
        Fit of the last spectrum of the same pair: one more start where the circuit is the same.

    Raises
    ------
    FitError
        Fewer points than parameters, or an impedance whose real part is never positive.
    """
    circuit = Circuit(1, tail, inductance)
    # One arc has one peak to find: two starts do.
    best = explore(
        frequency_Hz,
        impedance_ohm,
        circuit=circuit,
        starts=min(starts, 2),
        known_starts=_of_neighbour(neighbour, circuit),
    )
    for arcs in range(2, most_arcs + 1):
        richer_circuit = Circuit(arcs, tail, inductance)
        if len(richer_circuit.names) > len(frequency_Hz):
            break
        richer = explore(
            frequency_Hz,
            impedance_ohm,
            circuit=richer_circuit,
            starts=starts,
            known_starts=_of_neighbour(neighbour, richer_circuit),
        )
        if not _is_better(richer, best, cautious=cautious):
            break
        best, circuit = richer, richer_circuit
    found = best.refined
    simpler = [
        fit_circuit(
            frequency_Hz,
            impedance_ohm,
            circuit=simple,
            starts=0,
            known_starts=[_without(found, simple)],
        )
        for simple in _simpler(found, circuit)
    ]
    # The circuit with fewer parameters wins a tie, whatever the order they were tried in.
    return min([found, *simpler], key=lambda one: (one.bic, len(one.parameters)))


def _is_better(richer: Explored, best: Explored, *, cautious: bool) -> bool:
    """Whether one more arc is taken; minima are refined only where rough ends do not decide."""
    if richer.bic > best.bic + HOPELESS:
        return False
    if cautious:
        gain = best.refined.bic - richer.refined.bic
        return gain > CAUTIOUS_GAIN and not richer.refined.split_refused
    if richer.bic < best.bic - HOPELESS:
        return True
    return richer.refined.bic < best.refined.bic


def fit_written(
    frequency_Hz: Floats,
    impedance_ohm: Complex,
    *,
    circuit: TreeCircuit,
    starts: int = 5,
    neighbour: SpectrumFit | None = None,
) -> SpectrumFit:
    """Fit a model that the user wrote out, as it stands.

    Parameters
    ----------
    frequency_Hz, impedance_ohm, starts, neighbour
        As in `fit`.
    circuit : TreeCircuit
        The model.

    Raises
    ------
    FitError
        Fewer points than parameters, or an impedance whose real part is never positive.
    """
    known = _of_neighbour(neighbour, circuit)
    return fit_circuit(
        frequency_Hz, impedance_ohm, circuit=circuit, starts=starts, known_starts=known
    )


def with_model_error(
    fitted: SpectrumFit, frequency_Hz: Floats, impedance_ohm: Complex, *, scatter_percent: float
) -> SpectrumFit:
    """Widen the error of the polarisation resistance where the model does not fit.

    Parameters
    ----------
    fitted : SpectrumFit
        The fit.
    frequency_Hz, impedance_ohm : numpy.ndarray
        What it was fitted to, shape (N,) [Hz, ohm].
    scatter_percent : float
        Root mean square of the residuals of a model that follows any linear system [%].

    Returns
    -------
    SpectrumFit
        The same where the model follows the data nearly as well as such a one, within
        `INADEQUATE`. Else the standard error has, beside its own, the farthest that the resistance
        moves in circuits with one more arc or a freer tail that follow the data better: what one
        wrong model says is known no better than to where the next one puts it.
    """
    circuit, error = fitted.circuit, fitted.polarisation_resistance_se_ohm
    adequate = fitted.rms_percent <= INADEQUATE * max(scatter_percent, SMALLEST_SCATTER_PERCENT)
    if adequate or error is None or not isinstance(circuit, Circuit):
        return fitted
    richer = [Circuit(circuit.arcs + 1, circuit.tail, circuit.inductance)]
    if circuit.tail != "free":
        richer.append(Circuit(circuit.arcs, "free", circuit.inductance))
    moved = 0.0
    for other in richer:
        if len(other.names) > len(frequency_Hz):
            continue
        found = fit_circuit(frequency_Hz, impedance_ohm, circuit=other, starts=3)
        if found.rms_percent < BETTER * fitted.rms_percent:
            change = found.polarisation_resistance_ohm - fitted.polarisation_resistance_ohm
            moved = max(moved, abs(change))
    wider = float(np.hypot(error, moved)) if np.isfinite(moved) else error
    return replace(fitted, polarisation_resistance_se_ohm=wider)


def with_jumps(fitted: SpectrumFit, neighbour: SpectrumFit | None) -> SpectrumFit:
    """Refuse the split where an arc peaks elsewhere than in the last spectrum of the pair.

    Parameters
    ----------
    fitted : SpectrumFit
        The fit.
    neighbour : SpectrumFit or None
        That of the last spectrum.

    Returns
    -------
    SpectrumFit
        The same numbers; more reasons where an arc moved by more than a factor of three, so
        that it may not be the same process (common practice, no source).
    """
    if neighbour is None or neighbour.circuit != fitted.circuit or len(fitted.parameters) == 0:
        return fitted
    jumps = []
    for at in fitted.circuit.arc_places:
        before, now = float(neighbour.parameters[at + 1]), float(fitted.parameters[at + 1])
        if max(before / now, now / before) > FARTHEST_JUMP:
            name = fitted.circuit.names[at + 1]
            jumps.append(f"{name} went from {before:.3g} to {now:.3g} s since the last spectrum")
    more = jumps if len(fitted.circuit.arc_places) > 1 else []
    return replace(fitted, split_refused=(*fitted.split_refused, *more))


def _of_neighbour(neighbour: SpectrumFit | None, circuit: Model) -> list[Floats]:
    """Parameters of the last spectrum, where it has the same circuit."""
    if neighbour is None or neighbour.circuit != circuit:
        return []
    return [neighbour.parameters]


def _simpler(known: SpectrumFit, circuit: Circuit) -> list[Circuit]:
    """Give the circuits without those elements of a fit that may be superfluous.

    An element well over three standard errors from nothing is never left out by BIC, which asks
    for the square root of ln(2N), about two.
    """
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
