"""From a stored table to a pandas frame of the right types, with units and meanings beside it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd
import pyarrow as pa

from trivet.schema.tables.columns import Column, Sense, Table
from trivet.schema.tables.orders import GROUP_COLUMNS, ORDERS

LOCAL = "_local"
"""What the name of a time in the campaign's zone ends with, beside the stored column."""
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_LEADING_ZERO = re.compile(r"[+-]?0\d")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?)?")
UNITS_OF_ENDINGS = {
    "mg": "mg",
    "g": "g",
    "mm": "mm",
    "cm": "cm",
    "um": "um",
    "uL": "uL",
    "mL": "mL",
    "mAh": "mA.h",
    "mA": "mA",
    "V": "V",
    "h": "h",
    "s": "s",
    "min": "min",
    "degC": "Cel",
    "percent": "%",
    "ohm": "Ohm",
}
"""Units (UCUM) that names in a build sheet end with: it says them nowhere else."""
_TRUTHS = {"1": True, "0": False, "yes": True, "no": False}


@dataclass(frozen=True)
class Surroundings:
    """What the types of a frame depend on besides its table.

    Attributes
    ----------
    time_zone : str
        Zone of the campaign.
    factors : mapping of str to sequence of str
        Groups of each build factor in the campaign's order, the control first.
    groups : tuple of str
        Groups that the table is about, in order.
    """

    time_zone: str
    factors: Mapping[str, Sequence[str]]
    groups: tuple[str, ...]


def frame_of(data: pa.Table, table: Table, around: Surroundings) -> pd.DataFrame:
    """Turn a stored table into a frame.

    Parameters
    ----------
    data : pyarrow.Table
        The table as stored, units and meanings in the metadata of its fields.
    table : Table
        Its entry in the dictionary.
    around : Surroundings
        Zone and groups of the campaign.

    Returns
    -------
    pandas.DataFrame
        Its columns in order; times in the campaign's zone stand behind the stored ones.
        `attrs["columns"]` says of each column unit, meaning, how it is stored, and what was done.
    """
    known = {column.name: column for column in table.columns}
    stored = data.to_pandas(types_mapper={pa.int64(): pd.Int64Dtype()}.get)
    columns: dict[str, pd.Series] = {}
    about: dict[str, dict[str, str]] = {}
    for field in data.schema:
        column, values = known.get(field.name), stored[field.name]
        columns[field.name], done = _typed(values, field.name, column, around)
        about[field.name] = _about(field, column) | {"done": done}
        moments = _moments(values, field.name, column, stored, around.time_zone)
        if moments is not None:
            columns[f"{field.name}{LOCAL}"] = moments
            about[f"{field.name}{LOCAL}"] = _about_moments(field.name, about, around)
    frame = pd.DataFrame(columns)
    frame.attrs = {"table": table.name, "row": table.row, "columns": about}
    return frame


def _about(field: pa.Field, column: Column | None) -> dict[str, str]:
    """Unit and meaning of a column as its file says them, and where it comes from."""
    said = {key.decode(): text.decode() for key, text in (field.metadata or {}).items()}
    unit = said.get("unit", "")
    if column is None and not unit:
        unit = UNITS_OF_ENDINGS.get(field.name.rpartition("_")[2], "")
    return {
        "unit": unit,
        "meaning": said.get("meaning", ""),
        "stored": str(field.type),
        "computed_by": "" if column is None else column.computed_by,
    }


def _about_moments(
    name: str, about: Mapping[str, dict[str, str]], around: Surroundings
) -> dict[str, str]:
    """Say of a column of moments what it is."""
    return about[name] | {
        "unit": "",
        "meaning": f"{name} in the zone {around.time_zone}: {about[name]['meaning']}",
        "done": f"made from {name}",
    }


def _typed(
    values: pd.Series, name: str, column: Column | None, around: Surroundings
) -> tuple[pd.Series, str]:
    """Values in their type, and what was done; nothing: as stored."""
    if column is not None and column.sense in (Sense.TRUTH, Sense.YES_OR_NO):
        return _truths(values), f"true or false; stored: {column.sense}"
    if pd.api.types.is_integer_dtype(values.dtype):
        return (values, "") if values.hasnans else (values.astype("int64"), "")
    if not isinstance(values.dtype, pd.StringDtype) and values.dtype != object:
        return values, ""
    order, done = _order_of(name, column, around)
    if order:
        return _ordered(values, order), done
    return _free(values) if column is None else (values, "")


def _order_of(name: str, column: Column | None, around: Surroundings) -> tuple[Sequence[str], str]:
    """In which order the words of a column stand, and what that is; empty without one."""
    if column is None:
        return around.factors.get(name, ()), "groups, the control first"
    if name in GROUP_COLUMNS:
        return around.groups, "groups, the control first"
    return ORDERS.get(name, ()), "words in their order"


def _truths(values: pd.Series) -> pd.Series:
    """True and false; missing stays missing."""
    texts = values.astype("string")
    unknown = sorted(set(texts.dropna()) - set(_TRUTHS) - {""})
    if unknown:
        raise ValueError(f"column '{values.name}' of truths holds {unknown[0]!r}")
    truths = texts.map(_TRUTHS).astype("boolean")
    return truths if truths.isna().any() else truths.astype(bool)


def _ordered(values: pd.Series, order: Sequence[str]) -> pd.Series:
    """Words in order; those that the order does not name follow, by name; empty is missing."""
    filled = values.where(values.notna() & (values != ""))
    rest = sorted(set(filled.dropna()) - set(order))
    kind = pd.CategoricalDtype(pd.Index([*order, *rest], dtype="str"), ordered=True)
    return filled.astype(kind)


def _free(values: pd.Series) -> tuple[pd.Series, str]:
    """A column of the build sheet: numbers where every value is one, else as it stands."""
    texts = [text for text in values.dropna() if text != ""]
    if not texts:
        return values, "as written: it has no value"
    if not all(_NUMBER.fullmatch(text) for text in texts):
        return values, "as written: not every value is a number"
    zeros = [text for text in texts if _LEADING_ZERO.match(text)]
    if zeros:
        return values, f"as written: '{zeros[0]}' begins with a zero, as a name may"
    filled = values.where(values != "")
    numbers = pd.to_numeric(filled)
    if all(re.fullmatch(r"[+-]?\d{1,18}", text) for text in texts):
        numbers = numbers.astype("int64" if len(texts) == len(values) else "Int64")
    return numbers, "numbers: stored as text, and every value is one"


def _moments(
    values: pd.Series, name: str, column: Column | None, stored: pd.DataFrame, zone: str
) -> pd.Series | None:
    """Moments in the campaign's zone, where the column is of times; otherwise None."""
    if column is None:
        return _written_moments(values, zone) if name.endswith("_at") else None
    if column.sense is Sense.ISO_DATE:
        return _written_moments(values, zone)
    if column.sense is not Sense.UNIX_TIME:
        return None
    if column.only_where is not None:
        other, wanted = column.only_where
        values = values.where(stored[other] == wanted)
    moments = pd.to_datetime(values, unit="s", utc=True)
    # a float holds seconds since 1970 to a quarter of a microsecond
    return moments.dt.round("us").dt.as_unit("us").dt.tz_convert(zone)


def _written_moments(values: pd.Series, zone: str) -> pd.Series | None:
    """Moments of texts, those without an offset in the zone; None where a text is no time."""
    if not all(_DATE.fullmatch(text) for text in values.dropna() if text != ""):
        return None
    moments = [_moment(text, zone) for text in values.fillna("")]
    return pd.Series(moments, index=values.index, name=values.name,
                     dtype=pd.DatetimeTZDtype("us", zone))  # fmt: skip


def _moment(text: str, zone: str) -> pd.Timestamp:
    """One moment; an hour that a zone has twice is taken as the earlier of them."""
    if not text:
        return pd.NaT
    moment = pd.Timestamp(text)
    if moment.tzinfo is not None:
        return moment.tz_convert(zone)
    return moment.tz_localize(zone, ambiguous=True, nonexistent="shift_forward")
