"""Sentences on what a reference serves, made from the codes of the table `fitness`."""

from __future__ import annotations

from trivet.reasons import Fitness, FitnessReason, Purpose
from trivet.reference_checks import CHECKS

NUMBERS = {
    Purpose.ABSOLUTE: "potentials against lithium and the margin to lithium deposition",
    Purpose.DIFFERENCE: "hysteresis, dc resistance and shares of polarisation",
    Purpose.SHAPE: "dQ/dE and the comparison of curves",
    Purpose.IMPEDANCE: "spectra of the electrodes",
}
"""Numbers that belong to each purpose."""

_WHY: dict[str, str] = {
    **{entry.unfit: entry.why_unfit for entry in CHECKS.values() if entry.unfit},
    FitnessReason.ANCHORED: "known potentials around this time agree within their limits",
    FitnessReason.NOTHING_AGAINST: "an offset cancels, and nothing else speaks against it",
    FitnessReason.BRACKETED: "the offset between two known potentials is taken off",
    FitnessReason.NO_ANCHOR: "no known potential tells the offset",
    FitnessReason.NO_LITHIUM: "the wire is no electrode of lithium any more",
    FitnessReason.LEADS: "leads are at the wrong place",
    FitnessReason.CONTACT: "the bench log has a contact fault in this cycle",
    FitnessReason.NOT_PLATED: "the reference is not plated",
}
_VERB = {
    Fitness.FIT: "are shown",
    Fitness.CORRECTED: "are shown with a correction",
    Fitness.NOT_FIT: "are withheld",
}


def fitness_sentence(purpose: Purpose, fitness: Fitness, reason: str) -> str:
    """Say what is shown or withheld, and why.

    Parameters
    ----------
    purpose, fitness : Purpose, Fitness
        Codes of a row of the table `fitness`.
    reason : str
        Its reason: a `FitnessReason`, or what the entry of a check calls it.
    """
    numbers = NUMBERS[purpose]
    return f"{numbers[0].upper()}{numbers[1:]} {_VERB[fitness]}: {_WHY[reason]}."
