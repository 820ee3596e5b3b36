"""Shapes of the spectra of two electrodes that share one reference, as numbers.

References
----------
M. Ender, A. Weber, E. Ivers-Tiffee, J. Electrochem. Soc. 159 (2012) A128 (loops and scaling by
the place of the reference). That both electrodes mirror each other follows from Kirchhoff's rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.impedance.spectrum import SAME_FREQUENCY, Trace
from trivet.science.impedance.verdict import Limits

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

LIKE_SIZES = 2.0
"""Features that mirror each other differ in size by less than this; own trials."""
SYSTEMATIC_ERRORS = 3.0
"""Residuals mirror each other as features, not as noise, beyond this many standard errors."""


@dataclass(frozen=True)
class Electrode:
    """What the geometry checks need of one electrode.

    Attributes
    ----------
    trace : Trace
        Points used, by falling frequency, N of them.
    scatter_percent : float
        Root mean square of the Kramers-Kronig residuals [%].
    residuals_ohm : numpy.ndarray or None
        Measured less fitted, shape (N,) [ohm]; None without a model.
    ohmic_ohm, polarisation_ohm : float or None
        High-frequency and polarisation resistance [ohm].
    """

    trace: Trace
    scatter_percent: float
    residuals_ohm: Complex | None
    ohmic_ohm: float | None
    polarisation_ohm: float | None


def longest_loop(trace: Trace, *, limits: Limits) -> int:
    """Longest run of neighbouring points of inductive sign at middle frequency [1].

    Parameters
    ----------
    trace : Trace
        The spectrum of an electrode.
    limits : Limits
        Span of frequencies and share of |Z|.
    """
    inside = (trace.frequency_Hz > limits.loop_lowest_Hz) & (
        trace.frequency_Hz < limits.loop_highest_Hz
    )
    share = limits.loop_share_percent / 100
    loop = inside & (trace.impedance_ohm.imag > share * np.abs(trace.impedance_ohm))
    longest = run = 0
    for hit in loop:
        run = run + 1 if hit else 0
        longest = max(longest, run)
    return longest


def real_part_fall_percent(trace: Trace) -> float:
    """Largest fall of the real part towards low frequency, over three points or more [%].

    Parameters
    ----------
    trace : Trace
        The spectrum, by falling frequency.

    Returns
    -------
    float
        Of |Z| where the fall ends; above 100 where the real part becomes negative.
    """
    real, size = trace.impedance_ohm.real, np.abs(trace.impedance_ohm)
    if len(real) < 3:
        return 0.0
    highest_before = np.maximum.accumulate(real)[:-2]
    return max(0.0, 100 * float(np.max((highest_before - real[2:]) / size[2:])))


def mirror_correlation(positive: Electrode, negative: Electrode) -> float | None:
    """Correlation of what the smooth models of both electrodes leave over [1].

    Parameters
    ----------
    positive, negative : Electrode
        Electrodes of one measurement.

    Returns
    -------
    float or None
        -1 where the features of one are those of the other with opposite sign; None without
        models, with fewer than eight common frequencies, where either leaves noise only, or where
        one leaves much more than the other.
    """
    if positive.residuals_ohm is None or negative.residuals_ohm is None:
        return None
    first, second = _common(positive.trace.frequency_Hz, negative.trace.frequency_Hz)
    if len(first) < 8:
        return None
    # Relative to both together, so that a mirrored feature stays one and no frequency outweighs.
    size = np.abs(positive.trace.impedance_ohm[first]) + np.abs(
        negative.trace.impedance_ohm[second]
    )
    one, other = positive.residuals_ohm[first] / size, negative.residuals_ohm[second] / size
    limit = SYSTEMATIC_ERRORS / float(np.sqrt(2 * len(one)))
    if min(_neighbours(one), _neighbours(other)) <= limit:
        return None
    norms = float(np.linalg.norm(one)), float(np.linalg.norm(other))
    # A misplaced reference takes from one what it gives to the other: features of one size.
    if max(norms) > LIKE_SIZES * min(norms):
        return None
    lengths = norms[0] * norms[1]
    return float(np.sum((one * np.conj(other)).real)) / lengths if lengths > 0 else None


def _common(first_Hz: Floats, second_Hz: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Positions in two sweeps of the frequencies that both have."""
    nearest = np.argmin(np.abs(second_Hz[None, :] / first_Hz[:, None] - 1), axis=1)
    same = np.abs(second_Hz[nearest] / first_Hz - 1) <= SAME_FREQUENCY
    return np.flatnonzero(same), nearest[same]


def _neighbours(residuals: Complex) -> float:
    """Lag-one autocorrelation about zero [1]."""
    squares = float(np.sum(np.abs(residuals) ** 2))
    products = float(np.sum((residuals[1:] * np.conj(residuals[:-1])).real))
    return products / squares if squares > 0 else 0.0


def ohmic_share(electrodes: Mapping[str, Electrode]) -> float | None:
    """Share of the positive in the high-frequency resistance of both electrodes [1].

    Parameters
    ----------
    electrodes : mapping of str to Electrode
        By pair.
    """
    both = [electrodes[pair].ohmic_ohm for pair in ("positive", "negative") if pair in electrodes]
    known = [value for value in both if value is not None]
    total = sum(known)
    return known[0] / total if len(known) == 2 and total > 0 else None


def polarisation_factor(found_ohm: float | None, *, expected_ohm: float | None) -> float | None:
    """How many times too large or too small a polarisation resistance is; 1 is right [1].

    Parameters
    ----------
    found_ohm, expected_ohm : float or None
        Found, and expected from symmetric or half cells or from the family, at like state of
        charge [ohm].
    """
    if found_ohm is None or expected_ohm is None or expected_ohm <= 0:
        return None
    if found_ohm <= 0:
        return float("inf")
    return max(found_ohm / expected_ohm, expected_ohm / found_ohm)
