"""The stage of forecasts: rows of running cells, weeks on the calendar, reasons, no calendar."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from trivet.reasons import Censored
from trivet.schema.settings.inference import CapacityEnd
from trivet.schema.tables.dictionary import TABLES
from trivet.science.forecast.interval import DEFAULT_FACTOR, NoForecast
from trivet.stages.forecast import run
from trivet.store.tables import rows_table

START_S = datetime(2026, 3, 2, tzinfo=UTC).timestamp()
CUT = datetime(2026, 4, 13, tzinfo=UTC)
"""Six weeks after the start."""
CUT_H = 1008.0
CYCLE_H = 6.0

Row = dict[str, Any]


def cycle_rows(cell: str, retention: np.ndarray) -> list[Row]:
    """Ageing cycles of six hours, every tenth a check-up that no forecast looks at."""
    return [
        {
            "cell": cell, "cycle": number, "start_h": CYCLE_H * (number - 1),
            "end_h": CYCLE_H * number, "complete": 1,
            "kind": "check-up" if number % 10 == 0 else "ageing",
            "retention": None if number % 10 == 0 else float(value),
        }
        for number, value in enumerate(retention, 1)
    ]  # fmt: skip


def life_rows(
    cell: str, hours: float, *, cause: str = "", start_s: float | None = START_S
) -> list[Row]:
    """A running cell, or one that ended by a cause at those hours."""
    ended = bool(cause)
    return [
        {
            "cell": cell, "group": "tape", "batch": "1", "endpoint": "cell", "clock": clock,
            "duration": duration, "lower": duration, "upper": duration if ended else None,
            "observed": int(ended), "cause": cause,
            "censored_because": "" if ended else str(Censored.RUNNING), "decided_by": "rule",
            "evidence": "invented", "stop_reason": "", "entry": None,
            "known_h": hours + 2 * CYCLE_H if ended else None, "start_s": start_s,
        }
        for clock, duration in (("hours", hours), ("cycles", hours / CYCLE_H))
    ]  # fmt: skip


def straight(life_h: float, *, cycles: int = 168) -> np.ndarray:
    """Retention that falls straight and passes 0.8 at `life_h`."""
    return np.asarray(1.0 - 0.2 * CYCLE_H * np.arange(1, cycles + 1) / life_h)


def forecast(
    cycles: list[Row], lives: list[Row], *, cut: datetime | None = CUT
) -> tuple[list[Row], list[Row]]:
    """Rows of both tables."""
    tables: tuple[pa.Table, pa.Table] = run(
        cycles=rows_table(TABLES["cycles"], cycles, sparse=True),
        lifetimes=rows_table(TABLES["lifetimes"], lives),
        cut=cut,
        capacity=CapacityEnd(),
        confidence=0.95,
    )
    return tables[0].to_pylist(), tables[1].to_pylist()


def of(rows: list[Row], cell: str, clock: str = "hours") -> Row:
    """The one row of a cell and clock."""
    (row,) = [row for row in rows if (row["cell"], row["clock"]) == (cell, clock)]
    return row


def test_a_straight_cell_ends_where_its_line_does_on_both_clocks() -> None:
    """Hours and cycles of one line agree; the default interval is its factor about time left."""
    made, _ = forecast(cycle_rows("a", straight(1100.0)), life_rows("a", CUT_H))
    row, counted = of(made, "a"), of(made, "a", "cycles")
    assert row["estimate"] == pytest.approx(1100.0)
    assert row["line"] == pytest.approx(1100.0)
    assert counted["estimate"] * CYCLE_H == pytest.approx(1100.0)
    assert row["slope"] == pytest.approx(-0.2 / 1100.0)
    assert (row["slope_unit"], counted["slope_unit"]) == ("1/h", "1/cycle")
    assert row["readings"] == 168 - 16
    assert row["made_at"] == CUT_H
    left = 1100.0 - row["made_at"]
    assert row["lower"] == pytest.approx(row["made_at"] + left / DEFAULT_FACTOR)
    assert row["estimate_in_d"] == pytest.approx((1100.0 - CUT_H) / 24.0)
    assert row["cells_learnt_from"] == 0
    assert row["soon"] == 1
    assert counted["soon"] is None


def test_who_ends_far_from_now_is_not_listed_as_soon() -> None:
    """An interval that begins after the next seven days does not count."""
    made, _ = forecast(cycle_rows("a", straight(3000.0)), life_rows("a", CUT_H))
    assert of(made, "a")["lower_in_d"] > 7.0
    assert of(made, "a")["soon"] == 0


def test_intervals_are_learnt_from_ended_cells_only_once_known() -> None:
    """Weeks before the first end have the default; those after it count the cells ended by then."""
    cycles, lives = cycle_rows("run", straight(2000.0)), life_rows("run", CUT_H)
    for place, life in enumerate((500.0, 520.0, 700.0)):
        name = f"e{place}"
        ended = CYCLE_H * (np.floor(life / CYCLE_H) + 1)
        cycles += cycle_rows(name, straight(life, cycles=int(ended / CYCLE_H) + 2))
        lives += life_rows(name, float(ended), cause="capacity")
    made, weeks = forecast(cycles, lives)
    hours = [row for row in weeks if row["clock"] == "hours"]
    assert [row["week"] for row in hours] == [
        "2026-03-09", "2026-03-16", "2026-03-23", "2026-03-30", "2026-04-06",
    ]  # fmt: skip
    # ends known at about 516, 534 and 714 h: weeks of 168, 336, 504, 672 and 840 h
    assert [row["cells_learnt_from"] for row in hours] == [0, 0, 0, 2, 3]
    # at 504 h the first cell is below the limit, so it is no longer forecast
    assert [row["ended"] for row in hours] == [3, 3, 2, 1, 0]
    assert all(row["inside"] == row["ended"] for row in hours)
    assert of(made, "run")["cells_learnt_from"] == 3
    assert {row["cell"] for row in made} == {"run"}


def test_a_sudden_end_is_counted_apart() -> None:
    """A short that came is neither inside nor outside: nothing forecasts it."""
    cycles = cycle_rows("run", straight(2000.0)) + cycle_rows("s", straight(2000.0, cycles=100))
    lives = life_rows("run", CUT_H) + life_rows("s", 600.0, cause="internal short")
    _, weeks = forecast(cycles, lives)
    first = min((row for row in weeks if row["clock"] == "hours"), key=lambda r: r["time_s"])
    assert (first["forecasts"], first["ended"], first["ended_otherwise"]) == (2, 0, 1)


def test_cells_without_a_forecast_say_why() -> None:
    """Few cycles, a rise, and readings below the limit; the last is listed as soon."""
    cycles = cycle_rows("few", straight(900.0, cycles=5))
    cycles += cycle_rows("rise", 1.0 + 0.001 * np.arange(168.0))
    cycles += cycle_rows("low", straight(996.0, cycles=167))
    lives = [row for cell in ("few", "rise", "low", "none") for row in life_rows(cell, CUT_H)]
    made, _ = forecast(cycles, lives)
    assert of(made, "few")["reason"] == NoForecast.FEW_READINGS
    assert of(made, "none")["reason"] == NoForecast.FEW_READINGS
    assert of(made, "rise")["reason"] == NoForecast.AWAY
    assert of(made, "low")["reason"] == NoForecast.AT_LIMIT
    assert of(made, "low")["soon"] == 1
    assert all(row["estimate"] is None for row in made)


@pytest.mark.parametrize(("cut", "start_s"), [(None, START_S), (CUT, None)])
def test_without_a_calendar_there_is_a_default_and_no_week(
    cut: datetime | None, start_s: float | None
) -> None:
    """Where weeks can't be placed, forecasts stand by default, days count from the last row."""
    cycles = cycle_rows("a", straight(1100.0)) + cycle_rows("b", straight(500.0, cycles=86))
    lives = life_rows("a", CUT_H, start_s=start_s)
    lives += life_rows("b", 504.0, cause="capacity", start_s=start_s)
    made, weeks = forecast(cycles, lives, cut=cut)
    assert weeks == []
    assert of(made, "a")["cells_learnt_from"] == 0
    assert of(made, "a")["estimate_in_d"] == pytest.approx((1100.0 - CUT_H) / 24.0)
