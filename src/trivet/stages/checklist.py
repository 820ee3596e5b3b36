"""Fill the reporting checklist of battery papers from build sheet, data and settings.

Settings
--------
campaign (id, licence), electrodes, cycling, reference, trust, lifetime, comparison.

Reads
-----
cells, cycles, spectra, ledger, lifetimes, timeline, plating, cell_measures, spectrum_curves.

Writes
------
checklist.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

import trivet
from trivet.campaign.checklist.items import checklist
from trivet.campaign.checklist.record import Recorded
from trivet.schema.settings.inference import Comparison, Lifetime
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.command import parse, spare_pandas
from trivet.store.tables import make_table, read_table, write_table

INPUTS = ("cells", "cycles", "spectra", "ledger", "lifetimes", "timeline", "plating",
          "cell_measures")  # fmt: skip


def run(
    *, tables: Mapping[str, pa.Table], spectrum_curves: pa.Table, settings: Mapping[str, Any]
) -> pa.Table:
    """Fill the checklist.

    Parameters
    ----------
    tables : mapping of str to pyarrow.Table
        Tables of `INPUTS`.
    spectrum_curves : pyarrow.Table
        Table of this name, for the range of frequencies.
    settings : mapping
        Settings by block.

    Returns
    -------
    pyarrow.Table
        Table `checklist`.
    """
    bounds = pc.min_max(spectrum_curves["frequency_Hz"]).as_py()
    rows = checklist(
        Recorded(
            tables={name: table.to_pylist() for name, table in tables.items()},
            frequencies_Hz=(bounds["min"], bounds["max"]) if spectrum_curves.num_rows else (),
            campaign=settings["campaign"]["id"],
            licence=settings["campaign"]["licence"],
            electrodes=Electrodes.model_validate(settings["electrodes"]),
            cycling=Cycling.model_validate(settings["cycling"]),
            reference=Reference.model_validate(settings["reference"]),
            trust=Trust.model_validate(settings["trust"]),
            lifetime=Lifetime.model_validate(settings["lifetime"]),
            comparison=Comparison.model_validate(settings["comparison"]),
            version=trivet.__version__,
        )
    )
    table = TABLES["checklist"]
    return make_table(table, {name: [row[name] for row in rows] for name in table.names})


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, (__doc__ or "").splitlines()[0])
    names = [*INPUTS, "spectrum_curves"]
    read = {name: read_table(TABLES[name], path)
            for name, path in zip(names, command.inputs, strict=True)}  # fmt: skip
    curves = read.pop("spectrum_curves")
    found = run(tables=read, spectrum_curves=curves, settings=command.settings)
    write_table(TABLES["checklist"], found, command.out / "checklist.parquet")


if __name__ == "__main__":
    spare_pandas()
    main()
