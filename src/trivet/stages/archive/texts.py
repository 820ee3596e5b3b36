"""What the archive says of itself and of its files."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from trivet.archive.crate import README_FILE, WORKFLOW_FILE
from trivet.archive.csvw import DESCRIPTION_FILE
from trivet.campaign.earlier.files import earlier_files
from trivet.campaign.paths import SETTINGS_FILE
from trivet.schema.tables.dictionary import TABLES

README = """\
# Archive of a campaign

This folder is a bag (RFC 8493). Everything stands below `data/`, which is a research object crate:
`data/ro-crate-metadata.json` says what each file is. `data/report.pdf` is the report, and
`data/report.html` the same as a web page that asks for nothing outside itself.
`data/tables/csv-metadata.json` describes every column of the tables.

- `trivet verify BAG` checks every file and every table, and says what differs.
- `trivet rerun BAG` rebuilds the tables from the raw files, where copies of them stand here, and
  compares. `data/versions.json` names the versions that made these.
- Any tool for bags checks the checksums; `sha256sum -c manifest-sha256.txt` does too.
"""

_DESCRIPTIONS = {
    README_FILE: "what this archive is and how to check it",
    "columns.csv": "every column of the tables with unit, meaning and the function that gives it",
    "config/settings-used.json": "settings as used, defaults filled in",
    f"config/{SETTINGS_FILE}": "settings and layouts as people wrote them",
    "raw-checksums.csv": "size and SHA-256 of every raw file",
    "report.html": "the report as a web page",
    "report.pdf": "the report",
    "summary.json": "verdicts and counts",
    "register.jsonl": "register of the reports issued, this one last: one line of JSON a report, "
    "with what it rested on and its verdicts",
    f"tables/{DESCRIPTION_FILE}": "columns of the tables (CSV on the Web)",
    "versions.json": "versions of the program and of the libraries that results rest on",
    WORKFLOW_FILE: "the rules that made the results",
}


def descriptions(settings: Mapping[str, Any]) -> dict[str, str]:
    """Say what each file of the bag is.

    Parameters
    ----------
    settings : mapping
        All settings, by block.

    Returns
    -------
    dict of str to str
        Sentence by path in the bag.
    """
    tables = {
        f"tables/{name}.{ending}": f"One row is {table.row}."
        for name, table in TABLES.items()
        if table.archived
        for ending in ("csv", "parquet")
    }
    sheet = {f"config/{settings['build_sheet']['file']}": "build sheet: one row a cell as built"}
    if (log := settings["bench_log"]["file"]) is not None:
        sheet[f"config/{log}"] = "bench log: what people did, with time"
    if (lives := settings["lifetime"]["table"]) is not None:
        sheet[f"config/{lives}"] = "lives from elsewhere: one row a cell and endpoint"
    earlier = {
        f"config/{file}": f"from the earlier campaign '{one['name']}': what was read of it"
        for one in settings["comparison"]["earlier"]
        for file in earlier_files([one])
    }
    return {**_DESCRIPTIONS, **tables, **sheet, **earlier}
