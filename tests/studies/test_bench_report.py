"""The benchmark of the report measures every section; times themselves are not tested."""

from __future__ import annotations

import report_campaign

from trivet.report.frame.data import ReportSettings, gather
from trivet.report.section_list import parts_of
from trivet.studies.bench_report import costs, table


def test_each_section_that_is_printed_has_a_line() -> None:
    """All sections of a small campaign, and a document of nothing that is smaller than any."""
    given = report_campaign.SETTINGS | {"report": {"part": "meeting"}}
    settings = ReportSettings.model_validate(given)
    data = gather(settings=settings, tables=report_campaign.make(1))
    nothing, *sections = costs(data)
    assert [one.name for one in sections] == [
        section.name for part in parts_of(data) for section in part.sections
    ]
    assert all(one.pages >= 1 and one.bytes > nothing.bytes for one in sections)
    assert sum(1 for _ in table([nothing, *sections])) == len(sections) + 3
