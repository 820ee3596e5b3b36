"""Ohmic part of a cell's negative, by which its lowest potential is corrected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.schema.settings.science import Electrodes
from trivet.science.impedance.spectrum import Trace, headline, is_negated, sort_rows
from trivet.store.tables import arrays


@dataclass(frozen=True)
class Ohmic:
    """Ohmic part of the negative and how far it may be off in any one cycle [ohm]."""

    ohm: float
    error_ohm: float


def negative_ohmic(points: pa.Table | None, electrodes: Electrodes) -> Ohmic | None:
    """Resistance that corrects the lowest potential of the negative.

    Parameters
    ----------
    points : pyarrow.Table or None
        Table `spectrum_points` of the cell.
    electrodes : Electrodes
        Settings; a stated resistance outranks the cell's own spectra.

    Returns
    -------
    Ohmic or None
        Median over the cell's spectra of the negative whose imaginary part crosses zero: without
        a crossing the resistance would be too large and hide a potential below 0 V; its error is
        their robust spread, of all of it where there is but one, and 0 where the settings state
        it. None where nothing is known, or the negative is lithium, at 0 V by nature.
    """
    if electrodes.negative.material == "lithium":
        return None
    if electrodes.negative_ohmic_ohm is not None:
        return Ohmic(electrodes.negative_ohmic_ohm, 0.0)
    if points is None or not points.num_rows:
        return None
    columns = arrays(points)
    own = columns["pair"] == "negative"
    found = []
    for spectrum in np.unique(columns["spectrum"][own]):
        rows = own & (columns["spectrum"] == spectrum)
        measured = columns["real_ohm"][rows] + 1j * columns["imaginary_ohm"][rows]
        frequency_Hz = columns["frequency_Hz"][rows]
        order = sort_rows(frequency_Hz, impedance_ohm=measured, lowest_Hz=0.0, highest_Hz=np.inf)
        measured = measured[order.used]
        turned = -measured if is_negated(measured) else measured
        head = headline(Trace(frequency_Hz[order.used], turned))
        if head.method == "imaginary part zero" and head.high_frequency_resistance_ohm is not None:
            found.append(head.high_frequency_resistance_ohm)
    resistance = float(np.median(found)) if found else 0.0
    if not resistance > 0:
        return None
    spread = 1.4826 * float(np.median(np.abs(np.array(found) - resistance)))
    return Ohmic(resistance, spread if len(found) > 1 else resistance)
