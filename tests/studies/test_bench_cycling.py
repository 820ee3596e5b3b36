"""Time of cycles and electrodes beside reading their rows: the record and the measure.

The aim itself is held against a million rows by `python -m trivet.studies.bench_cycling`; a time
on a busy machine is no test.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.studies.bench_cycling import (
    StageTiming,
    Timing,
    compute,
    long_record,
    measure,
    measure_stage,
)


def test_the_record_has_the_rows_and_cycles_it_should() -> None:
    """Any number of rows of the same four weeks: time does not turn, all cycles are found."""
    record = long_record(30_000)
    assert record.time_s.size == 30_000
    assert (np.diff(record.time_s) >= 0).all()
    # 28 days of cycles of 4.25 h, every fifth with an hour more.
    assert compute(record) == pytest.approx(28 * 24 / 4.45, abs=3)


def test_a_timing_is_held_against_reading_and_half_a_second(tmp_path: Path) -> None:
    """Both parts are timed; the aim is reading plus 0.5 s, itself allowed."""
    found = measure(20_000, folder=tmp_path)
    assert found.reading_s > 0.0
    assert found.computing_s > 0.0
    assert Timing(1, 0.1, 0.6).holds
    assert not Timing(1, 0.1, 0.61).holds


def test_the_whole_stage_is_held_against_reading_text() -> None:
    """Further rows cost time in both; the aim is 0.3 s a million rows beyond reading."""
    found = measure_stage(20_000)
    assert found.rows == 20_000
    assert StageTiming(1_000_000, 0.25, 0.55).holds
    assert not StageTiming(1_000_000, 0.25, 0.56).holds
    assert not StageTiming(100_000, 0.025, 0.06).holds
