"""Times as text and on the calendar."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from trivet.rawfiles.layout.units import unit_of
from trivet.rawfiles.text.clock import cut_time_s, elapsed_seconds, local_seconds, to_unix

PLAIN = "%Y-%m-%d %H:%M:%S"


def texts(*words: str) -> pa.Array:
    """Words as arrow text."""
    return pa.array(words, pa.string())


def unix(
    *words: str, zone: str = "Europe/Berlin", elapsed: list[float] | None = None
) -> list[float]:
    """Unix times of local times."""
    elapsed_s = None if elapsed is None else np.array(elapsed)
    return list(
        to_unix(local_seconds(texts(*words), form=PLAIN), zone=zone, elapsed_s=elapsed_s).time_s
    )


def test_days_and_colons() -> None:
    """P1-24: 0.041666667 d is 3600.0000288 s; 26:15:30.250 is 94530.25 s (check values by hand)."""
    days = unit_of("elapsed time", "d").convert(np.array([0.041666667]))
    assert days[0] == pytest.approx(3600.0000288, abs=1e-9)
    assert list(elapsed_seconds(texts("26:15:30.250", "1-02:15:30,25"))) == [94530.25, 94530.25]


@pytest.mark.parametrize("word", ["1:60:00", "1:00:61", "12:30", "soon", ""])
def test_no_elapsed_time_is_missing(word: str) -> None:
    """Sixty minutes, or text, is no elapsed time."""
    assert np.isnan(elapsed_seconds(texts(word))[0])


@pytest.mark.parametrize(
    ("form", "moment"),
    [
        ("days from 1900", datetime(2023, 3, 15, 12, tzinfo=UTC)),
        ("days from 1904", datetime(2027, 3, 16, 12, tzinfo=UTC)),
    ],
)
def test_day_numbers_of_spreadsheets(form: str, moment: datetime) -> None:
    """P1-24: day 45000.5 is 2023-03-15 12:00 (1900 system), 2027-03-16 12:00 (1904 system)."""
    assert local_seconds(texts("45000.5"), form=form)[0] == moment.timestamp()


def test_clocks_set_back() -> None:
    """P1-25: 02:59:50 then 02:00:10 on 2024-10-27 in Berlin are 20 s apart (IANA zone data)."""
    assert unix("2024-10-27 02:59:50", "2024-10-27 02:00:10") == [1729990790, 1729990810]


def test_clocks_set_forward() -> None:
    """P1-25: 01:59:50 then 03:00:10 on 2024-03-31 in Berlin are 20 s apart (IANA zone data)."""
    first, second = unix("2024-03-31 01:59:50", "2024-03-31 03:00:10")
    assert second - first == 20


def test_elapsed_time_decides_in_the_hour_that_occurs_twice() -> None:
    """A single row in that hour is placed by its elapsed time, which the clock alone can't tell."""
    words = ("2024-10-27 01:30:00", "2024-10-27 02:30:00")
    assert np.diff(unix(*words, elapsed=[0.0, 3600.0]))[0] == 3600
    assert np.diff(unix(*words, elapsed=[0.0, 7200.0]))[0] == 7200


def test_local_time_that_does_not_occur_is_marked() -> None:
    """02:30 on the day clocks go forward does not exist in Berlin."""
    local = local_seconds(texts("2024-03-31 02:30:00", "2024-03-31 03:30:00"), form=PLAIN)
    assert list(to_unix(local, zone="Europe/Berlin").never) == [True, False]


@settings(deadline=None)
@example(datetime(1999, 4, 3, 21, 0), "America/St_Johns", 572)
@given(
    st.datetimes(datetime(1990, 1, 1), datetime(2035, 1, 1)),
    st.sampled_from(["Europe/Berlin", "America/St_Johns", "Asia/Kathmandu", "UTC"]),
    st.integers(60, 7000),
)
def test_minutes_of_any_day_agree_with_the_standard_library(
    start: datetime, zone: str, step_s: int
) -> None:
    """A clock that runs forward in small steps is placed as zoneinfo places it (PEP 615, 495)."""
    first = start.replace(microsecond=0, tzinfo=ZoneInfo(zone)).astimezone(UTC)
    moments = [first + timedelta(seconds=step_s * row) for row in range(20)]
    local = [moment.astimezone(ZoneInfo(zone)) for moment in moments]
    elapsed = [float(step_s * row) for row in range(20)]
    words = [moment.strftime(PLAIN) for moment in local]
    got = np.array(unix(*words, zone=zone, elapsed=elapsed))
    truth = np.array([moment.timestamp() for moment in moments])
    unique = np.array(
        [moment.utcoffset() == moment.replace(fold=1 - moment.fold).utcoffset() for moment in local]
    )
    assert np.all(got[unique] == truth[unique])
    if np.any(unique):
        assert np.all(got == truth)


@settings(deadline=None)
@given(st.datetimes(datetime(1950, 1, 1), datetime(2100, 1, 1)))
def test_parts_of_a_date_agree_with_the_standard_library(moment: datetime) -> None:
    """Any date is read as strptime reads it, to the microsecond."""
    form = "%d.%m.%Y %H:%M:%S.%f"
    got = local_seconds(texts(moment.strftime(form)), form=form)[0]
    assert got == pytest.approx(moment.replace(tzinfo=UTC).timestamp(), abs=1e-6)


@pytest.mark.parametrize(
    "word", ["2024-02-30 00:00:00", "2024-13-01 00:00:00", "2024-01-01 24:00:00", "x"]
)
def test_no_date_is_missing(word: str) -> None:
    """A day that no calendar has is not carried over to the next month."""
    assert np.isnan(local_seconds(texts(word), form=PLAIN)[0])


def test_formats_with_words_and_offsets() -> None:
    """Month names, two-digit years and offsets are read too; an offset is taken off."""
    assert (
        local_seconds(texts("5 Mar 26 10:00"), form="%d %b %y %H:%M")[0]
        == datetime(2026, 3, 5, 10, tzinfo=UTC).timestamp()
    )
    assert (
        local_seconds(texts("2026-03-05 10:00 +0200"), form="%Y-%m-%d %H:%M %z")[0]
        == datetime(2026, 3, 5, 8, tzinfo=UTC).timestamp()
    )
    assert (
        local_seconds(texts("2026-03-05T10:00:00"), form="")[0]
        == datetime(2026, 3, 5, 10, tzinfo=UTC).timestamp()
    )


def test_data_cut() -> None:
    """A date counts to its end in the campaign's zone; a time counts as it stands."""
    assert cut_time_s(None, time_zone="UTC") is None
    berlin = ZoneInfo("Europe/Berlin")
    assert (
        cut_time_s("2026-03-05", time_zone="Europe/Berlin")
        == datetime(2026, 3, 6, tzinfo=berlin).timestamp()
    )
    assert (
        cut_time_s("2026-03-05T10:00", time_zone="Europe/Berlin")
        == datetime(2026, 3, 5, 10, tzinfo=berlin).timestamp()
    )
