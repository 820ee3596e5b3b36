"""Write the series of one cell as the open Battery Data Format, on request."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from trivet.archive.bdf import write_bdf
from trivet.stages.job import Job
from trivet.store.arrow_arrays import is_text, truths


def work(job: Job) -> dict[str, pa.Table]:
    """Write the series of the cell beside its tables."""
    files = job.table("ledger")
    cycling = files.filter(is_text(files["content"], "cycling"))
    absolute = bool(np.all(truths(is_text(cycling["absolute_time"], "yes"))))
    out = job.results / "cells" / job.the_cell.cell / "series.bdf.csv"
    write_bdf(job.table("series"), out, absolute=absolute)
    return {}
