"""Write the series of one cell as the open Battery Data Format, on request."""

from __future__ import annotations

import pyarrow as pa
import pyarrow.compute as pc

from trivet.archive.bdf import write_bdf
from trivet.stages.job import Job


def work(job: Job) -> dict[str, pa.Table]:
    """Write the series of the cell beside its tables."""
    files = job.table("ledger")
    cycling = files.filter(pc.equal(files["content"], "cycling"))
    absolute = bool(pc.all(pc.equal(cycling["absolute_time"], "yes")).as_py())
    out = job.results / "cells" / job.the_cell.cell / "series.bdf.csv"
    write_bdf(job.table("series"), out, absolute=absolute)
    return {}
