"""The benchmark of the report measures every section; times themselves are not tested."""

from __future__ import annotations

from dataclasses import replace

import pytest
import report_campaign

from trivet.report.frame.data import ReportSettings, gather
from trivet.report.section_list import parts_of
from trivet.studies import bench_report


def test_each_section_that_is_printed_has_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first sections of a small campaign, and a document of nothing that is smaller."""
    settings = ReportSettings.model_validate(report_campaign.SETTINGS)
    data = gather(settings=settings, tables=report_campaign.make(1))
    meeting = parts_of(data)[0]
    first = replace(meeting, sections=meeting.sections[:3])
    monkeypatch.setattr(bench_report, "parts_of", lambda _: (first,))
    nothing, *sections = bench_report.costs(data)
    assert [one.name for one in sections] == [section.name for section in first.sections]
    assert all(one.pages >= 1 and one.bytes > nothing.bytes for one in sections)
    assert sum(1 for _ in bench_report.table([nothing, *sections])) == len(sections) + 3
