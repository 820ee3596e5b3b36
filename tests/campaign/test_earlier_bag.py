"""An archive of an earlier campaign: what is read of it, and what is refused."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from trivet.campaign.earlier.bag import NEEDED, read_bag
from trivet.campaign.earlier.files import earlier_files

CELLS = {"cell": ["a"], "batch": ["1"], "group": ["plain"], "included": [1], "arm": ["plain"]}
LIVES = {name: ["x"] for name in NEEDED["lifetimes"]}


def bag(folder: Path, **tables: dict[str, list[object]]) -> Path:
    """Write the two tables and the list of checksums (RFC 8493, section 2.1.3)."""
    place = folder / "autumn" / "data" / "tables"
    place.mkdir(parents=True)
    lines = []
    for name, columns in tables.items():
        path = place / f"{name}.parquet"
        pq.write_table(pa.table(columns), path)
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        lines.append(f"{digest}  data/tables/{name}.parquet\n")
    (folder / "autumn" / "manifest-sha256.txt").write_text("".join(lines), encoding="utf-8")
    return folder


def said(folder: Path, factor: str = "arm") -> str:
    """Problems of the archive, one a line."""
    tables, problems = read_bag(folder, bag="autumn", factors=[factor])
    assert bool(tables) is not bool(problems)
    return "\n".join(str(problem) for problem in problems)


def test_two_tables_and_the_list_of_checksums_are_all_that_is_read(tmp_path: Path) -> None:
    """A whole archive has nothing wrong; the files named are the files that there are."""
    folder = bag(tmp_path, cells=CELLS, lifetimes=LIVES)
    assert said(folder) == ""
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert set(earlier_files([{"name": "autumn", "archive": "autumn/"}])) == there


def test_a_column_that_is_missing_is_named_with_what_to_do(tmp_path: Path) -> None:
    """Tables of a version without a column that is read are refused."""
    lives = {name: values for name, values in LIVES.items() if name != "entry"}
    text = said(bag(tmp_path, cells=CELLS, lifetimes=lives))
    assert "lifetimes.parquet: lacks entry (tables of no version)." in text
    assert "give its lives as a table" in text


def test_cells_that_do_not_know_the_primary_factor_are_refused(tmp_path: Path) -> None:
    """Groups of another factor are never taken for those of this one."""
    text = said(bag(tmp_path, cells=CELLS, lifetimes=LIVES), factor="seal")
    assert "has no column 'seal' in its cells; its own are: arm." in text


def test_a_table_that_is_not_in_the_list_is_refused(tmp_path: Path) -> None:
    """Without its checksum nothing says that a table is whole; nor is a missing one made up."""
    folder = bag(tmp_path, cells=CELLS, lifetimes=LIVES)
    manifest = folder / "autumn" / "manifest-sha256.txt"
    manifest.write_text(manifest.read_text().splitlines(keepends=True)[0], encoding="utf-8")
    (folder / "autumn" / "data" / "tables" / "cells.parquet").unlink()
    text = said(folder)
    assert "lifetimes.parquet: is not what the archive's list of checksums says." in text
    assert "cells.parquet: can't be read" in text
