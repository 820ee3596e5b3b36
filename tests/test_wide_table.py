"""A campaign whose only raw file is a wide impedance table with capacities: real coin cells.

Data: Zhang et al., Nat. Commun. 11 (2020) 1706, copy under MIT licence. The files are not part of
the project; where the folder of open data does not stand beside it, the tests are skipped.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from campaign_runs import run_here

from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import arrays, read_table

OPEN_DATA = Path(__file__).resolve().parents[1] / ".." / "shared" / "real-data"
FILES = ("coin-cell-impedance-wide.csv", "coin-cell-impedance-frequencies.csv")
FIRST_BELOW = {"1": 118, "2": 7, "3": 83, "4": None}
"""First record below 80 % of the first capacity, from the description of the data."""
LAST_RECORD = 125
"""Records of each cell that are read: all lives that end do so before."""
SETTINGS = """\
campaign: {id: coin, title: Coin cells, question: "How long do they last?"}
build_sheet: {factors: [kind]}
bench_log: {file: null}
raw:
  impedance:
    - {files: raw/coin-cell-impedance-wide.csv, layout: wide, pair: cell}
  layouts:
    wide:
      capacitive_imaginary: positive
      wide_real: "ZReal_{frequency}Hz"
      wide_imaginary: "ZImag_{frequency}Hz"
      frequencies_file: raw/coin-cell-impedance-frequencies.csv
      columns:
        - {header: seriesIdx, quantity: cell}
        - {header: cycle, quantity: cycle}
        - {header: Q, quantity: capacity, unit: mAh}
electrodes:
  positive: {material: other}
  negative: {material: graphite}
cycling:
  capacity_basis_mAh: 45.0
  ageing_rate: 1.0
  upper_voltage_V: 4.2
  lower_voltage_V: 3.0
impedance: {cell_arcs: 1, diffusion: false, inductance: false, starts: 1}
comparison:
  factors:
    - {factor: kind, control: a}
"""
SHEET = "cell,batch,kind,included,exclusion_reason,crimped_at\n" + "".join(
    f"{cell},1,{kind},yes,,2020-01-01T00:00\n" for cell, kind in zip("1234", "aabb", strict=True)
)


@pytest.fixture(scope="module")
def coin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The campaign, run to the lives of its cells."""
    if not (OPEN_DATA / FILES[0]).is_file():
        pytest.skip("the folder of open data is not beside the project")
    work = tmp_path_factory.mktemp("coin")
    campaign = work / "campaign"
    (campaign / "raw").mkdir(parents=True)
    shutil.copyfile(OPEN_DATA / FILES[1], campaign / "raw" / FILES[1])
    first, *records = (OPEN_DATA / FILES[0]).read_text(encoding="utf-8").splitlines()
    kept = [row for row in records if int(row.split(",")[1]) <= LAST_RECORD]
    table = "\n".join([first, *kept, ""])
    (campaign / "raw" / FILES[0]).write_text(table, encoding="utf-8")
    (campaign / "campaign.yaml").write_text(SETTINGS, encoding="utf-8")
    (campaign / "build-sheet.csv").write_text(SHEET, encoding="utf-8")
    for job in run_here(campaign, work / "reports"):
        if job.stage.name == "lifetime":
            break
    return work / "reports" / "coin" / "tables"


def columns(folder: Path, name: str) -> dict[str, np.ndarray]:
    """Columns of a table of the campaign."""
    return arrays(read_table(TABLES[name], folder / f"{name}.parquet"))


def test_first_record_below_80_percent(coin: Path) -> None:
    """Cells 1 to 3 first fall below 80 % at records 118, 7 and 83; cell 4 never does."""
    cycles = columns(coin, "cycles")
    for cell, first in FIRST_BELOW.items():
        mine = cycles["cell"] == cell
        below = cycles["cycle"][mine & (cycles["retention"] < 0.8)]
        assert (int(below[0]) if len(below) else None) == first


def persistent(retention: np.ndarray) -> int | None:
    """Number of the first record of three in a row below 80 %."""
    below = retention < 0.8
    runs = np.flatnonzero(below[:-2] & below[1:-1] & below[2:])
    return int(runs[0]) + 1 if len(runs) else None


def test_lives_need_persistence(coin: Path) -> None:
    """Lives count in cycles and end with three records in a row below 80 %; cell 4 is censored.

    The capacities are taken from the raw file here, not from our tables.
    """
    raw = np.loadtxt(OPEN_DATA / FILES[0], delimiter=",", skiprows=1, usecols=(0, 2))
    lives = columns(coin, "lifetimes")
    cells = (lives["endpoint"] == "cell") & (lives["clock"] == "cycles")
    ended = dict(zip(lives["cell"][cells], lives["observed"][cells], strict=True))
    assert ended == {"1": 1, "2": 1, "3": 1, "4": 0}
    found = dict(zip(lives["cell"][cells], lives["duration"][cells], strict=True))
    for cell in "123":
        capacity = raw[raw[:, 0] == int(cell), 1]
        assert found[cell] == persistent(capacity / capacity[0])
    hours = (lives["endpoint"] == "cell") & (lives["clock"] == "hours")
    assert not lives["observed"][hours].any()


def test_spectra_have_the_exact_frequencies(coin: Path) -> None:
    """Every row is a spectrum of 60 points with the frequencies of the second file."""
    exact = np.loadtxt(OPEN_DATA / FILES[1])
    ledger = columns(coin, "ledger")
    assert ledger["rows_set_aside"].sum() == 0
    path = coin.parent / "cells" / "1" / "read" / "spectrum_points.parquet"
    points = arrays(read_table(TABLES["spectrum_points"], path))
    assert len(points["frequency_Hz"]) == 60 * ledger["rows_used"][ledger["cell"] == "1"][0]
    np.testing.assert_array_equal(points["frequency_Hz"][:60], exact)
