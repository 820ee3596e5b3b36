"""Registration of both electrodes' curves of one slow cycle on those of an earlier one.

One joint fit answers two questions. Did the reference move? Then all four curves moved alike in
potential. What became of the electrodes? Each curve was shifted and stretched along the charge.
No known potential is needed, since features of the curves are compared with themselves.

    E_k(q) = E_0((q - s) / m) + d + p

holds for charge and discharge of both electrodes together: d is common to all four, m to both
directions of an electrode, s is free in each curve, and p changes sign with the direction.

Both cycles must run at the same rate, and the earlier one must not be the first of the cell,
in which layers still form. An end potential is not a feature: slippage moves it as a drift does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trivet.science.electrodes.registration_fit import Minimum, bounds, fitted
from trivet.science.electrodes.registration_problem import FitProblem, measured, sampled

Floats = NDArray[np.float64]

PARAMETERS = (
    "offset_mV",
    "positive_active",
    "positive_shift_charge_mAh",
    "positive_shift_discharge_mAh",
    "positive_polarisation_mV",
    "negative_active",
    "negative_shift_charge_mAh",
    "negative_shift_discharge_mAh",
    "negative_polarisation_mV",
)
"""Names of the parameters of a registration, in the order of its covariance."""

FEWEST_ROWS = 20
"""Rows of a curve that is registered; common practice, no source."""


@dataclass(frozen=True)
class Curve:
    """One electrode in one half-cycle at constant current; shape (n,) each, in any order.

    Attributes
    ----------
    charge_mAh : ndarray
        Charge between each row and the top of charge: what a discharge has passed, and what a
        charge has yet to pass until its end [mAh].
    potential_V : ndarray
        Potential against the reference [V].
    """

    charge_mAh: Floats
    potential_V: Floats


@dataclass(frozen=True)
class CycleCurves:
    """The four curves of one cycle."""

    positive_charge: Curve
    positive_discharge: Curve
    negative_charge: Curve
    negative_discharge: Curve

    @property
    def all(self) -> tuple[Curve, Curve, Curve, Curve]:
        """Positive before negative, charge before discharge."""
        return (
            self.positive_charge,
            self.positive_discharge,
            self.negative_charge,
            self.negative_discharge,
        )


@dataclass(frozen=True)
class RegistrationLimits:
    """Bounds of the fit, and how large an error may be before a value is `not estimable`.

    All are common practice without a source; the bounds keep the fit from places where it finds
    nonsense with small errors.

    Attributes
    ----------
    active_from, active_to : float
        Active share of an electrode [1].
    largest_shift : float
        Shift of a curve, of the earlier capacity [1].
    active_error, shift_error : float
        Largest standard errors of an active share, and of a shift by capacity [1]. Where one end
        alone tells a shift, it hangs on the share, which is then known by its bounds only: within
        this error it moves the shift by about 0.2 % of the capacity at most (studies.registration).
    offset_error_mV : float
        Largest standard error of the change of offset and of a polarisation [mV].
    smallest_overlap : float
        Share of each later curve that has to fall on the earlier one [1].
    largest_misfit_mV : float
        Robust spread of residuals of any curve beyond which nothing is believed [mV].
    charge_error : float
        Standard error of the charge of each half-cycle, as a share of it, which enters all
        errors: a channel repeats a current no better [1].
    """

    active_from: float = 0.85
    active_to: float = 1.1
    largest_shift: float = 0.25
    active_error: float = 0.005
    shift_error: float = 0.003
    offset_error_mV: float = 5.0
    smallest_overlap: float = 0.5
    largest_misfit_mV: float = 20.0
    charge_error: float = 5e-4


@dataclass(frozen=True)
class Registration:
    """What changed between two slow cycles.

    Attributes
    ----------
    values, errors : dict of str to float
        Every name of `PARAMETERS`, with its standard error widened by the misfit; both NaN where
        not estimable.
    place, covariance : ndarray, shapes (9,) and (9, 9)
        All parameters as the fit left them, estimable or not, and their covariance; infinite on
        the diagonal for those at a bound. In the units of `PARAMETERS`.
    misfit_mV, overlap : dict of str to float
        Spread of residuals and share of overlap of the worse curve of each electrode.
    """

    values: Mapping[str, float]
    errors: Mapping[str, float]
    place: Floats
    covariance: Floats
    misfit_mV: Mapping[str, float]
    overlap: Mapping[str, float]

    def combined(self, weights: Mapping[str, float]) -> tuple[float, float]:
        """Weighted sum of parameters, with its standard error.

        Parameters
        ----------
        weights : mapping of str to float
            Weight of each parameter that enters.

        Returns
        -------
        value, error : float
            NaN both where one that enters is not estimable.
        """
        if not all(np.isfinite(self.values[name]) for name in weights):
            return float("nan"), float("nan")
        vector = np.array([weights.get(name, 0.0) for name in PARAMETERS])
        used = np.flatnonzero(vector)
        inner = self.covariance[np.ix_(used, used)]
        return float(vector @ self.place), float(np.sqrt(vector[used] @ inner @ vector[used]))


def constant_current_curve(
    charge_mAh: Floats, potential_V: Floats, current_mA: Floats
) -> Curve | None:
    """Keep the rows of a half-cycle at its constant current.

    Parameters
    ----------
    charge_mAh, potential_V, current_mA : ndarray, shape (n,)
        Rows of one half-cycle, as in `Curve` [mAh, V, mA].

    Returns
    -------
    Curve or None
        Rows within 5 % of the median current; None where fewer than `FEWEST_ROWS` are left, or
        where they hold less than half of the charge, or none. At a constant voltage the potential
        follows the current and not the charge.
    """
    known = np.isfinite(charge_mAh) & np.isfinite(potential_V) & np.isfinite(current_mA)
    if np.count_nonzero(known) < FEWEST_ROWS:
        return None
    typical = float(np.median(current_mA[known]))
    kept = known & (np.abs(current_mA - typical) <= 0.05 * abs(typical))
    if np.count_nonzero(kept) < FEWEST_ROWS:
        return None
    spanned_mAh = float(np.ptp(charge_mAh[kept]))
    if spanned_mAh <= 0.0 or spanned_mAh < 0.5 * np.ptp(charge_mAh[known]):
        return None
    return Curve(charge_mAh[kept], potential_V[kept])


def capacity_mAh(curves: CycleCurves) -> float:
    """Charge that the curves of the positive's discharge span [mAh]."""
    return float(np.ptp(curves.positive_discharge.charge_mAh))


def _scaled(curve: Curve, scale_mAh: float) -> tuple[Floats, Floats]:
    """Charge and potential of a curve in the scaling of the fit."""
    known = np.isfinite(curve.charge_mAh) & np.isfinite(curve.potential_V)
    charge, potential = curve.charge_mAh[known] / scale_mAh, curve.potential_V[known] * 1000.0
    if charge.size < FEWEST_ROWS or np.ptp(charge) <= 0.0:
        message = f"a curve of {charge.size} rows over {np.ptp(charge):.3g} of the capacity"
        raise ValueError(f"{message}; registration needs {FEWEST_ROWS} rows with charge")
    return charge, potential


def register(
    earlier: CycleCurves, later: CycleCurves, limits: RegistrationLimits | None = None
) -> Registration:
    """Fit the curves of a later cycle to those of an earlier one, all four together.

    Parameters
    ----------
    earlier, later : CycleCurves
        Two complete slow cycles at the same rate.
    limits : RegistrationLimits or None
        Bounds and largest errors; the defaults where not given.

    Returns
    -------
    Registration
        Robust least squares from several starts, residuals divided by the overlap; errors of the
        charge are fitted too, within what is likely of them, and parameters with bounds are taken
        to lie between them, so that one that no feature tells stays in the middle. Standard errors
        are honest for noise and for misfits that change within a tenth of the capacity; of a
        misfit longer than that the parameters take a part, and errors are up to twice too small.

    Raises
    ------
    ValueError
        If a curve has fewer than `FEWEST_ROWS` rows, or no charge.

    References
    ----------
    Marquardt (1963), J. Soc. Ind. Appl. Math. 11, 431 (the descent); the loss is the smoothed
    absolute one, sqrt(1 + r^2) - 1 (both from memory). Matching half-cell curves by shift and
    scale is common practice in electrode diagnostics.
    """
    given = limits or RegistrationLimits()
    scale = capacity_mAh(earlier)
    problem = FitProblem(
        [measured(*_scaled(curve, scale)) for curve in earlier.all],
        [sampled(*_scaled(curve, scale)) for curve in later.all],
    )
    active = (given.active_from, given.active_to)
    within = bounds(active, given.largest_shift, given.charge_error)
    return _reported(fitted(problem, within), scale, given)


def _scaled_shifts(place: Floats, charge_error: float) -> Floats:
    """What an error of the earlier charge adds to the covariance: it scales the shifts of its way.

    The fit takes the charges of both cycles against each other, which is all that moves a curve as
    a whole; the earlier one's is the unit of the shifts besides.
    """
    added = np.zeros((place.size, place.size))
    for direction in ("charge", "discharge"):
        names = [f"{side}_shift_{direction}_mAh" for side in ("positive", "negative")]
        moved = np.array(
            [value * (name in names) for name, value in zip(PARAMETERS, place, strict=True)]
        )
        added += charge_error**2 * np.outer(moved, moved)
    return added


def _leaning(held: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Parameters at a bound, and shifts beside an active share at its bound.

    Where the share runs away, so does the shift, to where the curves are as flat.
    """
    found = held.copy()
    for first in (1, 5):
        found[first + 1 : first + 3] |= held[first]
    return found


def _reported(found: Minimum, scale_mAh: float, limits: RegistrationLimits) -> Registration:
    """The result in the units of its names, what can't be estimated left out."""
    unit = np.array([scale_mAh if name.endswith("_mAh") else 1.0 for name in PARAMETERS])
    kept = np.arange(len(PARAMETERS))
    place = found.place[kept] * unit
    covariance = found.covariance[np.ix_(kept, kept)] * np.outer(unit, unit)
    covariance += _scaled_shifts(place, limits.charge_error)
    largest = {
        "offset": limits.offset_error_mV,
        "active": limits.active_error,
        "charge": limits.shift_error * scale_mAh,
    }
    most = np.array(
        [
            largest["offset"],
            *([largest["active"], largest["charge"], largest["charge"], largest["offset"]] * 2),
        ]
    )
    error = np.sqrt(np.diag(covariance))
    fits = (
        float(found.misfit_mV.max()) <= limits.largest_misfit_mV
        and float(found.overlap.min()) >= limits.smallest_overlap
    )
    # The comparison is false for NaN.
    known = (error <= most) & ~_leaning(found.held[kept]) & fits
    sides = {"positive": slice(0, 2), "negative": slice(2, 4)}
    return Registration(
        values=dict(zip(PARAMETERS, np.where(known, place, np.nan).tolist(), strict=True)),
        errors=dict(zip(PARAMETERS, np.where(known, error, np.nan).tolist(), strict=True)),
        place=place,
        covariance=covariance,
        misfit_mV={side: float(found.misfit_mV[part].max()) for side, part in sides.items()},
        overlap={side: float(found.overlap[part].min()) for side, part in sides.items()},
    )
