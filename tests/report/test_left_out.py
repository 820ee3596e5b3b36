"""Campaigns of lives alone and of impedance alone: no section is empty, and page one says so.

What a reader expects of them is common practice, no source: only what was measured, and a word on
what was not.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from trivet.report.figure_list import make_plates
from trivet.report.frame.data import ReportData, ReportSettings, gather, where
from trivet.report.render import render_html
from trivet.report.section_list import left_out, parts_of
from trivet.report.sections.appendix.lifetime import duration
from trivet.report.sections.appendix.reference_tables import platings
from trivet.report.sections.summary import mistrust
from trivet.report.web.page import render_page
from trivet.schema.tables.dictionary import TABLES
from trivet.store.tables import empty

OF_LIVES = ("cells", "lifetimes", "survival", "survival_intervals", "at_risk", "life_summary",
            "causes", "comparisons", "planning", "findings")  # fmt: skip
OF_SPECTRA = ("cells", "lifetimes", "ledger", "ledger_by_cell", "spectra", "spectrum_checks",
              "spectrum_curves", "spectra_second_pass", "resistance_trends", "cell_measures",
              "measures", "findings")  # fmt: skip


def with_tables(invented: ModuleType, kept: tuple[str, ...], **lifetime: Any) -> ReportData:
    """The invented campaign with some of its tables, the others empty."""
    made = invented.make()
    tables = {name: made[name] if name in kept else empty(TABLES[name]) for name in made}
    settings = invented.SETTINGS | {"lifetime": lifetime}
    return gather(settings=ReportSettings.model_validate(settings), tables=tables)


def printed(data: ReportData) -> set[str]:
    """Names of the sections that are printed."""
    return {section.name for part in parts_of(data) for section in part.sections}


def test_a_campaign_of_lives_prints_lives_and_says_what_it_leaves_out(
    invented: ModuleType,
) -> None:
    """No section of cycles, references, spectra or files; page one names each with its reason."""
    data = with_tables(invented, OF_LIVES, table="lifetimes.csv")
    assert {"summary", "life_lines", "survival", "comparison", "lifetime", "groups", "contrasts",
            "planning", "methods"} <= printed(data)  # fmt: skip
    assert not printed(data) & {"cycling", "fading", "electrodes", "reference", "trends", "ledger",
                                "measures", "impedance", "potentials", "rates"}  # fmt: skip
    reasons = dict(left_out(data))
    assert set(reasons) == {"no cycle was read", "no spectrum was read", "no raw file was read",
                            "no reference was followed"}  # fmt: skip
    assert "Fade" in reasons["no cycle was read"]
    assert mistrust(data)[-1].startswith("Lives stand as their table gives them")
    plates = make_plates(data)
    for text in (render_html(data, plates), render_page(data, plates).decode()):
        assert "Fade; Electrodes: what took the capacity" in text
        assert "no cycle was read." in text
    (lines,) = plates["life_lines"]
    assert "strip" not in lines.caption
    assert lines.numbers.num_rows == len(where(data.rows["lifetimes"], endpoint="cell",
                                               clock="hours"))  # fmt: skip


def test_a_campaign_of_impedance_prints_spectra_and_no_cycles(invented: ModuleType) -> None:
    """Impedance stands; Fade and the electrodes are left out; life lines have ticks, no strips."""
    data = with_tables(invented, OF_SPECTRA)
    assert {"impedance", "trends", "measures", "ledger", "life_lines"} <= printed(data)
    assert not printed(data) & {"cycling", "fading", "electrodes", "reference", "potentials"}
    assert "no spectrum was read" not in dict(left_out(data))
    (lines,) = make_plates(data)["life_lines"]
    assert "Ticks above: spectra" in lines.caption
    assert "strip" not in lines.caption


def test_a_whole_campaign_leaves_nothing_out(data: ReportData) -> None:
    """Where everything was measured nothing is said to be left out."""
    assert left_out(data) == []


@pytest.mark.parametrize("why", ["no data", "no times", "no check possible"])
def test_a_life_that_nobody_observed_is_a_dash_not_zero(why: str) -> None:
    """`0+` reads as a life of 0 h; a running cell at 0 h, and an end at 0 h, are what they say."""
    assert duration([{"duration": 0.0, "observed": 0, "censored_because": why}]) == "\u2013"
    assert duration([{"duration": 0.0, "observed": 0, "censored_because": "running"}]) == "0+"
    assert duration([{"duration": 0.0, "observed": 1, "censored_because": ""}]) == "0"


def test_a_plating_whose_life_nobody_observed_has_none(data: ReportData) -> None:
    """The table of platings says as little as that of lives."""
    lives = {row["cell"]: row for row in where(data.rows["lifetimes"], endpoint="reference",
                                               clock="hours")}  # fmt: skip
    for row in platings(data).rows:
        unseen = row[0].text in lives and duration([lives[row[0].text]]) == "\u2013"
        assert (row[-1].text == "\u2013") == unseen
