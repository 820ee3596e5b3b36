"""What is printed of earlier campaigns, and that nothing is where none is named."""

from __future__ import annotations

import dataclasses
from typing import Any

from report_campaign import with_rows

from trivet.report.frame.data import ReportData
from trivet.report.sections.comparison import comparison
from trivet.schema.settings.inference import Earlier
from trivet.schema.tables.pooled import POOLED


def _row(data: ReportData, campaign: str, **given: object) -> dict[str, Any]:
    """A row of a contrast on the primary endpoint and clock."""
    return dict.fromkeys(POOLED.names) | {
        "endpoint": data.settings.comparison.primary_endpoint, "clock": data.clock,
        "factor": data.factor, "group": data.groups[1], "control": data.control,
        "campaign": campaign, "cells": 3, "events": 2, "control_cells": 3, "control_events": 3,
        "reason": "", "verdict": "",
    } | given  # fmt: skip


def test_nothing_is_printed_without_earlier_campaigns(data: ReportData) -> None:
    """Neither table nor sentence nor method where none is named."""
    assert not data.rows["pooled"]
    made = comparison(data)
    assert not made["pooled"].rows
    assert made["with_earlier"] == []


def test_the_verdict_is_said_alone_and_with_earlier_campaigns(data: ReportData) -> None:
    """One sentence a contrast; campaigns in the order of the settings, each reason by name."""
    rows = [
        _row(data, "all campaigns", verdict="different", p_adjusted=0.004, weight=1.0,
             reason="2 campaigns hardly say how far campaigns differ"),
        _row(data, "autumn", reason="adds nothing: no cell of it has the control 'plain'"),
        _row(data, "this campaign", verdict="inconclusive", p_adjusted=0.08, weight=0.45),
        _row(data, "winter", weight=0.55, p=0.02),
    ]  # fmt: skip
    named = [Earlier(name="winter", table="w.csv"), Earlier(name="autumn", table="a.csv")]
    settings = data.settings.model_copy(
        update={"comparison": data.settings.comparison.model_copy(update={"earlier": named})}
    )
    pooled = with_rows(dataclasses.replace(data, settings=settings), pooled=rows)
    made = comparison(pooled)
    order = [row[2].text for row in made["pooled"].rows]
    assert order == ["this campaign", "winter", "autumn", "all campaigns"]
    (said,) = made["with_earlier"]
    assert said["text"] == (
        "This campaign alone: inconclusive (adjusted p 0.080), and that decides. With winter (55 % "
        "of the weight): different (adjusted p 0.0040). autumn: adds nothing: no cell of it has "
        "the control 'plain'. All campaigns: 2 campaigns hardly say how far campaigns differ."
    )
