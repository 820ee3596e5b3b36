"""Write every result as text beside its Parquet file, for people and papers.

Settings
--------
None.

Reads
-----
Every table of the results.

Writes
------
The same tables as comma-separated text, and the description of their columns beside them.
"""

from __future__ import annotations

from collections.abc import Sequence

from trivet.archive.csvw import DESCRIPTION_FILE, described
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.command import parse, spare_pandas
from trivet.store.tables import read_table, write_csv


def main(argv: Sequence[str] | None = None) -> None:
    """Run the stage from the command line."""
    command = parse(argv, "Write every result as text.")
    tables = {}
    for path in command.inputs:
        entry = TABLES[path.stem]
        data = read_table(entry, path)
        write_csv(data, command.out / f"{entry.name}.csv")
        tables[f"{entry.name}.csv"] = (entry, data.schema)
    (command.out / DESCRIPTION_FILE).write_bytes(described(tables))


if __name__ == "__main__":
    spare_pandas()
    main()
