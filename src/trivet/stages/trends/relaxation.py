"""Distributions of relaxation times of the stage trends."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from trivet.science.impedance.fixed_exponents import TAIL_EXPONENT
from trivet.science.impedance.relaxation import Distribution, distribution
from trivet.stages.trends.second_pass import Key, PairModel, Points

Row = dict[str, Any]

CURVES_A_CELL = 4
"""Distributions of a cell and pair whose curves are kept, evenly over its life."""
FEWEST_POINTS = 20
"""A spectrum of fewer frequencies has no distribution; common practice, no source."""


def relaxation_rows(
    rows: Sequence[Row], points: Mapping[Key, Points], models: Mapping[str, PairModel]
) -> tuple[list[Row], list[Row]]:
    """Curves of few and peaks of all accepted spectra, of the electrodes where there are any.

    The regularisation is one for a pair, so that curves over life can be compared: the middle one
    of those that the rule chooses for the first spectrum of every cell.
    """
    curves: list[Row] = []
    peaks: list[Row] = []
    pairs = [pair for pair in models if pair != "cell"] or list(models)
    for pair in pairs:
        own = [
            row
            for row in rows
            if row["pair"] == pair
            and not row["reason"]
            and len(points[_key(row)][0]) >= FEWEST_POINTS
        ]
        cells: dict[str, list[Row]] = {}
        for row in own:
            cells.setdefault(row["cell"], []).append(row)
        if not cells:
            continue
        model = models[pair]
        firsts = [_invert(mine[0], points, model, None) for mine in cells.values()]
        chosen = sorted(found.regularisation for found in firsts)[len(firsts) // 2]
        for mine in cells.values():
            found = [_invert(row, points, model, chosen) for row in mine]
            peaks += [
                peak for row, one in zip(mine, found, strict=True) for peak in _peaks(row, one)
            ]
            for at in np.unique(np.linspace(0, len(mine) - 1, CURVES_A_CELL).round().astype(int)):
                curves += _curve(mine[at], found[at])
    return curves, peaks


def _key(row: Row) -> Key:
    """What names the points of a row."""
    return row["cell"], row["spectrum"], row["pair"]


def _invert(
    row: Row, points: Mapping[Key, Points], model: PairModel, regularisation: float | None
) -> Distribution:
    """Invert one spectrum, with the tail and the inductance that the pair's model has."""
    circuit = model.circuit
    exponent = None
    if circuit is not None and circuit.tail != "none":
        exponent = model.exponents.get(TAIL_EXPONENT, 0.5)
    return distribution(
        *points[_key(row)],
        tail_exponent=exponent,
        inductance=circuit is not None and circuit.inductance,
        regularisation=regularisation,
    )


def _head(row: Row) -> Row:
    """What names a spectrum."""
    return {name: row[name] for name in ("cell", "spectrum", "time_h", "pair")}


def _curve(row: Row, found: Distribution) -> list[Row]:
    """Rows of one curve."""
    return [
        _head(row) | {"time_constant_s": float(constant), "density_ohm": float(density)}
        for constant, density in zip(found.time_constant_s, found.density_ohm, strict=True)
    ]


def _peaks(row: Row, found: Distribution) -> list[Row]:
    """Rows of the peaks of one distribution."""
    return [
        _head(row)
        | {
            "peak": number,
            "resistance_ohm": peak.resistance_ohm,
            "time_constant_s": peak.time_constant_s,
            "from_s": peak.from_s,
            "to_s": peak.to_s,
            "regularisation": found.regularisation,
            "fit_rms_percent": found.rms_percent,
        }
        for number, peak in enumerate(found.peaks, start=1)
    ]
