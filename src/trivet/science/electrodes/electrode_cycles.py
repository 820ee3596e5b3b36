"""What each electrode did in each cycle, measured against the reference."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from trivet.science.cycling.cycles import Cycles, pick
from trivet.science.cycling.half_cycle_measures import (
    Halves,
    extremes,
    potential_sums,
    without_spikes,
)
from trivet.science.cycling.half_cycles import HalfCycles
from trivet.science.cycling.integrals import Booleans, Floats, Integers
from trivet.science.electrodes.polarisation import (
    corrected_minimum_V,
    polarisation_share,
    potential_at_half_V,
)

Electrode = Literal["positive", "negative"]


@dataclass(frozen=True)
class ElectrodeCycles:
    """One electrode by cycle, shape (m,) each; fields as the columns of `electrode_cycles`."""

    mean_charge_potential_V: Floats
    mean_discharge_potential_V: Floats
    end_of_charge_potential_V: Floats
    end_of_discharge_potential_V: Floats
    minimum_potential_V: Floats
    hysteresis_V: Floats
    hysteresis_at_half_V: Floats
    polarisation_share: Floats
    dc_resistance_ohm: Floats
    dc_delay_s: Floats
    corrected_minimum_V: Floats

    def shown(
        self, *, absolute: Booleans, difference: Booleans, correction_V: Floats
    ) -> ElectrodeCycles:
        """Give what the reference serves: potentials corrected, the rest missing.

        Parameters
        ----------
        absolute, difference : ndarray of bool, shape (m,)
            Cycles whose potentials, and whose differences, are shown.
        correction_V : ndarray, shape (m,)
            Offset taken off the potentials where they are shown [V].
        """
        return ElectrodeCycles(
            **{
                name: np.where(absolute, values - correction_V, np.nan)
                if name in ABSOLUTE
                else np.where(difference, values, np.nan)
                for name, values in vars(self).items()
            }
        )


ABSOLUTE = (
    "mean_charge_potential_V",
    "mean_discharge_potential_V",
    "end_of_charge_potential_V",
    "end_of_discharge_potential_V",
    "minimum_potential_V",
    "corrected_minimum_V",
)
"""Fields that are potentials against lithium; all others are differences within a cycle."""


def hysteresis_V(
    *, mean_charge_V: Floats, mean_discharge_V: Floats, electrode: Electrode
) -> Floats:
    """Difference of the two mean potentials, counted so that the two electrodes add to the cell.

    Parameters
    ----------
    mean_charge_V, mean_discharge_V : ndarray, shape (m,)
        Charge-weighted mean potentials [V].
    electrode : {"positive", "negative"}
        The positive gives charge less discharge, the negative discharge less charge.

    Returns
    -------
    ndarray, shape (m,)
        Hysteresis [V]; above zero for a loss.
    """
    difference = np.asarray(mean_charge_V - mean_discharge_V, dtype=np.float64)
    return difference if electrode == "positive" else -difference


def dc_resistance_ohm(
    time_s: Floats,
    current_mA: Floats,
    potential_V: Floats,
    *,
    first_row: int,
    last_row: int,
    delay_s: float,
    tolerance_s: float,
    electrode: Literal["cell", "positive", "negative"],
) -> tuple[float, float]:
    """Resistance from the current step at the start of a half-cycle.

    The step lies between the row before the half-cycle and its first row. A row is taken only if
    its delay is within the tolerance of the stated one wherever in between the step was.

    Parameters
    ----------
    time_s, current_mA, potential_V : ndarray, shape (n,)
        Record [s, mA, V].
    first_row, last_row : int
        First and last row of the half-cycle.
    delay_s, tolerance_s : float
        Delay after the step at which to read, and largest deviation, itself allowed [s].
    electrode : {"cell", "positive", "negative"}
        The negative counts -dE/dI, so that cell = positive + negative.

    Returns
    -------
    resistance_ohm, delay_s : float
        Resistance [ohm] and the delay it was read at [s]; NaN both where no row fits.

    References
    ----------
    R = (V2 - V1) / (I2 - I1) with signed currents, at a stated delay after the step.
    """
    refused = float("nan"), float("nan")
    if first_row < 1:
        return refused
    before = first_row - 1
    rows = np.arange(first_row, last_row + 1)
    shortest = time_s[rows] - time_s[first_row]
    longest = time_s[rows] - time_s[before]
    fits = np.maximum(np.abs(shortest - delay_s), np.abs(longest - delay_s)) <= tolerance_s
    middle = (shortest + longest) / 2.0
    fits &= np.isfinite(potential_V[rows]) & np.isfinite(current_mA[rows])
    if not fits.any() or not np.isfinite(potential_V[before] + current_mA[before]):
        return refused
    chosen = int(np.argmin(np.where(fits, np.abs(middle - delay_s), np.inf)))
    row = rows[chosen]
    step_mA = current_mA[row] - current_mA[before]
    if step_mA == 0.0:
        return refused
    slope = float((potential_V[row] - potential_V[before]) / step_mA * 1000.0)
    return (-slope if electrode == "negative" else slope), float(middle[chosen])


def _dc_by_cycle(
    record: tuple[Floats, Floats, Floats],
    rows: HalfCycles,
    discharge: Integers,
    *,
    delay_s: float,
    tolerance_s: float,
    electrode: Electrode,
) -> tuple[Floats, Floats]:
    """Resistance and delay at the start of each discharge; NaN where there is none."""
    resistance, delay = np.full(discharge.size, np.nan), np.full(discharge.size, np.nan)
    for index in np.flatnonzero(discharge >= 0):
        half = discharge[index]
        first = int(rows.first_row[half])
        # The rows of interest are near the step; the rest of a long discharge is not looked at.
        stop = int(np.searchsorted(record[0], record[0][first] + delay_s + tolerance_s, "right"))
        resistance[index], delay[index] = dc_resistance_ohm(
            *record,
            first_row=first,
            last_row=min(int(rows.last_row[half]), max(stop, first)),
            delay_s=delay_s,
            tolerance_s=tolerance_s,
            electrode=electrode,
        )
    return resistance, delay


def electrode_cycles(
    time_s: Floats,
    current_mA: Floats,
    potential_V: Floats,
    *,
    halves: Halves,
    cycles: Cycles,
    electrode: Electrode,
    longest_gap_s: float,
    dc_delay_s: float,
    dc_delay_tolerance_s: float,
    ohmic_ohm: float | None = None,
) -> ElectrodeCycles:
    """Measure one electrode in every cycle.

    Parameters
    ----------
    time_s, current_mA, potential_V : ndarray, shape (n,)
        Record, offsets of the current set to zero [s, mA, V].
    halves : Halves
        Its half-cycles.
    cycles : Cycles
        Which half-cycles make which cycle.
    electrode : {"positive", "negative"}
        Which electrode the potential belongs to.
    longest_gap_s : float
        Longest interval that is integrated [s].
    dc_delay_s, dc_delay_tolerance_s : float
        Delay of the resistance and its largest deviation [s].
    ohmic_ohm : float or None
        Ohmic part of a negative whose lowest potential is of interest; None: it is not [ohm].

    Returns
    -------
    ElectrodeCycles
        Without shares of polarisation, which take both electrodes: see `with_shares`.
    """
    rows, passed = halves.rows, halves.passed
    _, mean_V = potential_sums(time_s, current_mA, potential_V, rows, longest_gap_s, passed)
    end_V = potential_V[rows.last_row]
    calm_V = without_spikes(potential_V, rows)
    charge_V, discharge_V = pick(mean_V, cycles.charge), pick(mean_V, cycles.discharge)
    half_V = potential_at_half_V(potential_V, rows, passed=passed)
    lowest_V = extremes(calm_V, cycles.first_row, cycles.last_row)[0]
    nothing = np.full(cycles.cycle.size, np.nan)
    resistance, delay = _dc_by_cycle(
        (time_s, current_mA, potential_V),
        rows,
        cycles.discharge,
        delay_s=dc_delay_s,
        tolerance_s=dc_delay_tolerance_s,
        electrode=electrode,
    )
    return ElectrodeCycles(
        mean_charge_potential_V=charge_V,
        mean_discharge_potential_V=discharge_V,
        end_of_charge_potential_V=pick(end_V, cycles.charge),
        end_of_discharge_potential_V=pick(end_V, cycles.discharge),
        minimum_potential_V=lowest_V,
        hysteresis_V=hysteresis_V(
            mean_charge_V=charge_V, mean_discharge_V=discharge_V, electrode=electrode
        ),
        hysteresis_at_half_V=hysteresis_V(
            mean_charge_V=pick(half_V, cycles.charge),
            mean_discharge_V=pick(half_V, cycles.discharge),
            electrode=electrode,
        ),
        polarisation_share=nothing,
        dc_resistance_ohm=resistance,
        dc_delay_s=delay,
        corrected_minimum_V=nothing
        if ohmic_ohm is None
        else corrected_minimum_V(
            current_mA,
            potential_V,
            first_row=cycles.first_row,
            last_row=cycles.last_row,
            ohmic_ohm=ohmic_ohm,
        ),
    )


def with_shares(
    positive: ElectrodeCycles, negative: ElectrodeCycles
) -> tuple[ElectrodeCycles, ElectrodeCycles]:
    """Give both electrodes with their shares in the polarisation of the cell."""
    one, other = positive.hysteresis_V, negative.hysteresis_V
    return (
        replace(positive, polarisation_share=polarisation_share(one, other)),
        replace(negative, polarisation_share=polarisation_share(other, one)),
    )


def closure_V(cell_V: Floats, positive_V: Floats, negative_V: Floats) -> Floats:
    """How far the cell voltage is from the difference of the two potentials.

    It sees faults of polarity, channel, gain and timing only: the reference cancels in it.

    Parameters
    ----------
    cell_V, positive_V, negative_V : ndarray, shape (n,)
        The three, each measured by itself [V].

    Returns
    -------
    ndarray, shape (n,)
        Residual [V]; NaN where one is missing.
    """
    return np.asarray(cell_V - (positive_V - negative_V), dtype=np.float64)
