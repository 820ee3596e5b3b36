"""How the beginning of a cell's first half-cycle is known, and what is said of it."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from trivet.reasons import Beginning
from trivet.schema.findings import cycling as cycling_findings
from trivet.schema.findings.finding import Finding
from trivet.science.cycling.beginning import beginning
from trivet.science.cycling.half_cycle_measures import CycleRules, Halves
from trivet.stages.cycling.cell import Cell


def first_beginning(cell: Cell, series: pa.Table, halves: Halves, rules: CycleRules) -> Beginning:
    """How it is known that the first half-cycle was seen from its beginning."""
    record = cell.record
    elapsed_s = series["elapsed_s"][0].as_py() if series.num_rows else None
    built = cell.zero_s is not None and cell.facts.clock_start_s is not None
    return beginning(
        record.current_mA,
        record.cell_V,
        halves,
        rules,
        since_built_s=float(record.time_s[0]) if built else None,
        since_test_s=elapsed_s if elapsed_s is not None and np.isfinite(elapsed_s) else None,
        open_share=cell.cycling.switch_bound_share,
    )


def beginning_findings(cell: Cell, begun: Beginning, halves: Halves) -> list[Finding]:
    """What is said where the first row carries current already."""
    if begun is Beginning.SEEN:
        return []
    if begun is Beginning.NOT_KNOWN:
        charging = bool(halves.rows.sign[0] > 0)
        return [cycling_findings.first_half_open(cell.name, charging=charging)]
    return [cycling_findings.first_half_taken(cell.name, how=begun.value)]
