"""An earlier campaign from its archive: two tables are read, and nothing of it is run."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pyarrow as pa

from trivet.campaign.earlier.files import BAG_TABLES, MANIFEST, READ_OF_BAG
from trivet.errors import Problem
from trivet.store.checksums import sha256
from trivet.store.regular_file import read_regular
from trivet.store.tables import read_as_stored

NEEDED = {
    "cells": ("cell", "batch", "group", "included"),
    "lifetimes": (
        "cell", "endpoint", "clock", "duration", "lower", "upper", "entry", "observed", "cause",
        "censored_because", "decided_by", "stop_reason", "known_h", "start_s", "batch", "group",
        "evidence",
    ),
}  # fmt: skip
"""Columns that are read, by table."""


def read_bag(
    folder: Path, *, bag: str, factors: Sequence[str]
) -> tuple[dict[str, pa.Table], list[Problem]]:
    """Read the tables of cells and lives of an archive.

    Parameters
    ----------
    folder : Path
        The campaign folder.
    bag : str
        Folder of the archive, below it.
    factors : sequence of str
        Factors that are compared, the primary one first.

    Returns
    -------
    tables : dict of str to pyarrow.Table
        By name; empty where something is wrong.
    problems : list of Problem
        Everything wrong with the archive.
    """
    root = folder / bag.rstrip("/")
    if not (root / BAG_TABLES).is_dir():
        hint = "Name the folder that holds bagit.txt, reports/<id>/archive after a run."
        return {}, [
            Problem(bag, f"is no archive of a campaign: no folder '{BAG_TABLES}'.", None, hint)
        ]
    try:
        sums = _sums(read_regular(root / MANIFEST).decode())
    except (OSError, UnicodeDecodeError) as error:
        return {}, [Problem(f"{bag}/{MANIFEST}", f"can't be read: {error}.")]
    tables, problems = {}, []
    for name in READ_OF_BAG:
        path = f"{BAG_TABLES}/{name}.parquet"
        table, problem = _table(root / path, f"{bag}/{path}", name, sums.get(path, ""))
        if problem is not None:
            problems.append(problem)
        elif table is not None:
            tables[name] = table
    if not problems and factors[0] not in tables["cells"].column_names:
        sheet = [name for name in tables["cells"].column_names if name not in NEEDED["cells"]]
        message = f"has no column '{factors[0]}' in its cells; its own are: {', '.join(sheet)}."
        problems.append(Problem(bag, message))
    return ({} if problems else tables), problems


def _sums(text: str) -> dict[str, str]:
    """Checksums by path (RFC 8493, section 2.1.3)."""
    pairs = (line.split(maxsplit=1) for line in text.splitlines() if line.strip())
    return {pair[-1].strip(): pair[0].lower() for pair in pairs}


def _table(
    path: Path, name: str, which: str, expected: str
) -> tuple[pa.Table | None, Problem | None]:
    """One table of a bag, or what is wrong with it."""
    try:
        if sha256(path) != expected:
            hint = "Copy the archive again; 'trivet verify' says what else differs."
            return None, Problem(
                name, "is not what the archive's list of checksums says.", hint=hint
            )
        table, version = read_as_stored(path)
    except (OSError, pa.ArrowException) as error:
        return None, Problem(name, f"can't be read: {error}.")
    missing = [column for column in NEEDED[which] if column not in table.column_names]
    if missing:
        hint = "Run that campaign again with this version, or give its lives as a table."
        message = f"lacks {', '.join(missing)} (tables {version or 'of no version'})."
        return None, Problem(name, message, hint=hint)
    return table, None
