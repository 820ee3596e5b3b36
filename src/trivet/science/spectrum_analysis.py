"""The whole chain for one pair of one spectrum: linear test, headline, fit, verdict."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.circuit import Tail
from trivet.science.circuit_fit import FitError, SpectrumFit
from trivet.science.kramers_kronig import Screened, fewest_points, screen
from trivet.science.spectrum import Headline, Trace, headline, is_negated
from trivet.science.spectrum_fit import fit
from trivet.science.spectrum_verdict import Limits, Verdict, verdict


@dataclass(frozen=True)
class Analysis:
    """One pair of one spectrum.

    Attributes
    ----------
    trace : Trace
        The spectrum, turned where it came wholly negated.
    turned : bool
        Whether it was turned.
    kept : numpy.ndarray
        Which points were not set aside as outliers, shape (N,).
    screened : Screened or None
        Linear test; None where there are too few points.
    headline : Headline
        Numbers without a model, of the points kept.
    fitted : SpectrumFit or None
        The model; None where there is none.
    not_fitted_because : str
        Why there is no model; empty otherwise.
    """

    trace: Trace
    turned: bool
    kept: NDArray[np.bool_]
    screened: Screened | None
    headline: Headline
    fitted: SpectrumFit | None
    not_fitted_because: str

    @property
    def used(self) -> Trace:
        """The points kept."""
        return Trace(self.trace.frequency_Hz[self.kept], self.trace.impedance_ohm[self.kept])


def analyse(
    trace: Trace,
    *,
    may_turn: bool,
    most_arcs: int,
    tail: Tail,
    inductance: bool,
    starts: int,
) -> Analysis:
    """Test and fit one pair.

    Parameters
    ----------
    trace : Trace
        The spectrum by falling frequency, N points.
    may_turn : bool
        Whether a wholly negated spectrum is turned, as that of a negative is.
    most_arcs, tail, inductance, starts
        As in `trivet.science.spectrum_fit.fit`.
    """
    turned = may_turn and is_negated(trace.impedance_ohm)
    if turned:
        trace = Trace(trace.frequency_Hz, -trace.impedance_ohm)
    points = len(trace.frequency_Hz)
    screened = None
    if points >= 4 and points >= fewest_points(trace.frequency_Hz):
        screened = screen(trace.frequency_Hz, trace.impedance_ohm)
    kept = np.ones(points, dtype=bool) if screened is None else screened.kept
    used = Trace(trace.frequency_Hz[kept], trace.impedance_ohm[kept])
    fitted, because = None, ""
    try:
        fitted = fit(
            used.frequency_Hz,
            used.impedance_ohm,
            most_arcs=most_arcs,
            tail=tail,
            inductance=inductance,
            starts=starts,
        )
    except FitError as error:
        because = str(error)
    return Analysis(trace, turned, kept, screened, headline(used), fitted, because)


def judge(
    analysis: Analysis, *, limits: Limits, is_electrode: bool, additivity: float | None
) -> Verdict:
    """Judge one pair from everything known of it.

    Parameters
    ----------
    analysis : Analysis
        The pair.
    limits : Limits
        Thresholds [%].
    is_electrode : bool
        Whether it was measured against the reference.
    additivity : float or None
        Misfit of the sum of the electrodes [%].
    """
    test = None if analysis.screened is None else analysis.screened.test
    return verdict(
        analysis.used,
        limits=limits,
        is_electrode=is_electrode,
        kk_rms_percent=None if test is None else test.rms_percent,
        kk_largest_percent=None if test is None else test.largest_percent,
        neighbour_correlation=None if test is None else test.neighbour_correlation,
        fit_rms_percent=None if analysis.fitted is None else analysis.fitted.rms_percent,
        additivity=additivity,
    )
