"""The description that stands beside the tables as text: columns, units, terms, types.

References
----------
W3C, Metadata Vocabulary for Tabular Data, 2015, sections 5.2 (where it is found), 5.3 (groups), 5.5
(schemas), 5.6 (columns) and 5.11.1 (datatypes).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from urllib.parse import quote

import pyarrow as pa

from trivet.schema.tables.columns import Column, Table
from trivet.schema.tables.dictionary import SCHEMA_VERSION
from trivet.schema.tables.vocabulary import TERMS, UCUM
from trivet.store.tables import harmless

DESCRIPTION_FILE = "csv-metadata.json"
"""Name under which a reader looks for the description of the tables of a folder."""

_TYPES = {"text": "string", "int": "integer", "float": "double"}
_NOTE = (
    "Tables of one campaign. An empty value is a missing value. Text that a spreadsheet would take "
    "for a formula has an apostrophe before it. A column whose meaning no open vocabulary names "
    "exactly has no propertyUrl, so that its own address is its term. Where a column has no unit "
    "of its own, its row names it, or the clock (hours or cycles) does."
)


def described(tables: Mapping[str, tuple[Table, pa.Schema]]) -> bytes:
    """Describe the tables of a folder.

    Parameters
    ----------
    tables : mapping of str to pair of Table and pyarrow.Schema
        By file name: entry of the dictionary, and the columns that the file has, since the
        columns of a build sheet may follow the listed ones.

    Returns
    -------
    bytes
        JSON, the same for the same tables.
    """
    group = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "dc:description": _NOTE,
        "dc:hasVersion": SCHEMA_VERSION,
        "dialect": {"delimiter": ",", "encoding": "utf-8", "header": True, "quoteChar": '"'},
        "tables": [_table(name, *tables[name]) for name in sorted(tables)],
    }
    return (json.dumps(group, indent=1, ensure_ascii=False) + "\n").encode()


def _table(file: str, table: Table, schema: pa.Schema) -> dict[str, object]:
    """One table of the group."""
    listed = {column.name: column for column in table.columns}
    columns = [_column(table, name, listed.get(name)) for name in schema.names]
    described_schema: dict[str, object] = {"columns": columns}
    if table.unique and table.key:
        described_schema["primaryKey"] = [variable(name) for name in table.key]
    return {
        "url": file,
        "dc:title": table.name,
        "dc:description": f"One row is {table.row}.",
        "tableSchema": described_schema,
    }


def _column(table: Table, name: str, column: Column | None) -> dict[str, object]:
    """One column; one that only the build sheet has is text."""
    entry: dict[str, object] = {"name": variable(name), "titles": harmless(name)}
    if column is None:
        return {**entry, "datatype": "string", "dc:description": "as in the build sheet"}
    entry |= {"datatype": _TYPES[column.type], "dc:description": column.meaning}
    # an empty text may stand in a column of texts that every row has
    if column.required and column.type != "text":
        entry["required"] = True
    if (table.name, name) in TERMS:
        entry["propertyUrl"] = TERMS[table.name, name]
    if column.unit:
        entry[UCUM] = column.unit
    return entry


def variable(name: str) -> str:
    """Column name with the signs encoded that a name in the description may not have."""
    encoded = quote(name, safe="").replace("-", "%2D").replace("~", "%7E")
    return f"%5F{encoded[1:]}" if encoded.startswith("_") else encoded
