"""Verdicts of the pairs of one measurement of the stage impedance, with all their checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trivet.schema.settings.science import Impedance
from trivet.schema.tables.impedance import PAIRS
from trivet.science.impedance.analysis import electrode_of, judge
from trivet.science.impedance.electrode_shape import ohmic_share
from trivet.science.impedance.reference_geometry import GEOMETRY_CHECKS, OwnOhmic, geometry_checks
from trivet.science.impedance.spectrum import additivity_percent
from trivet.science.impedance.verdict import Limits, Verdict
from trivet.stages.impedance.pair import Pair, drift_of
from trivet.stages.impedance.surroundings import Surroundings


@dataclass(frozen=True)
class Measurement:
    """The pairs of one measurement, with where they stand.

    Attributes
    ----------
    pairs : tuple of Pair
        Its pairs.
    derived : bool
        Whether one of them was derived from the others.
    trusted_reference : bool
        Whether the reference was trusted at the time.
    around : Surroundings
        What the cycling rows say.
    """

    pairs: tuple[Pair, ...]
    derived: bool
    trusted_reference: bool
    around: Surroundings

    @property
    def additivity(self) -> float | None:
        """Misfit of the sum of the electrodes [%]; None where it says nothing."""
        used = {one.pair: one.analysis.used for one in self.pairs}
        if self.derived or set(used) != set(PAIRS):
            return None
        return additivity_percent(
            used["cell"], positive=used["positive"], negative=used["negative"]
        )

    @property
    def share(self) -> float | None:
        """Share of the positive in the ohmic resistance [1]."""
        return ohmic_share({o.pair: electrode_of(o.analysis) for o in self.pairs})


def judge_measurement(
    measured: Measurement,
    *,
    limits: Limits,
    impedance: Impedance,
    separators_share: float,
    first_share: float | None,
) -> list[Verdict]:
    """Judge every pair of a measurement, in their order.

    Parameters
    ----------
    measured : Measurement
        The measurement.
    limits : Limits
        Thresholds.
    impedance : Impedance
        Settings.
    separators_share : float
        Share of the positive in the separators [1].
    first_share : float or None
        Share of ohmic resistance in the first good measurement of the cell [1].
    """
    geometry = geometry_checks(
        {o.pair: electrode_of(o.analysis) for o in measured.pairs if o.pair != "cell"},
        limits=limits,
        expected_share=separators_share,
        first_share=first_share,
        own_ohmic=OwnOhmic(impedance.positive_ohmic_ohm, impedance.negative_ohmic_ohm),
        expected_polarisation_ohm={
            "positive": impedance.positive_polarisation_ohm,
            "negative": impedance.negative_polarisation_ohm,
        },
    )
    additivity = measured.additivity
    whole = next((o.analysis.used for o in measured.pairs if o.pair == "cell"), None)
    verdicts = []
    for one in measured.pairs:
        # Where the reference is lost the sum may fail; that is nothing against the cell's pair.
        void = one.pair == "cell" and not measured.trusted_reference
        drift = drift_of(
            one, limits=limits, impedance=impedance, cell=whole, around=measured.around
        )
        verdicts.append(
            judge(
                one.analysis,
                limits=limits,
                additivity=None if void else additivity,
                further=(*drift, *geometry.get(one.pair, ())),
            )
        )
    return verdicts


def is_misplaced(verdict: Verdict) -> bool:
    """Whether a verdict names the place of the reference."""
    return any(reason.name in GEOMETRY_CHECKS for reason in verdict.reasons)


def checks_of(
    cell: str, one: Pair, verdict: Verdict, *, held: bool
) -> list[dict[str, str | int | float | None]]:
    """Rows of the table spectrum_checks; values of a withheld electrode stay empty."""
    return [
        {
            "cell": cell,
            "spectrum": one.spectrum,
            "pair": one.pair,
            "check": check.name,
            "outcome": check.outcome,
            "value": None if held else _finite(check.value),
            "limit": _finite(check.limit),
            "unit": check.unit,
            "note": check.text,
        }
        for check in verdict.checks
    ]


def _finite(value: float | None) -> float | None:
    """A number, or nothing."""
    return value if value is not None and np.isfinite(value) else None


def first_good_share(measured: Measurement, verdicts: Sequence[Verdict]) -> float | None:
    """Share of ohmic resistance that later ones are held against; None where it is doubtful."""
    if not measured.trusted_reference or any(v.trust == "rejected" for v in verdicts):
        return None
    return measured.share
