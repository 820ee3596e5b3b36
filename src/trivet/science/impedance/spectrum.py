"""What a spectrum says without a model: which points count, sign, headline, additivity.

References
----------
Kirchhoff's rule: Z_cell = Z_positive + Z_negative with Z_negative = -dE_negative/dI; it holds
for any place of the reference, so additivity says nothing of that place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
Rows = NDArray[np.int64]

SAME_FREQUENCY = 1e-3
"""Frequencies of two pairs this near, relatively, are the same frequency."""


@dataclass(frozen=True)
class Trace:
    """Impedance of one pair.

    Attributes
    ----------
    frequency_Hz : numpy.ndarray
        Falling, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        Shape (N,) [ohm].
    """

    frequency_Hz: Floats
    impedance_ohm: Complex


@dataclass(frozen=True)
class Headline:
    """The two numbers that need no model.

    Attributes
    ----------
    points : int
        Frequencies used.
    high_frequency_resistance_ohm : float or None
        Real part where the imaginary part is zero, or the stand-in that `method` names [ohm].
    method : str
        How it was found; empty without points.
    polarisation_at_1_hz_ohm : float or None
        Real part at 1 Hz less that; None where 1 Hz lies outside the frequencies [ohm].
    characteristic_frequency_Hz : float or None
        Where -Z'' has its largest peak; None where it has none [Hz].
    """

    points: int
    high_frequency_resistance_ohm: float | None
    method: str
    polarisation_at_1_hz_ohm: float | None
    characteristic_frequency_Hz: float | None


@dataclass(frozen=True)
class Sorted:
    """Rows of a spectrum by what becomes of them; every row stands in exactly one.

    Attributes
    ----------
    used : numpy.ndarray
        Rows that count, by falling frequency.
    invalid : numpy.ndarray
        Rows without a positive frequency or with a zero or infinite impedance.
    outside : numpy.ndarray
        Rows outside the window of frequencies.
    copies : numpy.ndarray
        Rows that repeat the frequency and impedance of an earlier row exactly.
    """

    used: Rows
    invalid: Rows
    outside: Rows
    copies: Rows


def sort_rows(
    frequency_Hz: Floats,
    *,
    impedance_ohm: Complex,
    lowest_Hz: float,
    highest_Hz: float,
) -> Sorted:
    """Put the rows of a spectrum in order and tell which do not count.

    Parameters
    ----------
    frequency_Hz : numpy.ndarray
        As read, shape (N,) [Hz].
    impedance_ohm : numpy.ndarray
        As read, shape (N,) [ohm].
    lowest_Hz, highest_Hz : float
        Window of frequencies, ends included [Hz].

    Notes
    -----
    A second measurement at the same frequency is kept: it is evidence. An exact copy is not.
    """
    valid = np.isfinite(frequency_Hz) & (frequency_Hz > 0)
    valid &= np.isfinite(impedance_ohm) & (np.abs(impedance_ohm) > 0)
    inside = valid & (frequency_Hz >= lowest_Hz) & (frequency_Hz <= highest_Hz)
    seen: set[tuple[float, complex]] = set()
    first: list[int] = []
    copies: list[int] = []
    for row in np.flatnonzero(inside):
        key = (float(frequency_Hz[row]), complex(impedance_ohm[row]))
        (copies if key in seen else first).append(int(row))
        seen.add(key)
    kept = np.array(first, dtype=np.int64)
    return Sorted(
        used=kept[np.argsort(-frequency_Hz[kept], kind="stable")],
        invalid=np.flatnonzero(~valid),
        outside=np.flatnonzero(valid & ~inside),
        copies=np.array(copies, dtype=np.int64),
    )


def is_negated(impedance_ohm: Complex) -> bool:
    """Whether a spectrum comes wholly negated: nearly every real part is below zero.

    Parameters
    ----------
    impedance_ohm : numpy.ndarray
        Shape (N,) [ohm].
    """
    return len(impedance_ohm) > 0 and float(np.mean(impedance_ohm.real < 0)) > 0.9


def headline(trace: Trace) -> Headline:
    """High-frequency resistance and polarisation at 1 Hz, without a model.

    Parameters
    ----------
    trace : Trace
        The spectrum; inductive points at its upper end (Z'' > 0) are expected, the crossing is
        interpolated linearly in Z''. Without a crossing the smallest real part of the highest
        decade stands in: it is too large by what the first arc has passed there.
    """
    frequency, impedance = trace.frequency_Hz, trace.impedance_ohm
    if not len(frequency):
        return Headline(0, None, "", None, None)
    capacitive = np.flatnonzero(impedance.imag < 0)
    first = int(capacitive[0]) if len(capacitive) else 0
    if first > 0:
        above, below = impedance[first - 1], impedance[first]
        share = float(above.imag / (above.imag - below.imag))
        resistance = float(above.real + share * (below.real - above.real))
        method = "imaginary part zero"
    else:
        highest = frequency >= 0.1 * frequency[0]
        resistance = float(np.min(impedance.real[highest]))
        method = "smallest real part of the highest decade"
    at_1_hz = None
    if frequency[-1] <= 1.0 <= frequency[0]:
        rising = np.log(frequency[::-1])
        at_1_hz = float(np.interp(0.0, rising, impedance.real[::-1])) - resistance
    peak = characteristic_frequency_Hz(trace)
    return Headline(len(frequency), resistance, method, at_1_hz, peak)


def characteristic_frequency_Hz(trace: Trace) -> float | None:
    """Where -Z'' has its largest peak between the ends of the sweep [Hz].

    Parameters
    ----------
    trace : Trace
        The spectrum, by falling frequency.

    Returns
    -------
    float or None
        Vertex of the parabola through the highest point and its neighbours, over the logarithm
        of frequency; None where -Z'' only rises or falls, as with a tail that hides the arc. A
        peak must be the highest of five neighbouring points, so that noise makes none.
    """
    height = -trace.impedance_ohm.imag
    inner = range(2, len(height) - 2)
    peaks = [at for at in inner if height[at] > 0 and height[at] == height[at - 2 : at + 3].max()]
    if not peaks:
        return None
    top = max(peaks, key=lambda at: float(height[at]))
    place = np.log(trace.frequency_Hz[top - 1 : top + 2])
    if len(np.unique(place)) < 3:
        return float(trace.frequency_Hz[top])
    square, line, _ = np.polyfit(place - place[1], height[top - 1 : top + 2], 2)
    shift = -line / (2 * square) if square < 0 else 0.0
    return float(np.exp(place[1] + shift))


def modulus_ohm(trace: Trace, *, frequency_Hz: float) -> float | None:
    """Modulus at a frequency, both on logarithmic scales [ohm]; None outside the sweep.

    Parameters
    ----------
    trace : Trace
        The spectrum, by falling frequency.
    frequency_Hz : float
        Frequency [Hz].
    """
    if len(trace.frequency_Hz) < 2:
        return None
    if not trace.frequency_Hz[-1] <= frequency_Hz <= trace.frequency_Hz[0]:
        return None
    place = np.log(trace.frequency_Hz[::-1])
    size = np.log(np.abs(trace.impedance_ohm[::-1]))
    return float(np.exp(np.interp(np.log(frequency_Hz), place, size)))


def additivity_percent(cell: Trace, *, positive: Trace, negative: Trace) -> float | None:
    """Median over the common frequencies of |Zpositive + Znegative - Zcell|/|Zcell| [%].

    Parameters
    ----------
    cell, positive, negative : Trace
        Pairs of one measurement, none derived from the others.

    Returns
    -------
    float or None
        None where fewer than three frequencies are common.
    """
    misfits = []
    for frequency, impedance in zip(cell.frequency_Hz, cell.impedance_ohm, strict=True):
        there, back = _nearest(positive, frequency), _nearest(negative, frequency)
        if there is not None and back is not None:
            misfits.append(abs(there + back - impedance) / abs(impedance))
    return 100 * float(np.median(misfits)) if len(misfits) >= 3 else None


def _nearest(trace: Trace, frequency_Hz: float) -> complex | None:
    """Impedance at the same frequency [ohm]; None where the pair has none."""
    if not len(trace.frequency_Hz):
        return None
    distance = np.abs(trace.frequency_Hz / frequency_Hz - 1)
    at = int(np.argmin(distance))
    return complex(trace.impedance_ohm[at]) if distance[at] <= SAME_FREQUENCY else None
