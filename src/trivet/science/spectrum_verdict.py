"""Whether a spectrum can be believed, and why not.

Neither the Kramers-Kronig test nor additivity sees a misplaced reference; the shape does: a
loop of inductive sign at middle frequencies is no property of an electrode in these cells.

References
----------
M. Ender, A. Weber, E. Ivers-Tiffee, J. Electrochem. Soc. 159 (2012) A128 (loops by a reference).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from trivet.science.spectrum import Trace

Trust = Literal["trusted", "suspect", "rejected"]

LOOP_SPAN_Hz = (1.0, 1e4)
LOOP_POINTS = 3
LOOP_SHARE = 0.01
"""So many neighbouring points with Z'' above this share of |Z|: common practice, no source."""
MODEL_MULTIPLE = 3.0
"""A fit this many times worse than the linear test is a wrong model; common practice."""
ROUNDING_PERCENT = 1e-3
"""Residuals below this are rounding of the file, not noise to hold a model against."""


@dataclass(frozen=True)
class Limits:
    """Thresholds of the verdict, all in percent.

    Attributes
    ----------
    kk_suspect_percent, kk_rejected_percent : float
        Of the Kramers-Kronig rms [%].
    additivity_suspect_percent, additivity_rejected_percent : float
        Of the additivity [%].
    """

    kk_suspect_percent: float
    kk_rejected_percent: float
    additivity_suspect_percent: float
    additivity_rejected_percent: float


@dataclass(frozen=True)
class Reason:
    """One reason against a spectrum.

    Attributes
    ----------
    trust : Trust
        `suspect` or `rejected`.
    text : str
        The reason in words, with value and limit.
    value, limit : float or None
        Numbers behind it.
    unit : str
        Their unit.
    """

    trust: Trust
    text: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class Verdict:
    """Trust of a spectrum and the reasons against it, gravest first."""

    trust: Trust
    reasons: tuple[Reason, ...]


def inductive_loop_points(trace: Trace) -> int:
    """Longest run of neighbouring points of inductive sign between 1 Hz and 10 kHz.

    Parameters
    ----------
    trace : Trace
        The spectrum of an electrode.
    """
    low, high = LOOP_SPAN_Hz
    inside = (trace.frequency_Hz > low) & (trace.frequency_Hz < high)
    loop = inside & (trace.impedance_ohm.imag > LOOP_SHARE * np.abs(trace.impedance_ohm))
    longest = run = 0
    for hit in loop:
        run = run + 1 if hit else 0
        longest = max(longest, run)
    return longest


def verdict(
    trace: Trace,
    *,
    limits: Limits,
    is_electrode: bool,
    kk_rms_percent: float | None,
    kk_largest_percent: float | None = None,
    neighbour_correlation: float | None = None,
    fit_rms_percent: float | None = None,
    additivity: float | None = None,
) -> Verdict:
    """Judge a spectrum; missing evidence is a reason only where the linear test is missing.

    Parameters
    ----------
    trace : Trace
        The spectrum.
    limits : Limits
        Thresholds.
    is_electrode : bool
        Whether it was measured against the reference.
    kk_rms_percent, kk_largest_percent : float or None
        Of the residuals of the linear test [%].
    neighbour_correlation : float or None
        Of the same residuals along the sweep [1].
    fit_rms_percent : float or None
        Of the fitted model [%].
    additivity : float or None
        Median misfit of the sum of the electrodes [%].
    """
    reasons: list[Reason | None] = [_sign(trace)]
    if kk_rms_percent is None:
        reasons.append(Reason("suspect", "too few frequencies for the Kramers-Kronig test"))
    else:
        reasons.append(
            _threshold(
                "Kramers-Kronig rms",
                kk_rms_percent,
                limits.kk_suspect_percent,
                limits.kk_rejected_percent,
            )
        )
        reasons.append(
            _systematic(trace, kk_largest_percent, neighbour_correlation, limits.kk_suspect_percent)
        )
        reasons.append(_model(fit_rms_percent, kk_rms_percent))
    if additivity is not None:
        reasons.append(
            _threshold(
                "additivity",
                additivity,
                limits.additivity_suspect_percent,
                limits.additivity_rejected_percent,
            )
        )
    if is_electrode:
        reasons.append(_loop(trace))
    return _gravest_first(reason for reason in reasons if reason is not None)


def _gravest_first(reasons: Iterable[Reason]) -> Verdict:
    """Order reasons and take the trust of the gravest."""
    ordered = tuple(sorted(reasons, key=lambda reason: reason.trust != "rejected"))
    return Verdict(ordered[0].trust if ordered else "trusted", ordered)


def _threshold(name: str, value: float, suspect: float, rejected: float) -> Reason | None:
    """Hold a percentage against its two thresholds."""
    if value > rejected:
        return Reason("rejected", f"{name} {value:.2f} % > {rejected:g} %", value, rejected, "%")
    if value > suspect:
        return Reason("suspect", f"{name} {value:.2f} % > {suspect:g} %", value, suspect, "%")
    return None


def _systematic(
    trace: Trace, largest_percent: float | None, correlation: float | None, visible_percent: float
) -> Reason | None:
    """Residuals that follow each other, as in a drift, where they are large enough to matter."""
    if correlation is None or largest_percent is None or largest_percent <= visible_percent:
        return None
    limit = 3 / float(np.sqrt(2 * len(trace.frequency_Hz)))
    if correlation <= limit:
        return None
    text = f"systematic Kramers-Kronig residuals: correlation of neighbours {correlation:.2f}"
    return Reason("suspect", f"{text} > {limit:.2f}", correlation, limit, "1")


def _model(fit_rms_percent: float | None, kk_rms_percent: float) -> Reason | None:
    """Find a model that follows the data much worse than any linear system does."""
    limit = MODEL_MULTIPLE * max(kk_rms_percent, ROUNDING_PERCENT)
    if fit_rms_percent is None or fit_rms_percent <= limit:
        return None
    text = f"model inadequate: fit rms {fit_rms_percent:.2f} % > {limit:.2f} %"
    return Reason("suspect", text, fit_rms_percent, limit, "%")


def _sign(trace: Trace) -> Reason | None:
    """Physics: the real part of a passive cell or electrode is positive."""
    share = 100 * float(np.mean(trace.impedance_ohm.real < 0)) if len(trace.frequency_Hz) else 0.0
    if share <= 50:
        return None
    return Reason("rejected", f"real part negative at {share:.0f} % of points", share, 50.0, "%")


def _loop(trace: Trace) -> Reason | None:
    """Find a loop of inductive sign where only a misplaced reference makes one."""
    points = inductive_loop_points(trace)
    if points < LOOP_POINTS:
        return None
    text = f"suspect reference geometry: inductive loop of {points} points"
    return Reason("suspect", text, float(points), float(LOOP_POINTS), "1")
