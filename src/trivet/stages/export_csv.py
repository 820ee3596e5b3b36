"""Write every result as text beside its Parquet file, for people and papers."""

from __future__ import annotations

import pyarrow as pa

from trivet.archive.csvw import DESCRIPTION_FILE, described
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.job import Job
from trivet.store.paths import table_path
from trivet.store.tables import read_table, write_csv
from trivet.store.whole_file import write_whole


def work(job: Job) -> dict[str, pa.Table]:
    """Write every archived table as text, and the description of their columns."""
    tables = {}
    for name, entry in TABLES.items():
        if entry.archived:
            data = read_table(entry, table_path(job.results, name))
            write_csv(data, table_path(job.results, name).with_suffix(".csv"))
            tables[f"{name}.csv"] = (entry, data.schema)
    write_whole(job.results / "tables" / DESCRIPTION_FILE, described(tables))
    return {}
