"""Where tables lie below the folder of the results of a campaign."""

from __future__ import annotations

from pathlib import Path


def table_path(results: Path, name: str) -> Path:
    """Path of a table of the campaign; `earlier/NAME` is that of the earlier data cut."""
    folder, _, base = name.rpartition("/")
    return results / (folder or "tables") / f"{base}.parquet"


def cell_table_path(results: Path, stage: str, name: str, cell: str) -> Path:
    """Path of a table of one cell, in the folder of the stage that writes it."""
    return results / "cells" / cell / stage / f"{name}.parquet"
