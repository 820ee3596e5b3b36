"""The cycles of one cell as the rules of its life see them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class CycleRecord:
    """Cycles of one cell in order of time; all arrays (n_cycles,).

    Attributes
    ----------
    cycle : numpy.ndarray
        Number of the cycle, from 1 [1].
    start_h, end_h : numpy.ndarray
        First and last row, hours since the cell's clock start [h].
    charge_capacity_mAh, discharge_capacity_mAh : numpy.ndarray
        Charge passed; NaN where there was no such half-cycle [mAh].
    coulombic_efficiency, retention : numpy.ndarray
        As in the table of cycles; NaN where not defined [1].
    kind : numpy.ndarray
        `formation`, `ageing`, `check-up`, `rate test` or `partial`.
    complete : numpy.ndarray
        True where both half-cycles ran to their end.
    """

    cycle: np.ndarray
    start_h: np.ndarray
    end_h: np.ndarray
    charge_capacity_mAh: np.ndarray
    discharge_capacity_mAh: np.ndarray
    coulombic_efficiency: np.ndarray
    retention: np.ndarray
    kind: np.ndarray
    complete: np.ndarray

    def last_complete(self, time_h: float = np.inf, /) -> tuple[int, float]:
        """Give number and end [h] of the last complete cycle ended by a time; zeros if none."""
        done = np.flatnonzero(self.complete & (self.end_h <= time_h))
        if not done.size:
            return 0, 0.0
        return int(self.cycle[done[-1]]), float(self.end_h[done[-1]])

    def cycle_at(self, time_h: float, /) -> int:
        """Give the number of the cycle that a moment [h] belongs to.

        The last cycle begun by then; the next number where that one was complete already, since
        what happens after a good cycle spoils the one to come.
        """
        begun = np.flatnonzero(self.start_h <= time_h)
        if not begun.size:
            return int(self.cycle[0]) if self.cycle.size else 1
        last = begun[-1]
        over = bool(self.complete[last]) and float(self.end_h[last]) < time_h
        return int(self.cycle[last]) + int(over)

    def reference_capacity_mAh(self) -> float | None:
        """Discharge capacity of the first complete ageing cycle [mAh]; None where there is none."""
        judged = np.flatnonzero(
            (self.kind == "ageing") & self.complete & (self.discharge_capacity_mAh > 0)
        )
        return float(self.discharge_capacity_mAh[judged[0]]) if judged.size else None


def cycle_record(columns: Mapping[str, np.ndarray]) -> CycleRecord:
    """Take the cycles of one cell from columns named as the attributes of `CycleRecord`.

    Parameters
    ----------
    columns : mapping of str to numpy.ndarray
        Columns, (n_cycles,) each; `complete` is 1 or 0 [1].
    """
    taken = {name: columns[name] for name in CycleRecord.__dataclass_fields__}
    return CycleRecord(**taken | {"complete": columns["complete"] == 1})
