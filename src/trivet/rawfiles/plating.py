"""Files of the current that plated a reference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from trivet.rawfiles.layout.declared import layout_named
from trivet.rawfiles.layout.patterns import RawFile
from trivet.rawfiles.reading.raw_read import RawRead, about_missing
from trivet.rawfiles.reading.reader import read_file
from trivet.rawfiles.suspicion.copies import stop_copies
from trivet.rawfiles.time.far_dates import without_far_dates
from trivet.rawfiles.time.time_axis import place_rows
from trivet.rawfiles.two_currents import with_one_current
from trivet.schema.settings.raw import Raw
from trivet.schema.tables.raw import PLATING_SERIES
from trivet.store.tables import repeated


@dataclass(frozen=True)
class PlatingRead:
    """Plating files of a cell.

    Attributes
    ----------
    columns : dict of str to numpy.ndarray or pyarrow.Array, shape (n_rows,)
        Columns of the table `plating_series`.
    reads : tuple of RawRead
        Every file with the account of its rows.
    """

    columns: dict[str, Any]
    reads: tuple[RawRead, ...]


def read_platings(
    files: Sequence[RawFile],
    *,
    cell: str,
    raw: Raw,
    time_zone: str,
    data_cut_s: float | None = None,
) -> PlatingRead:
    """Read the plating files of a cell.

    Parameters
    ----------
    files : sequence of RawFile
        Its plating files, in the order of their names.
    cell : str
        Id of the cell.
    raw : Raw
        Patterns and layouts.
    time_zone : str
        IANA zone of the campaign.
    data_cut_s : float or None
        Unix time after which rows do not count [s].

    Returns
    -------
    PlatingRead
        Times [s] and currents [mA] file by file. The sign of the current is not needed, since
        the charge of a plating is taken without it.
    """
    layouts = {
        file.layout: layout_named(raw, name=file.layout, time_zone=time_zone) for file in files
    }
    reads = stop_copies([read_file(file, cell=cell, layout=layouts[file.layout]) for file in files])
    reads = [with_one_current(read) for read in reads]
    reads = [place_rows(read, layout=layouts[read.file.layout]).until(data_cut_s) for read in reads]
    reads = without_far_dates(reads, known_s=(), longest_pause_d=raw.longest_pause_d)
    reads = [about_missing(_with_current(read)) for read in reads]
    return PlatingRead(_columns(reads, cell), tuple(reads))


def _with_current(read: RawRead) -> RawRead:
    """Refuse a file without a current."""
    if not len(read.lines) or "current" in read.values:
        return read
    return read.refuse("missing column", "the file has no column of current")


def _columns(reads: Sequence[RawRead], cell: str) -> dict[str, Any]:
    """Columns of the table, files in order."""
    used = [read for read in reads if len(read.lines)]
    if not used:
        return {name: np.zeros(0) for name in PLATING_SERIES.names}
    lengths = [len(read.lines) for read in used]
    return {
        "cell": repeated([cell], [sum(lengths)]),
        "time_s": np.concatenate([read.time_s for read in used]),
        "current_mA": np.concatenate([read.values["current"] for read in used]),
        "file": repeated([read.file.relative for read in used], lengths),
        "line": np.concatenate([read.lines for read in used]),
    }
