"""Write the series of one cell as the open Battery Data Format, on request.

Settings
--------
none

Reads
-----
series and ledger of the cell, in this order

Writes
------
series.bdf.csv, series.bdf.csv-metadata.json
"""

from __future__ import annotations

from collections.abc import Sequence

import pyarrow.compute as pc

from trivet.archive.bdf import write_bdf
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.command import parse, spare_pandas
from trivet.store.tables import read_table


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, (__doc__ or "").splitlines()[0])
    series, ledger = command.inputs
    files = read_table(TABLES["ledger"], ledger)
    cycling = files.filter(pc.equal(files["content"], "cycling"))
    absolute = bool(pc.all(pc.equal(cycling["absolute_time"], "yes")).as_py())
    data = read_table(TABLES["series"], series)
    write_bdf(data, command.out / "series.bdf.csv", absolute=absolute)


if __name__ == "__main__":
    spare_pandas()
    main()
