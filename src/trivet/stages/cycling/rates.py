"""The table of rate tests: capacity by rate, and what a rate costs each electrode."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

from trivet.reasons import RateReason
from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import Cycles
from trivet.science.cycling.half_cycle_measures import Halves
from trivet.science.electrodes.rate_test import (
    Discharge,
    RateRun,
    drift_error_mV,
    rate_tests,
    voltage_loss,
)
from trivet.stages.cycling.cell import Cell
from trivet.stages.cycling.fading import HELD
from trivet.stages.cycling.fitness import ServedCycles
from trivet.store.tables import rows_table

UNLIKE_K = 2.0
"""Discharges farther apart in temperature are not compared: resistances of cells change by some
percent a kelvin; common practice, no source."""


def rate_table(
    cell: Cell, halves: Halves, found: Cycles, served: ServedCycles, *, exchanged: bool
) -> pa.Table:
    """The table `rate_capability`: a line a rate of each rate test; none without a test."""
    measured = _Measured(cell, halves, found, served, exchanged=exchanged)
    lines = []
    for runs in rate_tests(found, rate_tolerance=cell.cycling.rate_tolerance):
        base = min(runs, key=lambda run: run.rate_per_h)
        lines += [measured.line(run, base) for run in runs]
    return rows_table(TABLES["rate_capability"], lines, sparse=True)


class _Measured:
    """A cell from which discharges are cut."""

    def __init__(
        self, cell: Cell, halves: Halves, found: Cycles, served: ServedCycles, *, exchanged: bool
    ) -> None:
        self.cell, self.halves, self.found = cell, halves, found
        self.fit = served.difference & (not exchanged)

    def line(self, run: RateRun, base: RateRun) -> dict[str, Any]:
        """One line of the table."""
        place, slow = run.places[-1], base.places[-1]
        capacity = self.found.discharge_capacity_mAh
        reason = self._reason(run, base)
        told = reason is not RateReason.TEMPERATURE and capacity[slow] > 0.0
        line: dict[str, Any] = {
            "cell": self.cell.name,
            "test": run.test,
            "cycle": int(self.found.cycle[place]),
            "time_h": float(self.found.start_h[place]),
            "cycles": len(run.places),
            "c_rate": float(self.found.c_rate[place]),
            "base_cycle": int(self.found.cycle[slow]),
            "base_c_rate": float(self.found.c_rate[slow]),
            "discharge_capacity_mAh": float(capacity[place]),
            "capacity_share": float(capacity[place] / capacity[slow]) if told else None,
            "temperature_degC": self._degrees(place),
            "base_temperature_degC": self._degrees(slow),
            "reason": "" if reason is None else reason.value,
        }
        if reason not in (None, RateReason.REFERENCE, RateReason.NO_ELECTRODES):
            return line
        lost = voltage_loss(self._discharge(slow), self._discharge(place))
        if lost is None:
            return line | {"reason": RateReason.LITTLE_CHARGE.value}
        line |= {
            "cell_loss_mV": lost.cell_mV,
            "from_state_of_charge": 1.0 - lost.to_mAh / float(capacity[slow]),
            "to_state_of_charge": 1.0 - lost.from_mAh / float(capacity[slow]),
        }
        if reason is None:
            line |= {
                "positive_loss_mV": lost.positive_mV,
                "negative_loss_mV": lost.negative_mV,
                "positive_share": lost.positive_share,
                "loss_error_mV": drift_error_mV(
                    limit_mV_per_day=self.cell.trust.drift_suspect_mV_per_day,
                    apart_h=float(self.found.start_h[place] - self.found.start_h[slow]),
                ),
            }
        return line

    def _reason(self, run: RateRun, base: RateRun) -> RateReason | None:
        """Why a rate is not, or not wholly, compared; None where it is."""
        place, slow = run.places[-1], base.places[-1]
        if run is base:
            return RateReason.LOWEST
        degrees = [self._degrees(one) for one in (place, slow)]
        if None not in degrees and abs(degrees[0] - degrees[1]) > UNLIKE_K:  # type: ignore[operator]
            return RateReason.TEMPERATURE
        if not self._charged_alike(place, slow):
            return RateReason.CHARGED_OTHERWISE
        if not self.cell.has_electrodes:
            return RateReason.NO_ELECTRODES
        return None if self.fit[place] and self.fit[slow] else RateReason.REFERENCE

    def _charged_alike(self, place: int, slow: int) -> bool:
        """Whether both charges before ended at one state: both held, or at one current."""
        if (self.found.constant_voltage_share[[place, slow]] > HELD).all():
            return True
        one, other = (self._charging_mA(at) for at in (place, slow))
        return abs(one / other - 1.0) <= self.cell.cycling.rate_tolerance

    def _rows(self, half: int) -> slice:
        """Rows of a half-cycle that carry its current."""
        rows = self.halves.rows
        return slice(int(rows.first_row[half]), int(rows.last_row[half]) + 1)

    def _charging_mA(self, place: int) -> float:
        """Median current of a charge [mA]."""
        current = self.cell.record.current_mA[self._rows(int(self.found.charge[place]))]
        return float(np.nanmedian(current[current > 0.0]))

    def _degrees(self, place: int) -> float | None:
        """Median temperature of a discharge where it was recorded [degC]."""
        degrees = self.cell.temperature_degC[self._rows(int(self.found.discharge[place]))]
        known = degrees[np.isfinite(degrees)]
        return float(np.median(known)) if known.size else None

    def _discharge(self, place: int) -> Discharge:
        """Charge and potentials of a discharge, rows that carry its current."""
        half, record = int(self.found.discharge[place]), self.cell.record
        part, rows = self._rows(half), self.halves.rows
        start = int(rows.from_row[half])
        passed = np.nan_to_num(self.halves.passed[-1][start : part.stop - 1])
        total = np.concatenate([[0.0], np.cumsum(passed)])[part.start - start :]
        flowing = record.current_mA[part] < -self.cell.cycling.zero_current_mA
        return Discharge(
            total[flowing],
            *(
                getattr(record, name)[part][flowing]
                for name in ("cell_V", "positive_V", "negative_V")
            ),
        )
