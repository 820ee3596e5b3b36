"""The whole chain for one pair of one spectrum: linear test, headline, fit, verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.circuit.arcs import Tail
from trivet.science.circuit.fit import FitError, SpectrumFit
from trivet.science.circuit.tree import TreeCircuit
from trivet.science.impedance.electrode_shape import Electrode
from trivet.science.impedance.kramers_kronig import Screened, fewest_points, screen
from trivet.science.impedance.model_choice import fit, fit_written, with_jumps, with_model_error
from trivet.science.impedance.spectrum import Headline, Trace, headline, is_negated
from trivet.science.impedance.verdict import Check, Limits, Verdict, verdict


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


@dataclass(frozen=True)
class Choice:
    """Which model is fitted to a pair.

    Attributes
    ----------
    written : TreeCircuit or None
        A model written out by the user, fitted as it stands; None: the data choose within the
        rest, which is as in `trivet.science.impedance.model_choice.fit`.
    """

    written: TreeCircuit | None = None
    most_arcs: int = 2
    tail: Tail = "warburg"
    inductance: bool = True
    starts: int = 5
    cautious: bool = False


def analyse(
    trace: Trace, *, may_turn: bool, choice: Choice, neighbour: SpectrumFit | None = None
) -> Analysis:
    """Test and fit one pair.

    Parameters
    ----------
    trace : Trace
        The spectrum by falling frequency, N points.
    may_turn : bool
        Whether a wholly negated spectrum is turned, as that of a negative is.
    choice : Choice
        Which model.
    neighbour : SpectrumFit or None
        Fit of the last spectrum of the same pair.
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
        fitted = with_jumps(_fitted(used, choice, neighbour), neighbour)
        if screened is not None:
            fitted = with_model_error(
                fitted,
                used.frequency_Hz,
                used.impedance_ohm,
                scatter_percent=screened.test.rms_percent,
            )
    except FitError as error:
        because = str(error)
    return Analysis(trace, turned, kept, screened, headline(used), fitted, because)


def _fitted(used: Trace, choice: Choice, neighbour: SpectrumFit | None) -> SpectrumFit:
    """Fit what was chosen."""
    if choice.written is not None:
        return fit_written(
            used.frequency_Hz,
            used.impedance_ohm,
            circuit=choice.written,
            starts=choice.starts,
            neighbour=neighbour,
        )
    return fit(
        used.frequency_Hz,
        used.impedance_ohm,
        most_arcs=choice.most_arcs,
        tail=choice.tail,
        inductance=choice.inductance,
        starts=choice.starts,
        cautious=choice.cautious,
        neighbour=neighbour,
    )


def judge(
    analysis: Analysis,
    *,
    limits: Limits,
    additivity: float | None,
    further: Sequence[Check] = (),
) -> Verdict:
    """Judge one pair from everything known of it.

    Parameters
    ----------
    analysis : Analysis
        The pair.
    limits : Limits
        Thresholds.
    additivity : float or None
        Misfit of the sum of the electrodes [%].
    further : sequence of Check
        Of drift, amplitude and geometry of the reference.
    """
    return verdict(
        analysis.used,
        limits=limits,
        test=None if analysis.screened is None else analysis.screened.test,
        fit_rms_percent=None if analysis.fitted is None else analysis.fitted.rms_percent,
        additivity=additivity,
        further=further,
    )


def electrode_of(analysis: Analysis) -> Electrode:
    """What the checks of geometry need of a pair that is an electrode.

    Parameters
    ----------
    analysis : Analysis
        The pair.
    """
    used, fitted = analysis.used, analysis.fitted
    left = None
    if fitted is not None:
        left = used.impedance_ohm - fitted.circuit.impedance(used.frequency_Hz, fitted.parameters)
    return Electrode(
        trace=used,
        scatter_percent=0.0 if analysis.screened is None else analysis.screened.test.rms_percent,
        residuals_ohm=left,
        ohmic_ohm=analysis.headline.high_frequency_resistance_ohm,
        polarisation_ohm=None if fitted is None else fitted.polarisation_resistance_ohm,
    )
