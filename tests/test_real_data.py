"""Real open data: one pouch cell's rate test in the style of the open format.

Data: S. Clark, open course on structured battery data, 2025, CC BY 4.0. The file is not part of
the project; where the folder of open data does not stand beside it, the tests are skipped.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trivet.rawfiles.layout.patterns import RawFile
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Raw
from trivet.science.cycling.half_cycles import half_cycles
from trivet.science.cycling.integrals import charge_mAh, span_sums
from trivet.stages.read import ReadTables, run
from trivet.store.tables import arrays

OPEN_DATA = Path(__file__).resolve().parents[1] / ".." / "shared" / "real-data"
STEP_CHARGES_AH = (
    *(4.3086, 7.1761, 7.3245, 7.2396, 7.2911),
    *(7.2224, 7.2677, 7.1938, 7.2231, 7.1700),
)
"""Charge of each charge and discharge step in order of time, from the description of the data;
the instrument's own counters agree within 1e-4 Ah."""


@pytest.fixture(scope="module")
def pouch() -> ReadTables:
    """The rate test as the stage reads it."""
    path = OPEN_DATA / "pouch-rate-test.csv"
    if not path.is_file():
        pytest.skip("the folder of open data is not beside the project")
    file = RawFile(path, "pouch-rate-test.csv", "cycling", "bdf")
    return run(facts=CellFacts("pouch", "1"), files=[file], raw=Raw(), time_zone="UTC")


def test_every_row_is_read_without_a_layout(pouch: ReadTables) -> None:
    """All 13,084 rows are used, the zero-length steps included, and the sign is proved.

    The elapsed time has 19 zero-length steps; in one of them the calendar runs on by 36,533 s.
    """
    series, ledger = arrays(pouch.series), arrays(pouch.ledger)
    assert ledger["rows_used"].tolist() == [13084]
    assert ledger["rows_set_aside"].tolist() == [0]
    steps_s = np.diff(series["time_s"])
    assert int(np.sum(steps_s == 0)) == 18
    assert np.max(steps_s) == pytest.approx(36533, abs=5)
    assert "proved by the voltage" in ledger["assumed"][0]
    assert ledger["assumed"][0].endswith(" 0 mAh against")


def test_step_charges(pouch: ReadTables) -> None:
    """The ten charges agree with those stated with the data, to their last digit."""
    series = arrays(pouch.series)
    current_mA = series["current_mA"]
    halves = half_cycles(current_mA, zero_current_mA=1.0)
    got = []
    for sign, first, last in zip(halves.sign, halves.from_row, halves.to_row, strict=True):
        moved = charge_mAh(series["time_s"], current_mA, sign=int(sign), longest_gap_s=600.0)
        got.append(float(span_sums(moved, np.array([first]), np.array([last]))[0]) / 1000)
    np.testing.assert_allclose(np.abs(got), STEP_CHARGES_AH, rtol=0, atol=1e-4)
