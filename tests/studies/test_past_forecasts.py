"""The study of past forecasts: coverage on the invented campaign and on known laws."""

from __future__ import annotations

import pytest

from trivet.studies.past_forecasts import LAWS, Law, demo_weeks, law_units, share, table, weeks_of


def test_intervals_of_the_invented_campaign_hold() -> None:
    """Of another seed's forecasts 85 to 100 of 100 intervals of 95 % hold the end that came."""
    weeks = demo_weeks(5)
    ended = sum(week.ended for week in weeks)
    assert ended > 60
    assert sum(week.inside for week in weeks) >= 0.85 * ended


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_once_cells_have_ended_intervals_hold_under_every_law(law: Law) -> None:
    """Learnt from four ended cells or more, at least 85 of 100 hold, however fade bends."""
    weeks = [
        week
        for seed in range(3)
        for week in weeks_of(law_units(law, seed=seed), now=30 * 168.0)
        if week.learnt_from >= 4
    ]
    ended = sum(week.ended for week in weeks)
    assert ended > 60
    assert sum(week.inside for week in weeks) >= 0.85 * ended


def test_the_default_is_too_short_where_fade_speeds_up_sharply() -> None:
    """What STUDIES.md warns of is so: by default fewer than 60 of 100 hold at power 2."""
    (law,) = [law for law in LAWS if law.name == "power 2"]
    weeks = weeks_of(law_units(law, seed=0), now=30 * 168.0)
    own = [week for week in weeks if week.learnt_from == 0]
    assert sum(week.inside for week in own) < 0.6 * sum(week.ended for week in own)


def test_the_table_has_a_line_a_law() -> None:
    """Heading, rule, and a line for each law; no weeks print a dash."""
    lines = list(table(seeds=[], campaigns=1))
    assert len(lines) == 2 + len(LAWS)
    assert share([], (0, 0)) == "–"
