"""Columns that stand in many tables."""

from __future__ import annotations

from dataclasses import replace

from trivet.schema.tables.columns import Column, text

_SHEET = "trivet.campaign.build_sheet:read_build_sheet"
_LIFE_SETS = "trivet.campaign.life_sets:life_sets"

CELL = text(
    "cell",
    "cell id as in the build sheet",
    "trivet.campaign.build_sheet:read_build_sheet",
    required=True,
)


GROUP = text("group", "value of the build factor", _SHEET, required=True)


ENDPOINT = text("endpoint", "cell or reference", _LIFE_SETS, required=True)


CLOCK = text("clock", "hours or cycles", _LIFE_SETS, required=True)


FACTOR = text("factor", "build factor whose values are the groups", _LIFE_SETS, required=True)


def given_by(column: Column, computed_by: str) -> Column:
    """Give a shared column to a table in which another function gives its values."""
    return replace(column, computed_by=computed_by)
