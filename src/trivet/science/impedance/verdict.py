"""Whether a spectrum can be believed, and why not: checks, their grades, the verdict.

References
----------
Thresholds: common practice, no source, unless their setting says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from trivet.science.impedance.kramers_kronig import LinearTest
from trivet.science.impedance.spectrum import Trace

Trust = Literal["trusted", "suspect", "rejected"]
Outcome = Literal["trusted", "suspect", "rejected", "not testable", "noted"]

ROUNDING_PERCENT = 1e-3
"""Residuals below this are rounding of the file, not noise to hold a model against."""


@dataclass(frozen=True)
class Limits:
    """Thresholds of the checks of spectra; meanings as in the settings block `trust`."""

    kk_suspect_percent: float
    kk_rejected_percent: float
    kk_correlation_errors: float
    kk_largest_multiple: float
    additivity_suspect_percent: float
    additivity_rejected_percent: float
    repeat_suspect_percent: float
    repeat_rejected_percent: float
    model_multiple: float
    loop_points: int
    loop_share_percent: float
    loop_lowest_Hz: float
    loop_highest_Hz: float
    real_fall_percent: float
    mirror_correlation: float
    ohmic_share_off: float
    ohmic_share_change: float
    polarisation_factor: float
    sweep_change_suspect_mV: float
    sweep_change_rejected_mV: float
    amplitude_suspect_mV: float
    amplitude_rejected_mV: float


@dataclass(frozen=True)
class Check:
    """One check of one spectrum.

    Attributes
    ----------
    name : str
        The check.
    outcome : Outcome
        `trusted` where it passes; `noted` where what it says is not of the spectrum.
    text : str
        The reason in words where it does not pass, with value and limit; why where it could
        not be tested.
    value, limit : float or None
        What was found and what it was held against, in `unit`.
    unit : str
        Their unit.
    """

    name: str
    outcome: Outcome
    text: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = "1"

    @property
    def is_reason(self) -> bool:
        """Whether it speaks against the spectrum."""
        return self.outcome in ("suspect", "rejected")


@dataclass(frozen=True)
class Verdict:
    """Trust of a spectrum, the reasons against it, gravest first, and all checks."""

    trust: Trust
    reasons: tuple[Check, ...]
    checks: tuple[Check, ...]


def graded(
    name: str,
    value: float | None,
    *,
    suspect: float,
    text: str,
    rejected: float | None = None,
    shown_limit: float | None = None,
    unit: str = "1",
    void: str = "",
) -> Check:
    """Hold a value against one or two thresholds that it must not exceed.

    Parameters
    ----------
    name : str
        The check.
    value : float or None
        What was found; None: not testable.
    suspect, rejected : float or None
        Thresholds, in the unit of the value.
    text : str
        The reason up to the value.
    shown_limit : float or None
        Limit to print where it is not that of the comparison.
    unit : str
        Unit.
    void : str
        Why there is no value.
    """
    if value is None:
        return Check(name, "not testable", void)
    outcome: Outcome = "trusted"
    limit = suspect
    if rejected is not None and value > rejected:
        outcome, limit = "rejected", rejected
    elif value > suspect:
        outcome = "suspect"
    limit = limit if shown_limit is None else shown_limit
    if outcome == "trusted":
        return Check(name, outcome, "", value, limit, unit)
    written = "" if unit == "1" else f" {unit}"
    sign = ">" if shown_limit is None else "of at least"
    digits = f"{value:.0f}" if shown_limit is not None else f"{value:.2f}"
    said = f"{text} {digits}{written} {sign} {_short(limit)}{written}"
    return Check(name, outcome, said, value, limit, unit)


def _short(limit: float) -> str:
    """A limit as set, or to three digits where it was computed."""
    return f"{limit:g}" if len(f"{limit:g}") <= 4 else f"{limit:.2f}"


def concluded(checks: Iterable[Check]) -> Verdict:
    """Order the reasons and take the trust of the gravest.

    Parameters
    ----------
    checks : iterable of Check
        All checks of one spectrum.
    """
    kept = tuple(checks)
    against = [check for check in kept if check.is_reason]
    ordered = tuple(sorted(against, key=lambda check: check.outcome != "rejected"))
    gravest = ordered[0].outcome if ordered else "trusted"
    trust: Trust = "trusted"
    if gravest in ("suspect", "rejected"):
        trust = gravest
    return Verdict(trust, ordered, kept)


def verdict(
    trace: Trace,
    *,
    limits: Limits,
    test: LinearTest | None,
    fit_rms_percent: float | None = None,
    additivity: float | None = None,
    further: Sequence[Check] = (),
) -> Verdict:
    """Judge a spectrum; missing evidence is a reason only where the linear test is missing.

    Parameters
    ----------
    trace : Trace
        The spectrum.
    limits : Limits
        Thresholds.
    test : LinearTest or None
        Of its points used; None where there are too few.
    fit_rms_percent : float or None
        Of the fitted model [%].
    additivity : float or None
        Median misfit of the sum of the electrodes [%].
    further : sequence of Check
        What else is known: drift, amplitude, geometry of the reference.
    """
    checks = [_sign(trace), *_linear(trace, test, limits)]
    checks.append(_model(fit_rms_percent, test, limits))
    checks.append(
        graded(
            "additivity",
            additivity,
            suspect=limits.additivity_suspect_percent,
            rejected=limits.additivity_rejected_percent,
            text="additivity",
            unit="%",
            void="a pair is missing or derived, frequencies differ, or the reference is lost",
        )
    )
    return concluded([*checks, *further])


def _linear(trace: Trace, test: LinearTest | None, limits: Limits) -> list[Check]:
    """Size and pattern of the residuals of the linear test.

    Size without order is noise, which widens errors; order is what no stationary system has.
    """
    if test is None:
        few = "too few frequencies for the Kramers-Kronig test"
        return [Check("Kramers-Kronig rms", "suspect", few, float(len(trace.frequency_Hz)))]
    # Residuals that no one can see are no drift worth the name, whatever their order.
    visible = test.largest_percent > limits.kk_suspect_percent
    order_limit = limits.kk_correlation_errors / float(np.sqrt(2 * len(trace.frequency_Hz)))
    ordered = test.neighbour_correlation > order_limit
    rms = graded(
        "Kramers-Kronig rms",
        test.rms_percent,
        suspect=limits.kk_suspect_percent,
        rejected=limits.kk_rejected_percent,
        text="residuals that follow each other: Kramers-Kronig rms"
        if ordered
        else "noise without order: Kramers-Kronig rms",
        unit="%",
    )
    few = f"no residual above {limits.kk_suspect_percent:g} %"
    order = graded(
        "Kramers-Kronig pattern",
        test.neighbour_correlation if visible else None,
        suspect=order_limit,
        text="the cell changed during the sweep, or did not respond linearly: Kramers-Kronig "
        "residuals follow each other, correlation of neighbours",
        void=few,
    )
    largest = graded(
        "largest Kramers-Kronig residual",
        test.largest_percent / max(test.rms_percent, ROUNDING_PERCENT) if visible else None,
        suspect=limits.kk_largest_multiple,
        text="one Kramers-Kronig residual stands out, in rms",
        void=few,
    )
    return [rms, order, largest]


def _model(fit_rms_percent: float | None, test: LinearTest | None, limits: Limits) -> Check:
    """Note a model that follows the data much worse than any linear system does.

    That says nothing against the spectrum: errors of the fit are widened by the misfit.
    """
    if test is None or fit_rms_percent is None:
        return Check("model", "not testable", "no model or no Kramers-Kronig test")
    limit = limits.model_multiple * max(test.rms_percent, ROUNDING_PERCENT)
    found = graded(
        "model", fit_rms_percent, suspect=limit, text="model inadequate: fit rms", unit="%"
    )
    return replace(found, outcome="noted") if found.outcome == "suspect" else found


def _sign(trace: Trace) -> Check:
    """Physics: the real part of a passive cell or electrode is positive."""
    share = 100 * float(np.mean(trace.impedance_ohm.real < 0)) if len(trace.frequency_Hz) else 0.0
    return graded(
        "sign of the real part",
        share,
        suspect=50.0,
        rejected=50.0,
        text="real part negative, share of points",
        unit="%",
    )
