"""Columns that stand in many tables."""

from __future__ import annotations

from trivet.schema.tables.columns import text

_SHEET = "trivet.campaign.build_sheet:read_build_sheet"
_LIFETIME = "trivet.science.lives.cell_life"

CELL = text(
    "cell",
    "cell id as in the build sheet",
    "trivet.campaign.build_sheet:read_build_sheet",
    required=True,
)


GROUP = text("group", "value of the build factor", _SHEET, required=True)


ENDPOINT = text("endpoint", "cell or reference", f"{_LIFETIME}:cell_life", required=True)


CLOCK = text("clock", "hours or cycles", f"{_LIFETIME}:cell_life", required=True)


FACTOR = text("factor", "build factor whose values are the groups", _SHEET, required=True)
