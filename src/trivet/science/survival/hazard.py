"""Hazard ratio of two groups: Efron's partial likelihood, Firth's penalty where it has no top."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtrc, ndtri

from trivet.science.lives.delayed_entry import checked_entry
from trivet.science.survival.log_rank import checked_groups
from trivet.science.survival.product_limit import checked

Ties = Literal["efron", "breslow"]

FEWEST_EVENTS = 2
"""Ends that each group needs, or the likelihood is penalised."""

FARTHEST = 60.0
"""Logarithm of a hazard ratio beyond which a limit counts as not reached."""

NAN = float("nan")


@dataclass(frozen=True)
class HazardRatio:
    """Hazard ratio, group over control.

    Attributes
    ----------
    estimate, lower, upper : float
        Ratio and its profile-likelihood limits [1]; NaN where not estimable or no limit.
    log_standard_error : float
        Standard error of its logarithm, from the observed information [1].
    statistic, p : float
        Twice the (penalised) log-likelihood lost at a ratio of 1, and its p [1].
    log_likelihood : float
        At the maximum, with the penalty where there is one.
    penalised : bool
        Whether Firth's penalty was used.
    reason : str
        Why nothing is estimated; empty otherwise.
    """

    estimate: float = NAN
    lower: float = NAN
    upper: float = NAN
    log_standard_error: float = NAN
    statistic: float = NAN
    p: float = NAN
    log_likelihood: float = NAN
    penalised: bool = False
    reason: str = ""


@dataclass(frozen=True)
class _Partial:
    """Partial likelihood: each end has a term log(control + group exp(b)).

    Arrays have shape (n_ends,): cells at risk in control and group, less the share of tied ends
    that Efron's rule takes out.
    """

    control: np.ndarray
    group: np.ndarray
    group_ends: float
    penalised: bool = False

    def shares(self, effect: float) -> np.ndarray:
        """Chance that an end is one of the group's."""
        weighted = self.group * np.exp(effect)
        share: np.ndarray = weighted / (self.control + weighted)
        return share

    def information(self, effect: float) -> float:
        """Observed information."""
        share = self.shares(effect)
        return float(np.sum(share * (1 - share)))

    def value(self, effect: float) -> float:
        """Log-likelihood, with Firth's half log information where penalised."""
        terms = np.log(self.control + self.group * np.exp(effect))
        plain = self.group_ends * effect - float(np.sum(terms))
        if not self.penalised:
            return plain
        information = self.information(effect)
        return plain + 0.5 * float(np.log(information)) if information > 0 else -np.inf

    def slope(self, effect: float) -> float:
        """Derivative of the value."""
        share = self.shares(effect)
        plain = self.group_ends - float(np.sum(share))
        if not self.penalised:
            return plain
        spread = share * (1 - share)
        return plain + 0.5 * float(np.sum(spread * (1 - 2 * share)) / np.sum(spread))


def _partial(
    times: np.ndarray,
    entered: np.ndarray,
    seen: np.ndarray,
    treated: np.ndarray,
    strata: np.ndarray,
    ties: Ties,
) -> _Partial:
    """Collect the terms of the partial likelihood over strata and times."""
    control: list[float] = []
    group: list[float] = []
    for number in np.unique(strata):
        inside = strata == number
        for step in np.unique(times[inside & seen]):
            later = inside & (times >= step) & (entered < step)
            now = inside & seen & (times == step)
            ends = int(now.sum())
            for place in range(ends):
                out = place / ends if ties == "efron" else 0.0
                control.append(float(np.sum(later & ~treated) - out * np.sum(now & ~treated)))
                group.append(float(np.sum(later & treated) - out * np.sum(now & treated)))
    return _Partial(np.array(control), np.array(group), float(np.sum(seen & treated)))


def hazard_ratio(
    duration: np.ndarray,
    *,
    observed: np.ndarray,
    group: np.ndarray,
    stratum: np.ndarray | None = None,
    entry: np.ndarray | None = None,
    confidence: float = 0.95,
    ties: Ties = "efron",
    penalised: bool | None = None,
) -> HazardRatio:
    """Hazard ratio of group 1 over group 0, with a baseline of its own for each stratum.

    Parameters
    ----------
    duration : numpy.ndarray
        Times to the end or to the last sight, shape (n_cells,) [any unit].
    observed : numpy.ndarray
        1 where the end was seen, 0 where censored, shape (n_cells,) [1].
    group : numpy.ndarray
        1 for the group, 0 for the control, shape (n_cells,) [1].
    stratum : numpy.ndarray or None
        Label of the stratum, shape (n_cells,); None: one stratum.
    entry : numpy.ndarray or None
        Delayed entry, see `trivet.science.lives.delayed_entry.checked_entry`.
    confidence : float
        Confidence of the limits [1].
    ties : str
        `efron` or `breslow`.
    penalised : bool or None
        Whether to use Firth's penalty; None: where a group has fewer than two ends or the
        likelihood has no maximum.

    Returns
    -------
    HazardRatio

    Raises
    ------
    ValueError
        See `trivet.science.survival.product_limit.checked`.

    References
    ----------
    Cox 1972; Efron 1977, J. Am. Stat. Assoc. 72, 557-565. Firth 1993, Biometrika 80, 27-38;
    Heinze & Schemper 2001, Biometrics 57, 114-119 (penalty and profile limits in Cox models).
    """
    times, seen = checked(duration, observed)
    groups, strata = checked_groups(group, stratum, len(times))
    treated = groups.astype(bool)
    plain = _partial(times, checked_entry(entry, times), seen, treated, strata, ties)
    if not np.any((plain.control > 0) & (plain.group > 0)):
        return HazardRatio(reason="no hazard ratio: no end while both groups of a batch ran")
    fewest = min(int(np.sum(seen & treated)), int(np.sum(seen & ~treated)))
    certain = float(np.sum(plain.control == 0))  # ends that only the group could have had
    possible = float(np.sum(plain.group > 0))
    endless = plain.group_ends in (certain, possible)
    use_penalty = penalised if penalised is not None else fewest < FEWEST_EVENTS or endless
    if endless and not use_penalty:
        return HazardRatio(reason="no hazard ratio: the likelihood has no maximum")
    return _limited(replace(plain, penalised=use_penalty), confidence)


def _limited(partial: _Partial, confidence: float) -> HazardRatio:
    """Maximum and profile limits of a partial likelihood."""
    best = _root(partial.slope, 0.0, 1.0 if partial.slope(0.0) > 0 else -1.0)
    highest = partial.value(best)
    cut = float(ndtri(0.5 + confidence / 2)) ** 2

    def gap(effect: float) -> float:
        return cut - 2 * (highest - partial.value(effect))

    lower, upper = _root(gap, best, -0.5), _root(gap, best, 0.5)
    drop = max(2 * (highest - partial.value(0.0)), 0.0)
    return HazardRatio(
        estimate=float(np.exp(best)),
        lower=float(np.exp(lower)),
        upper=float(np.exp(upper)),
        log_standard_error=partial.information(best) ** -0.5,
        statistic=drop,
        p=float(chdtrc(1, drop)),
        log_likelihood=highest,
        penalised=partial.penalised,
    )


def _root(function: Callable[[float], float], start: float, step: float) -> float:
    """Root of a function on one side of a start; NaN where there is none."""
    sign = np.sign(function(start))
    if sign == 0:
        return start
    inner, reach = 0.0, step
    while abs(reach) < FARTHEST and np.sign(function(start + reach)) == sign:
        inner, reach = reach, 2 * reach
    if abs(reach) >= FARTHEST:
        return NAN
    return float(brentq(function, start + inner, start + reach, xtol=1e-10))
