"""Platings from the bench log and from files of their current, against counting by hand."""

from __future__ import annotations

import numpy as np
import pytest

from trivet.science.lives.cell_life import BenchEvent
from trivet.science.reference.plating_sources import (
    Source,
    agree,
    first_platings,
    plated_charge_mAh,
)

DAY_S = 86_400.0


def test_charge_of_a_plating_by_hand() -> None:
    """0.2 mA for half an hour after cleaning with 0.1 mA for six minutes leave 0.09 mAh."""
    # by hand: 0.2 x 0.5 - 0.1 x 0.1; the sign of the current does not matter
    time_s = np.array([0.0, 360.0, 360.0, 2160.0])
    current_mA = np.array([-0.1, -0.1, 0.2, 0.2])
    for sign in (1.0, -1.0):
        got = plated_charge_mAh(time_s, sign * current_mA, longest_gap_s=3600.0)
        assert got == pytest.approx(0.09)
    assert plated_charge_mAh(time_s, current_mA, longest_gap_s=1000.0) == pytest.approx(0.01)


def test_a_file_gives_the_charge_that_the_log_does_not_state() -> None:
    """Log and file within a day are one plating: time of the log, charge of the file."""
    log = [Source(1000.0, None, logged=True)]
    got = agree(log, [Source(1900.0, 0.05, "p.csv")])
    assert got.platings == (Source(1000.0, 0.05, "p.csv", logged=True),)
    assert not got.alone + got.unlike


def test_the_log_outranks_the_file_and_a_difference_is_told() -> None:
    """Charges further apart than 5 % are told; nearer ones are not."""
    for stated, told in ((0.05, False), (0.0515, False), (0.06, True)):
        log = [Source(1000.0, stated, logged=True)]
        got = agree(log, [Source(1900.0, 0.05, "p.csv")])
        assert got.platings[0].charge_mAh == stated
        assert bool(got.unlike) == told


def test_files_of_two_platings_find_their_entries() -> None:
    """Each file belongs to the nearest entry; a third file is a plating of its own."""
    log = [Source(day * DAY_S, None, logged=True) for day in (0.0, 7.0)]
    files = [Source(day * DAY_S, charge, f"{day}.csv")
             for day, charge in ((7.1, 0.02), (0.2, 0.01), (20.0, 0.03))]  # fmt: skip
    got = agree(log, files)
    assert [plating.charge_mAh for plating in got.platings] == [0.01, 0.02, 0.03]
    assert [plating.logged for plating in got.platings] == [True, True, False]
    assert [file.file for file in got.alone] == ["20.0.csv"]


def test_a_file_without_calendar_time_needs_the_only_entry() -> None:
    """It belongs to the one entry there is; beside two, or none, it is left alone."""
    file = Source(None, 0.05, "p.csv")
    one = agree([Source(5.0, None, logged=True)], [file])
    assert one.platings == (Source(5.0, 0.05, "p.csv", logged=True),)
    for log in ([], [Source(5.0, None, logged=True), Source(9.0, None, logged=True)]):
        got = agree(log, [file])
        assert got.alone == (file,)
        assert len(got.platings) == len(log)


@pytest.mark.parametrize(
    ("logged", "files", "want"),
    [
        ([], [], (None, None)),
        ([], [2.0, 90.0], (2.0, 90.0)),
        ([("plated", 1.0)], [90.0], (1.0, 90.0)),
        ([("plated", 5.0)], [2.0], (5.0, None)),
        ([("plated", 1.0), ("re-plated", 80.0)], [90.0], (1.0, 80.0)),
        ([("paused", 0.5), ("plated", 1.0)], [], (1.0, None)),
    ],
)
def test_first_platings(
    logged: list[tuple[str, float]], files: list[float], want: tuple[float | None, float | None]
) -> None:
    """The log decides; files fill in what it lacks, and only later ones are a plating again."""
    events = [BenchEvent(event, time_h, "") for event, time_h in logged]
    assert first_platings(events, np.array(files)) == want
