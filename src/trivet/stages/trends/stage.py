"""What needs the spectra of all cells: second pass, trends of resistances, relaxation times."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pyarrow as pa

from trivet.schema.settings.trends import TrendTrust
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.contract import STAGES
from trivet.stages.job import Job
from trivet.stages.trends.relaxation import relaxation_rows
from trivet.stages.trends.rows import mark_alike, mark_shares, separator_rows, trend_rows
from trivet.stages.trends.second_pass import pair_models, points_of, second_pass
from trivet.store.tables import rows_table

OUTPUTS = STAGES["trends"].writes
Row = dict[str, Any]


def run(
    *,
    cells: pa.Table,
    spectra: pa.Table,
    curves: pa.Table,
    trust: TrendTrust,
    confidence: float,
    lifetimes: pa.Table | None = None,
) -> dict[str, pa.Table]:
    """Fit every accepted spectrum again with the exponents of the campaign, and measure trends.

    Parameters
    ----------
    cells, spectra, curves : pyarrow.Table
        Tables of the campaign (`curves` is spectrum_curves).
    trust : TrendTrust
        When spectra are put on one line.
    confidence : float
        Confidence of the limits [1].
    lifetimes : pyarrow.Table or None
        Table of this name: spectra after the end of a cell are left out.

    Returns
    -------
    dict of str to pyarrow.Table
        Tables by name, see `OUTPUTS`; without rows where there are no spectra.
    """
    ends = _ends_h(lifetimes)
    # what comes after the end of a cell is no trend of its life
    first = [
        row
        for row in spectra.to_pylist()
        if row["time_h"] is None or row["time_h"] <= ends.get(row["cell"], np.inf)
    ]
    sheet = {row["cell"]: row for row in cells.to_pylist()}
    points = points_of(curves)
    models = pair_models(first)
    rows = [row for row, _ in second_pass(first, points, models)]
    potentials = {
        (row["cell"], row["spectrum"], row["pair"]): row["potential_V"]
        for row in first
        if row.get("potential_V") is not None
    }
    mark_alike(rows, potentials, trust)
    mark_shares(rows)
    batches = {cell: row["batch"] for cell, row in sheet.items() if row["included"]}
    curve_rows, peaks = relaxation_rows(rows, points, models)
    found = {
        "spectra_second_pass": rows,
        "resistance_trends": trend_rows(rows, sheet, confidence=confidence),
        "separator_resistance": separator_rows(rows, sheet, batches=batches, confidence=confidence),
        "relaxation_times": curve_rows,
        "relaxation_peaks": peaks,
    }
    return {name: _table(name, found[name]) for name in OUTPUTS}


def _ends_h(lifetimes: pa.Table | None) -> dict[str, float]:
    """Hours at which cells ended, of those whose end was seen."""
    return {
        row["cell"]: row["duration"]
        for row in (lifetimes.to_pylist() if lifetimes is not None else ())
        if row["endpoint"] == "cell" and row["clock"] == "hours" and row["observed"]
    }


def _table(name: str, rows: Sequence[Row]) -> pa.Table:
    """Rows as the table of this name; what a row does not say is missing."""
    return rows_table(TABLES[name], rows, sparse=True)


def work(job: Job) -> dict[str, pa.Table]:
    """Fit again, and find the trends of the campaign."""
    return run(
        cells=job.table("cells"),
        spectra=job.table("spectra"),
        curves=job.table("spectrum_curves"),
        lifetimes=job.table("lifetimes"),
        trust=TrendTrust.model_validate(job.settings["trust"]),
        confidence=job.settings["comparison"]["confidence"],
    )
