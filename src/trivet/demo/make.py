"""Make the raw files and the truth of the demonstration campaign.

`python -m trivet.demo.make FOLDER` writes `FOLDER/raw` and `FOLDER/truth`; with `--sheets` also
the settings, the build sheet and the bench log, which for another seed differ from those kept in
the repository. The same seed gives the same bytes, cell by cell.
"""

from __future__ import annotations

import argparse
import csv
import json
import shutil
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from trivet.demo.layouts import cycling_file
from trivet.demo.plan import DEFAULT_SEED, CellPlan, plan_campaign
from trivet.demo.protocol import CellRun, simulate
from trivet.demo.scenario import CAMPAIGN
from trivet.demo.sheets import bench_log, build_sheet
from trivet.demo.spectrum_layouts import impedance_files
from trivet.demo.truth import true_cell, true_cycles, true_resistances


def write_raw(folder: Path, *, run: CellRun) -> int:
    """Write the raw files of one cell.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    run : CellRun
        What happened to the cell.

    Returns
    -------
    int
        Bytes written.
    """
    written = 0
    for name, content in (cycling_file(run), *impedance_files(run)):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        written += len(content)
    return written


def write_truth(folder: Path, *, runs: Sequence[tuple[CellPlan, CellRun | None]]) -> None:
    """Write `truth/cells.json`, `truth/cycles.csv` and `truth/resistances.csv`.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    runs : sequence of (CellPlan, CellRun or None)
        All cells with what happened to them.
    """
    truth = folder / "truth"
    truth.mkdir(parents=True, exist_ok=True)
    cells = [true_cell(plan, run=run) for plan, run in runs]
    (truth / "cells.json").write_text(json.dumps(cells, indent=1) + "\n", encoding="utf-8")
    existing = [run for _, run in runs if run is not None]
    cycles = [asdict(cycle) for run in existing for cycle in true_cycles(run)]
    _write_rows(truth / "cycles.csv", cycles)
    resistances = [row for run in existing for row in true_resistances(run)]
    _write_rows(truth / "resistances.csv", resistances)


def keep_cells(folder: Path, *, cells: Sequence[str]) -> None:
    """Keep some cells of the demonstration: in its build sheet and bench log.

    Parameters
    ----------
    folder : Path
        The campaign folder, with both tables.
    cells : sequence of str
        Ids of the cells that stay.
    """
    for name in ("build-sheet.csv", "bench-log.csv"):
        path = folder / name
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
        kept = [row for row in rows if row["cell"] in cells]
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(kept)


def _write_rows(path: Path, rows: Sequence[dict[str, Any]]) -> None:
    """Write rows as comma-separated text; a file without rows is empty."""
    with path.open("w", encoding="utf-8", newline="") as file:
        if rows:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def write_sheets(folder: Path, *, runs: Sequence[tuple[CellPlan, CellRun | None]]) -> None:
    """Write settings, build sheet and bench log.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    runs : sequence of (CellPlan, CellRun or None)
        All cells with what happened to them.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "campaign.yaml").write_text(CAMPAIGN, encoding="utf-8")
    sheet = build_sheet(plan for plan, _ in runs)
    (folder / "build-sheet.csv").write_text(sheet, encoding="utf-8")
    (folder / "bench-log.csv").write_text(bench_log(runs), encoding="utf-8")


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    """Arguments of the command."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, help="campaign folder to write to")
    parser.add_argument("--seed", type=int, default=DEFAULT_SEED, help="seed of the campaign")
    parser.add_argument(
        "--seal-effect",
        type=float,
        default=1.0,
        help="size of the effect of the seal on life; 0: none",
    )
    parser.add_argument("--cells", nargs="*", default=None, help="only these cells, no truth")
    parser.add_argument(
        "--sheets", action="store_true", help="write settings, build sheet and bench log too"
    )
    return parser.parse_args(argv)


def main(argv: Sequence[str] | None = None) -> None:
    """Make the demonstration campaign."""
    given = _arguments(argv)
    plans = plan_campaign(given.seed, seal_effect=given.seal_effect)
    unknown = set(given.cells or ()) - {plan.cell for plan in plans}
    if unknown:
        sys.exit(f"no such cell in the demo: {', '.join(sorted(unknown))}")
    if given.cells is not None:
        plans = tuple(plan for plan in plans if plan.cell in given.cells)
    else:
        # Files of an earlier seed or layout must not stay beside the new ones.
        for made in ("raw", "truth"):
            shutil.rmtree(given.folder / made, ignore_errors=True)
    runs = [(plan, simulate(plan)) for plan in plans]
    written = sum(write_raw(given.folder, run=run) for _, run in runs if run is not None)
    if given.cells is None:
        write_truth(given.folder, runs=runs)
    if given.sheets:
        write_sheets(given.folder, runs=runs)
    sys.stdout.write(f"{len(runs)} cells, {written / 1e6:.1f} MB of raw files\n")


if __name__ == "__main__":
    main()
