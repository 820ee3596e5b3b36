"""Weekly looks: counted back from the planned end, so that no data cut moves them."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from trivet.campaign.look_times import LookTimes, look_times

ZONE = ZoneInfo("Europe/Berlin")
FIRST_S = datetime(2026, 3, 2, 12, tzinfo=ZONE).timestamp()


def looks(cut: datetime, *, how: str = "weekly", end: str = "2026-04-06") -> LookTimes:
    """Looks of a campaign of five weeks over the change to summer time."""
    return look_times(
        looks=how, planned_end=end, time_zone="Europe/Berlin", cut=cut, first_s=FIRST_S
    )


def test_every_week_up_to_the_cut() -> None:
    """Mondays at midnight, local time, from the first after the start."""
    found = looks(datetime(2026, 3, 27, 9, tzinfo=ZONE))
    assert found.texts == ("2026-03-09", "2026-03-16", "2026-03-23")
    assert found.fractions == tuple(sorted(found.fractions))
    assert found.fractions[0] == pytest.approx(6.5 / 34.5, abs=2e-3)


@pytest.mark.parametrize("day", [27, 28, 29])
def test_no_day_of_the_week_moves_a_look(day: int) -> None:
    """Cuts of one week have the same looks."""
    assert looks(datetime(2026, 3, day, 9, tzinfo=ZONE)) == looks(
        datetime(2026, 3, 24, 9, tzinfo=ZONE)
    )


@pytest.mark.parametrize("how", ["weekly", "final"])
def test_the_last_look_is_the_planned_end_whenever_the_report_is_made(how: str) -> None:
    """On that day, and later, the level is spent: a look at each later cut would be unpaid for."""
    end = datetime(2026, 4, 6, tzinfo=ZONE)
    at_it = looks(end, how=how)
    assert at_it.fractions[-1] == 1.0
    assert at_it.times_s[-1] == end.timestamp()
    assert len(at_it.texts) == (5 if how == "weekly" else 1)
    for cut in (datetime(2026, 4, 6, 8, tzinfo=ZONE), datetime(2026, 4, 20, tzinfo=ZONE)):
        assert looks(cut, how=how) == at_it


def test_final_only_looks_once() -> None:
    """Nothing before the planned end, one look at it."""
    assert looks(datetime(2026, 3, 27, tzinfo=ZONE), how="final").texts == ()
    assert looks(datetime(2026, 4, 7, tzinfo=ZONE), how="final").fractions == (1.0,)
