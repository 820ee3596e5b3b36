"""Reading against arrow alone: processor time and memory on one clean file of many rows.

Run as `python -m trivet.studies.bench [ROWS]`. Each side runs in a process of its own, so that the
memory of one does not count for the other. The memory of the stage grows with the rows of a cell,
so a tenth of the rows is read too, and what a row more costs is printed.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from trivet.schema.cell_facts import CellFacts
from trivet.stages.contract import STAGES
from trivet.stages.job import Job, carry_out

ROWS = 2_500_000
LIMIT = 1.5
BYTES_A_ROW = 128
"""Memory for each row of a cell that the stage may take at most [B]; its text is not held."""
_HEADER = (
    "Test Time / s,Voltage / V,Current / A,Unix Time / s,Cycle Count / 1,"
    "Ambient Temperature / degC,Positive Electrode Potential / V,Negative Electrode Potential / V"
)
_CHUNK = 100_000


def write_clean_file(path: Path, rows: int) -> None:
    """Write charges and discharges of two hours each, a row a second, as the open format."""
    with path.open("w", encoding="ascii") as file:
        file.write(_HEADER + "\n")
        for start in range(0, rows, _CHUNK):
            time_s = np.arange(start, min(start + _CHUNK, rows), dtype=float)
            share = time_s % 7200 / 7200
            up = time_s // 7200 % 2 == 0
            positive_V = np.where(up, 3.30 + 0.3 * share, 3.60 - 0.3 * share)
            negative_V = np.where(up, 0.30 - 0.2 * share, 0.10 + 0.2 * share)
            columns = (
                time_s,
                positive_V - negative_V,
                np.where(up, 0.001, -0.001),
                1.7e9 + time_s,
                time_s // 14400 + 1,
                25 + 0.1 * share,
                positive_V,
                negative_V,
            )
            flat = tuple(np.column_stack(columns).ravel().tolist())
            row = "%.3f,%.5f,%.8f,%.3f,%d,%.2f,%.5f,%.5f\n"
            file.write((row * len(time_s)) % flat)


def by_arrow(path: Path, out: Path) -> None:
    """What arrow alone does: read all columns and write them."""
    one = pa_csv.ReadOptions(use_threads=False)
    table = pa_csv.read_csv(path, read_options=one)
    pq.write_table(table, out / "arrow.parquet", compression="zstd")


def by_stage(path: Path, out: Path) -> None:
    """What the stage does: read, prove, account for every row, and write."""
    settings: dict[str, Any] = {
        "raw": {"cycling": [{"files": "{cell}.csv"}]},
        "campaign": {"time_zone": "UTC", "data_cut": None},
        "cycling": {"lower_voltage_V": 2.5, "upper_voltage_V": 3.65, "capacity_basis_mAh": 2.0},
    }
    facts = CellFacts(path.stem, "1")
    job = Job(STAGES["read"], out, path.parent, settings, cell=facts, raw_files=(path,))
    carry_out(job)


def measured(side: str, path: Path, out: Path) -> tuple[float, float]:
    """Processor time [s] and largest memory [MB] of one side in its own process."""
    command = [sys.executable, "-m", "trivet.studies.bench", side, str(path), str(out)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    used, peak = done.stdout.split()
    return float(used), float(peak)


def main(argv: list[str] | None = None) -> int:
    """Run one side, or both and print their ratio; 1 where the ratio is above the limit."""
    given = sys.argv[1:] if argv is None else argv
    if len(given) == 3:
        pa.set_cpu_count(1)
        {"arrow": by_arrow, "stage": by_stage, "tenth": by_stage}[given[0]](
            Path(given[1]), Path(given[2])
        )
        usage = resource.getrusage(resource.RUSAGE_SELF)
        sys.stdout.write(f"{usage.ru_utime + usage.ru_stime} {usage.ru_maxrss / 1024}\n")
        return 0
    rows = int(given[0]) if given else ROWS
    sides = ("arrow", "stage", "tenth")
    with tempfile.TemporaryDirectory() as folder:
        path, tenth, out = (Path(folder) / name for name in ("clean.csv", "tenth.csv", "out"))
        out.mkdir()
        write_clean_file(path, rows)
        write_clean_file(tenth, rows // 10)
        # By turns, so that a machine that slows down slows all of them.
        runs = [[measured(side, tenth if side == "tenth" else path, out) for side in sides]
                for _ in range(3)]  # fmt: skip
    best = {side: min(run[at][0] for run in runs) for at, side in enumerate(sides)}
    peak = {side: max(run[at][1] for run in runs) for at, side in enumerate(sides)}
    ratio = best["stage"] / best["arrow"]
    bytes_a_row = (peak["stage"] - peak["tenth"]) * 2**20 / (rows - rows // 10)
    sys.stdout.write(
        f"{rows} rows: arrow alone {best['arrow']:.2f} s, {peak['arrow']:.0f} MB; "
        f"stage read {best['stage']:.2f} s, {peak['stage']:.0f} MB, "
        f"{bytes_a_row:.0f} bytes a row more, limit {BYTES_A_ROW}; "
        f"ratio of processor time {ratio:.2f}, limit {LIMIT}\n"
    )
    return int(ratio > LIMIT or bytes_a_row > BYTES_A_ROW)


if __name__ == "__main__":
    sys.exit(main())
