"""Leads at the wrong place: positive and negative exchanged, or a channel the wrong way round.

What is found is proposed, never applied.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from trivet.science.cycling.integrals import Floats
from trivet.science.electrodes.electrode_cycles import closure_V

STEPS_TO_JUDGE = 5
"""Current steps that a response to current must be seen at; common practice, no source."""

Fault = Literal["", "exchanged", "positive reversed", "negative reversed", "both reversed"]


@dataclass(frozen=True)
class LeadEvidence:
    """Whether leads look wrong, and what says so.

    Attributes
    ----------
    fault : str
        `exchanged`, `positive reversed`, `negative reversed`, `both reversed`, or empty.
    reason : str
        The evidence in words; empty where there is no fault.
    """

    fault: Fault
    reason: str


def lead_faults(
    cell_V: Floats,
    positive_V: Floats,
    negative_V: Floats,
    *,
    positive_resistance_ohm: Floats,
    measured: bool,
    closure_limit_mV: float,
) -> LeadEvidence:
    """Look whether leads were exchanged or reversed.

    Leads look exchanged by any of three signs: closure holds the other way round (only where all
    three were measured); the positive lies below the negative; the positive's potential falls
    when the cell is charged, so that its resistance comes out negative at most current steps. A
    channel looks reversed where closure holds with its sign turned and not otherwise. Exchanged
    leads and both channels reversed give the same closure; the sign of the positive's potential
    tells them apart.

    Parameters
    ----------
    cell_V, positive_V, negative_V : ndarray, shape (n,)
        Record [V].
    positive_resistance_ohm : ndarray, shape (m,)
        Resistance of the positive at current steps [ohm]; NaN where refused.
    measured : bool
        Whether all three were measured, none derived.
    closure_limit_mV : float
        Closure up to which the three agree [mV].

    Returns
    -------
    LeadEvidence
    """
    known = np.isfinite(cell_V + positive_V + negative_V)
    if not known.any():
        return LeadEvidence("", "")
    cell, positive, negative = cell_V[known], positive_V[known], negative_V[known]
    reasons = []
    if measured:
        as_is = _size_mV(cell, positive, negative)
        turned = _turned(cell, positive, negative, closure_limit_mV)
        if as_is > closure_limit_mV and turned is not None:
            fault, size_mV = turned
            words = f"closure is {size_mV:.1f} mV with {_WITH[fault]} and {as_is:.1f} mV as it is"
            if fault != "exchanged":
                return LeadEvidence(fault, words)
            reasons.append(words)
    if np.median(positive) < np.median(negative):
        reasons.append("the positive lies below the negative")
    steps = positive_resistance_ohm[np.isfinite(positive_resistance_ohm)]
    falling = int(np.count_nonzero(steps < 0))
    if steps.size >= STEPS_TO_JUDGE and falling >= 0.8 * steps.size:
        reasons.append(f"the positive moves against the current at {falling} of {steps.size} steps")
    return LeadEvidence("exchanged" if reasons else "", "; ".join(reasons))


_WITH: dict[Fault, str] = {
    "exchanged": "the leads exchanged",
    "positive reversed": "the sign of the positive turned",
    "negative reversed": "the sign of the negative turned",
    "both reversed": "both signs turned",
}


def _size_mV(cell_V: Floats, positive_V: Floats, negative_V: Floats) -> float:
    """Median size of the closure [mV]."""
    return float(np.median(np.abs(closure_V(cell_V, positive_V, negative_V))) * 1000.0)


def _turned(
    cell_V: Floats, positive_V: Floats, negative_V: Floats, limit_mV: float
) -> tuple[Fault, float] | None:
    """First way to turn leads that makes the closure hold, and what it is then [mV]."""
    below_zero = float(np.median(positive_V)) < 0.0 and float(np.median(negative_V)) < 0.0
    ways: tuple[tuple[Fault, Floats, Floats], ...] = (
        ("both reversed" if below_zero else "exchanged", negative_V, positive_V),
        ("positive reversed", -positive_V, negative_V),
        ("negative reversed", positive_V, -negative_V),
    )
    for fault, one, other in ways:
        size_mV = _size_mV(cell_V, one, other)
        if size_mV <= limit_mV:
            return fault, size_mV
    return None
