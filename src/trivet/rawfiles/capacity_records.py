"""Tables that hold several cells, and the capacity that they state beside each spectrum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trivet.rawfiles.reading.raw_read import RawRead
from trivet.schema.tables.raw import CAPACITY_RECORDS
from trivet.store.arrow_arrays import is_text, truths


def of_cell(read: RawRead) -> RawRead:
    """Rows of this cell, where a column names the cell; the others are those of other files.

    They do not count here, since the ledger of their own cell counts them. A row set aside before
    its cell was known counts for every cell of the file.
    """
    names = read.texts.get("cell")
    if names is None:
        return read
    mask = truths(is_text(names, read.cell))
    read = read.keep(np.asarray(mask, dtype=bool))
    texts = {name: column for name, column in read.texts.items() if name != "cell"}
    read = replace(read, texts=texts)
    if len(read.lines):
        return read.assume("rows of this cell only, by the column that names the cell")
    return read.note("no rows", "caution", f"no row of the file names the cell '{read.cell}'")


def capacity_columns(reads: Sequence[RawRead], cell: str) -> dict[str, np.ndarray]:
    """Capacities stated beside spectra, a record each.

    Parameters
    ----------
    reads : sequence of RawRead
        Impedance files of a cell, one entry a row.
    cell : str
        Its id.

    Returns
    -------
    dict of str to numpy.ndarray
        Columns of the table `capacity_records`, in the order of the files; records without a
        capacity or a whole cycle are left out.
    """
    out: dict[str, list[np.ndarray]] = {name: [] for name in CAPACITY_RECORDS.names}
    for read in reads:
        if "capacity" not in read.values or "cycle" not in read.values or read.wide:
            continue
        cycle, capacity_mAh = read.values["cycle"], read.values["capacity"]
        good = np.isfinite(capacity_mAh) & (cycle == np.rint(cycle))
        count = int(good.sum())
        out["cell"].append(np.full(count, cell, dtype=object))
        out["cycle"].append(cycle[good])
        out["capacity_mAh"].append(capacity_mAh[good])
        out["file"].append(np.full(count, read.file.relative, dtype=object))
        out["line"].append(read.lines[good])
    return {name: np.concatenate(parts) if parts else np.zeros(0) for name, parts in out.items()}
