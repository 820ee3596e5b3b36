"""How long cycles and electrodes of a million rows take, beside reading them.

`python -m trivet.studies.bench_cycling` prints two comparisons and whether their aims hold: cycles
and electrodes alone take at most what pandas needs to read the Parquet file and half a second; the
whole stage, with everything that is said of a cell, takes for each further million rows at most
what arrow needs to read them as text and 0.3 s.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

from trivet.reasons import AnchorKind
from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.science import Cycling
from trivet.schema.tables.dictionary import TABLES
from trivet.science.cycling.cycles import cycles
from trivet.science.cycling.half_cycle_measures import CycleRules, measure_halves
from trivet.science.cycling.integrals import without_offset
from trivet.science.electrodes.electrode_cycles import Electrode, electrode_cycles, with_shares
from trivet.stages.cycling.stage import run
from trivet.store.tables import write_table
from trivet.studies.reference_faults import START_S, ledger_of_one_file, series_of, settings_of
from trivet.studies.weeks import Week, healthy_week

ALLOWED_S = 0.5
STAGE_ALLOWED_S = 0.3
REPEATS = 5
_READ = ("time_s", "current_mA", "cell_V", "positive_V", "negative_V")


@dataclass(frozen=True)
class Timing:
    """Best of several runs each [s]: reading with pandas, and cycles with both electrodes."""

    rows: int
    reading_s: float
    computing_s: float

    @property
    def holds(self) -> bool:
        """Whether computing takes at most reading and half a second."""
        return self.computing_s <= self.reading_s + ALLOWED_S


def long_record(rows: int) -> Week:
    """Give a record of many rows: simulated weeks, made denser between their rows."""
    week = healthy_week("graphite", days=28.0)
    dense = np.linspace(0.0, week.time_s.size - 1.0, rows)
    # Rows at one time stay apart: the place between rows is what is interpolated.
    place = np.arange(week.time_s.size, dtype=float)
    return Week(*(np.interp(dense, place, values) for values in vars(week).values()))


def compute(week: Week) -> int:
    """Compute the cycles of a record and both electrodes; gives the number of cycles."""
    given = Cycling(
        capacity_basis_mAh=2.0, ageing_rate=0.5, upper_voltage_V=3.38, lower_voltage_V=2.8
    )
    rules = CycleRules(**{key: getattr(given, key) for key in CycleRules.__dataclass_fields__})
    halves = measure_halves(week.time_s, week.current_mA, week.cell_V, rules)
    found = cycles(week.time_s, week.current_mA, week.cell_V, halves, rules)
    current = without_offset(week.current_mA, zero_current_mA=given.zero_current_mA)
    potentials: dict[Electrode, np.ndarray] = {
        "positive": week.positive_V,
        "negative": week.negative_V,
    }
    both = [
        electrode_cycles(
            week.time_s,
            current,
            potential_V,
            halves=halves,
            cycles=found,
            electrode=electrode,
            longest_gap_s=given.longest_gap_s,
            dc_delay_s=given.dc_delay_s,
            dc_delay_tolerance_s=given.dc_delay_tolerance_s,
            ohmic_ohm=0.0 if electrode == "negative" else None,
        )
        for electrode, potential_V in potentials.items()
    ]
    with_shares(*both)
    return int(found.cycle.size)


def _best_s(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Shortest of several runs by a clock [s]."""
    times = []
    for _ in range(REPEATS):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)


def measure(rows: int, *, folder: Path) -> Timing:
    """Time both on a record of some rows.

    Parameters
    ----------
    rows : int
        Rows of the record.
    folder : pathlib.Path
        Where the Parquet file is written.
    """
    import pandas as pd  # noqa: PLC0415 (only the benchmark needs it)

    week, path = long_record(rows), folder / "series.parquet"
    write_table(TABLES["series"], series_of(week), path)
    return Timing(rows, _best_s(lambda: pd.read_parquet(path)), _best_s(lambda: compute(week)))


@dataclass(frozen=True)
class StageTiming:
    """What further rows cost, processor time [s]: as text read by arrow, and in the whole stage."""

    rows: int
    reading_s: float
    stage_s: float

    @property
    def holds(self) -> bool:
        """Whether the stage takes at most reading and what is allowed."""
        return self.stage_s <= self.reading_s + STAGE_ALLOWED_S * self.rows / 1e6


def measure_stage(rows: int) -> StageTiming:
    """Time the stage `cycling` and reading on `rows` and twice as many; the difference counts.

    Parameters
    ----------
    rows : int
        Rows of the shorter record; the longer one has twice as many.
    """
    shorter, longer = (_stage_and_reading(number) for number in (rows, 2 * rows))
    return StageTiming(rows, longer[1] - shorter[1], longer[0] - shorter[0])


def _stage_and_reading(rows: int) -> tuple[float, float]:
    """Processor time of the stage, and of reading the same rows as text [s]."""
    series = series_of(long_record(rows))
    text = pa.BufferOutputStream()
    pacsv.write_csv(series.select(list(_READ)), text)
    content = text.getvalue()
    plated = LogEntry("s", START_S + 3600.0, "plated", charge_mAh=0.035)
    facts = CellFacts("s", "b", clock_start_s=START_S, log=(plated,))
    settings = settings_of(AnchorKind.POSITIVE_PLATEAU)
    ledger = ledger_of_one_file()
    return (
        _best_s(
            lambda: run(facts=facts, series=series, ledger=ledger, settings=settings),
            time.process_time,
        ),
        _best_s(lambda: pacsv.read_csv(pa.BufferReader(content)), time.process_time),
    )


def main(argv: Sequence[str] | None = None) -> None:
    """Print the times."""
    parser = argparse.ArgumentParser(description="Time of cycles and electrodes.")
    parser.add_argument("--rows", type=int, default=1_000_000)
    given = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as folder:
        found = measure(given.rows, folder=Path(folder))
    sys.stdout.write(
        f"{found.rows} rows: pandas reads them in {found.reading_s:.3f} s, cycles and both "
        f"electrodes take {found.computing_s:.3f} s "
        f"({found.computing_s / found.reading_s:.2f} times as long); aim (reading and "
        f"{ALLOWED_S:g} s) {'holds' if found.holds else 'missed'}.\n"
    )
    stage = measure_stage(given.rows // 2)
    sys.stdout.write(
        f"{stage.rows} further rows: arrow reads them as text in {stage.reading_s:.3f} s, the "
        f"whole stage takes {stage.stage_s:.3f} s "
        f"({stage.stage_s / stage.reading_s:.2f} times as long); "
        f"aim (reading and {STAGE_ALLOWED_S:g} s a million) "
        f"{'holds' if stage.holds else 'missed'}.\n"
    )


if __name__ == "__main__":
    main()
