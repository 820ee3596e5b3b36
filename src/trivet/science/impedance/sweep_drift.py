"""Whether a cell stood still while its spectrum was swept, and whether the signal was small.

References
----------
A potential that moves during the sweep, a frequency that repeats otherwise, an amplitude beyond
the linear range (RT/F = 25.7 mV at 298.15 K): common practice, no source for the limits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trivet.science.impedance.spectrum import SAME_FREQUENCY, Trace
from trivet.science.impedance.verdict import Check, Limits, graded

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]


def repeat_drift_percent(frequency_Hz: Floats, *, impedance_ohm: Complex) -> float | None:
    """Largest change between two measurements of one frequency in a sweep [%].

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        In the order measured, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Shape (N,) [ohm].

    Returns
    -------
    float or None
        |Z_last - Z_first|/|Z_first|, None where no frequency was measured again after another.
    """
    changes = []
    for last in range(2, len(frequency_Hz)):
        same = np.abs(frequency_Hz[: last - 1] / frequency_Hz[last] - 1) <= SAME_FREQUENCY
        if np.any(same) and abs(frequency_Hz[last - 1] / frequency_Hz[last] - 1) > SAME_FREQUENCY:
            first = impedance_ohm[int(np.flatnonzero(same)[0])]
            changes.append(abs(impedance_ohm[last] - first) / abs(first))
    return 100 * float(max(changes)) if changes else None


def sweep_duration_s(frequency_Hz: Floats) -> float:
    """Shortest time a sweep can take: one period at each frequency [s].

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        Frequencies, shape (N,) [Hz].
    """
    return float(np.sum(1 / frequency_Hz))


def amplitude_mV(
    trace: Trace, *, current_mA: float | None, voltage_mV: float | None, cell: Trace | None
) -> float | None:
    """Largest peak voltage across a pair during the sweep [mV].

    Parameters
    ----------
    trace : Trace
        The spectrum of the pair.
    current_mA : float or None
        Peak of an exciting current [mA].
    voltage_mV : float or None
        Peak of an exciting voltage across the cell [mV].
    cell : Trace or None
        The spectrum of the cell, which with `voltage_mV` gives the current.

    Returns
    -------
    float or None
        None where the excitation is not known.
    """
    if not len(trace.frequency_Hz):
        return None
    largest = np.abs(trace.impedance_ohm)
    if current_mA is not None:
        return float(current_mA * np.max(largest))
    if voltage_mV is None or cell is None or not len(cell.frequency_Hz):
        return None
    whole = np.interp(
        np.log(trace.frequency_Hz),
        np.log(cell.frequency_Hz[::-1]),
        np.abs(cell.impedance_ohm[::-1]),
    )
    return float(voltage_mV * np.max(largest / whole))


def drift_checks(
    *,
    limits: Limits,
    repeat_percent: float | None,
    change_mV: float | None,
    peak_mV: float | None,
) -> tuple[Check, ...]:
    """Grade what moved during the sweep, and the amplitude.

    Parameters
    ----------
    limits : Limits
        Thresholds.
    repeat_percent : float or None
        Of `repeat_drift_percent` [%].
    change_mV : float or None
        Potential of the pair after the sweep less before it [mV].
    peak_mV : float or None
        Of `amplitude_mV` [mV].
    """
    return (
        graded(
            "repeated frequency",
            repeat_percent,
            suspect=limits.repeat_suspect_percent,
            rejected=limits.repeat_rejected_percent,
            text="drift between two measurements of one frequency",
            unit="%",
            void="no frequency was measured twice",
        ),
        graded(
            "potential before and after",
            None if change_mV is None else abs(change_mV),
            suspect=limits.sweep_change_suspect_mV,
            rejected=limits.sweep_change_rejected_mV,
            text="potential moved during the sweep by",
            unit="mV",
            void="no rest right before and after the sweep in the cycling rows",
        ),
        graded(
            "amplitude",
            peak_mV,
            suspect=limits.amplitude_suspect_mV,
            rejected=limits.amplitude_rejected_mV,
            text="peak voltage of the excitation",
            unit="mV",
            void="the settings do not say the excitation",
        ),
    )
