"""Where the spectra of a cell lie: hours, cycles, whether the reference serves them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from trivet.reasons import Fitness, Purpose
from trivet.schema.cell_facts import CellFacts
from trivet.schema.findings import impedance as words
from trivet.schema.findings.finding import Finding
from trivet.science.lives.cell_clock import cell_clock
from trivet.store.arrow_arrays import is_text
from trivet.store.tables import arrays


@dataclass(frozen=True)
class Place:
    """Where the spectra of a cell lie: zero of its hours, its cycles, what the reference serves.

    `spans` are begin, end and fitness for impedance, in order of time.
    """

    zero_s: float | None
    starts_h: np.ndarray
    cycles: np.ndarray
    spans: tuple[np.ndarray, np.ndarray, list[str]]
    ends_h: np.ndarray

    def hours(self, time_s: float) -> float | None:
        """Hours since the clock start [h]; None where unknown."""
        if self.zero_s is None or not np.isfinite(time_s):
            return None
        return (time_s - self.zero_s) / 3600.0

    def cycle(self, time_h: float | None, stated: float) -> int | None:
        """Cycle during which, or last after which, a spectrum was taken; without time as stated."""
        if time_h is None:
            return int(stated) if np.isfinite(stated) else None
        index = int(np.searchsorted(self.starts_h, time_h, side="right")) - 1
        return int(self.cycles[index]) if index >= 0 else None

    def withholds(self, pair: str, time_h: float | None) -> bool:
        """Whether the reference forbids the numbers of a pair."""
        if pair == "cell":
            return False
        starts_h, ends_h, fitness = self.spans
        if time_h is None or not starts_h.size:
            return True
        # A spectrum of the fresh cell stands before its first row; a reference that serves there
        # was plated before.
        index = max(int(np.searchsorted(starts_h, time_h, side="right")) - 1, 0)
        time_h = max(time_h, float(starts_h[0]))
        inside = time_h < ends_h[index] or index == len(fitness) - 1
        return not inside or fitness[index] == Fitness.NOT_FIT

    def hours_of_cycle(self, stated: float) -> float | None:
        """End of the cycle that a file states, where the cell has it [h]."""
        mine = np.flatnonzero(self.cycles == stated) if np.isfinite(stated) else np.zeros(0, int)
        return float(self.ends_h[mine[0]]) if mine.size else None


def place_of(
    facts: CellFacts, times_s: np.ndarray, cycles: pa.Table, fitness: pa.Table, ledger: pa.Table
) -> tuple[Place, list[Finding]]:
    """Find where the spectra lie; the same clock as that of the cycles."""
    files = ledger.filter(is_text(ledger["content"], "cycling"))
    bounds = arrays(files.select(["first_time_s", "last_time_s"]))
    known = np.isfinite(bounds["first_time_s"]) & np.isfinite(bounds["last_time_s"])
    clock = cell_clock(
        first_time_s=bounds["first_time_s"][known],
        last_time_s=bounds["last_time_s"][known],
        absolute=all(word == "yes" for word in files["absolute_time"].to_pylist()),
        clock_start_s=facts.clock_start_s,
        cut_s=None,
        running_within_h=0.0,
    )
    zero_s, findings = clock.zero_s, []
    if zero_s is None and clock.first_h is None and np.isfinite(times_s).any():
        zero_s = float(np.nanmin(times_s))
        findings = [words.hours_from_first_spectrum(facts.cell)]
    numbered = arrays(cycles.select(["cycle", "start_h", "end_h"]))
    track = arrays(fitness.filter(is_text(fitness["purpose"], Purpose.IMPEDANCE.value)))
    spans = (track["from_h"], track["to_h"], track["fitness"].tolist())
    place = Place(zero_s, numbered["start_h"], numbered["cycle"], spans, numbered["end_h"])
    return place, findings


def expected_share(separators: str) -> float:
    """Share of the positive in the ohmic resistance by the separators on each side, `2+1`.

    Parameters
    ----------
    separators : str
        As in the build sheet, those on the side of the positive first; a half where it is not
        two numbers.
    """
    sides = separators.split("+")
    if len(sides) != 2 or not all(side.strip().isdecimal() for side in sides):
        return 0.5
    first, second = (int(side) for side in sides)
    return first / (first + second) if first + second else 0.5
