"""The survival stage on small tables: curves, comparisons, verdicts, findings, files."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from jobs import run_job

from trivet.campaign.interim import interim_mark
from trivet.schema.findings.verdicts import VERDICTS, plain_number, plain_p
from trivet.schema.settings.inference import Comparison, Factor, Survival
from trivet.schema.tables.dictionary import TABLES
from trivet.stages import balance
from trivet.stages.planning import stage as planning
from trivet.stages.survival.looks import Schedule
from trivet.stages.survival.stage import SurvivalTables, run
from trivet.store.tables import empty, make_table

# Freireich et al. 1963, Blood 21, 699; Gehan 1965 (weeks in remission, negative = censored), as
# printed in Klein & Moeschberger, Survival Analysis, section 1.2.
MERCAPTOPURINE = (6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32,
                  -34, -35)  # fmt: skip
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)

Life = tuple[str, str, float]
"""Group, batch, duration (negative: censored)."""


def campaign(
    lives: list[Life],
    *,
    endpoint: str = "cell",
    clocks: tuple[str, ...] = ("hours",),
    excluded: tuple[int, ...] = (),
    because: dict[int, str] | None = None,
) -> tuple[pa.Table, pa.Table]:
    """Tables `cells` and `lifetimes` of cells c00, c01, ... with a factor `seal`."""
    names = [f"c{place:02d}" for place in range(len(lives))]
    groups = [group for group, _, _ in lives]
    batches = [batch for _, batch, _ in lives]
    cells = make_table(
        TABLES["cells"],
        {
            "cell": names,
            "batch": batches,
            "group": groups,
            "included": [int(place not in excluded) for place in range(len(lives))],
            "exclusion_reason": ["" for _ in lives],
            "mass_lost_mg_per_d": [None for _ in lives],
            "status": ["running" for _ in lives],
            "seal": groups,
        },
        ["seal"],
    )
    rows = []
    for clock in clocks:
        for name, (group, batch, value) in zip(names, lives, strict=True):
            seen = value > 0
            rows.append(
                {
                    "cell": name,
                    "group": group,
                    "batch": batch,
                    "endpoint": endpoint,
                    "clock": clock,
                    "duration": abs(value),
                    "observed": int(seen),
                    "cause": "capacity" if seen else "",
                    "censored_because": ""
                    if seen
                    else (because or {}).get(int(name[1:]), "running"),
                    "decided_by": "rule",
                    "evidence": "as told",
                }
            )
    return cells, table("lifetimes", rows)


def table(name: str, rows: list[dict[str, Any]]) -> pa.Table:
    """Table of a name from rows; what they leave out is missing."""
    return make_table(
        TABLES[name], {column: [row.get(column) for row in rows] for column in TABLES[name].names}
    )


def analysed(cells: pa.Table, lifetimes: pa.Table, **changes: Any) -> SurvivalTables:
    """Run the stage with few draws."""
    comparison = Comparison(factors=[Factor(factor="seal", control="plain")])
    return run(
        cells=cells,
        lifetimes=lifetimes,
        survival=Survival(monte_carlo_draws=20_000),
        comparison=comparison.model_copy(update=changes.pop("comparison", {})),
        **{"primary_clock": "hours", **changes},
    )


def remission() -> tuple[pa.Table, pa.Table]:
    """The 42 patients as a campaign of two groups."""
    lives = [("bead", "1", float(v)) for v in MERCAPTOPURINE]
    return campaign(lives + [("plain", "1", float(v)) for v in PLACEBO])


def row_of(tables: SurvivalTables, measure: str, **keys: str) -> dict[str, Any]:
    """The one row of a measure."""
    rows = [
        row
        for row in tables.comparisons.to_pylist()
        if row["measure"] == measure and all(row[key] == value for key, value in keys.items())
    ]
    assert len(rows) == 1
    return rows[0]


def test_remission_data_through_the_stage() -> None:
    """Ends 9 of 21 against 21 of 21, expected 19.25, chi-squared 16.79, medians 23 and 8."""
    # Rodriguez, Survival Analysis notes (O, E, chi2 16.79, p 4e-05); medians as in textbooks
    got = analysed(*remission())
    plain = row_of(got, "log-rank")
    assert plain["statistic"] == pytest.approx(16.79, abs=5e-3)
    assert plain["p"] == pytest.approx(4e-05, abs=5e-6)
    assert plain["observed_events"] == 9
    assert plain["expected_events"] == pytest.approx(19.25, abs=5e-3)
    assert (plain["events"], plain["cells"]) == (9, 21)
    assert (plain["control_events"], plain["control_cells"]) == (21, 21)
    summary = {row["group"]: row for row in got.life_summary.to_pylist()}
    assert summary["bead"]["median"] == 23
    assert summary["bead"]["median_lower"] == 13
    assert summary["bead"]["median_upper"] is None
    assert summary["plain"]["median"] == 8
    assert summary["plain"]["restriction_time"] == 23
    begins = {row["group"]: row for row in got.survival.to_pylist() if row["time"] == 0}
    # limits before any end: Clopper and Pearson for 0 of 21
    assert begins["bead"]["beta_lower"] == pytest.approx(0.025 ** (1 / 21))
    assert (begins["bead"]["survival"], begins["bead"]["at_risk"]) == (1.0, 21)
    exact = row_of(got, "exact log-rank")
    assert exact["verdict"] == "different"
    assert exact["reason"].startswith("Cells of 'bead' last longer than cells of 'plain'.")
    assert "permutations drawn" in exact["reason"]


def test_every_cell_is_counted() -> None:
    """Ends and last sights over the steps of a curve add up to the cells; excluded cells don't."""
    cells, lifetimes = remission()
    got = analysed(cells, lifetimes)
    for group, number in (("bead", 21), ("plain", 21)):
        steps = [row for row in got.survival.to_pylist() if row["group"] == group]
        assert sum(row["events"] + row["censored"] for row in steps) == number
    fewer, lifetimes = campaign([("plain", "1", 4.0), ("bead", "1", 5.0)] * 3, excluded=(0,))
    exact = row_of(analysed(fewer, lifetimes), "exact log-rank")
    assert (exact["cells"], exact["control_cells"]) == (3, 2)


def test_three_against_three_can_show_nothing() -> None:
    """All of one group ended before the other: p is 0.10, and the sentence says why that is all."""
    # enumeration by hand: 2 of 20 permutations
    lives = [("plain", "1", float(t)) for t in (1, 2, 3)] + [("bead", "1", 4.0)]
    got = analysed(*campaign([*lives, ("bead", "1", 5.0), ("bead", "1", 6.0)]))
    exact = row_of(got, "exact log-rank")
    assert exact["p"] == pytest.approx(0.10)
    assert exact["smallest_attainable_p"] == pytest.approx(0.10)
    assert exact["verdict"] == "inconclusive"
    assert (
        "no difference could have been shown: the smallest attainable p is 0.10"
        in (exact["reason"])
    )


def test_a_variant_in_its_own_batch_is_not_estimable() -> None:
    """No batch holds both groups: the verdict says so instead of giving a p of 1."""
    lives = [("plain", "1", float(t)) for t in (1, 2, 3, 4)]
    got = analysed(*campaign(lives + [("bead", "2", float(t)) for t in (11, 12, 13, 14)]))
    exact = row_of(got, "exact log-rank")
    assert exact["verdict"] == "not estimable"
    assert exact["p"] is None
    assert "No batch holds cells of both 'bead' and 'plain'" in exact["reason"]
    assert row_of(got, "time ratio")["estimate"] is None


def test_idle_cells_are_named() -> None:
    """Cells in a batch without the other group are counted in the sentence."""
    lives = [("plain", "1", 1.0), ("plain", "1", 2.0), ("bead", "1", 3.0), ("bead", "1", 4.0)]
    got = analysed(*campaign([*lives, ("bead", "2", 9.0)]))
    assert "1 of these cells stand in batches without" in row_of(got, "exact log-rank")["reason"]


def test_a_control_without_cells_and_a_factor_without_column() -> None:
    """Both are said in a row or a finding; nothing raises, nothing vanishes."""
    cells, lifetimes = campaign([("bead", "1", 3.0), ("bead", "1", 4.0)])
    factors = [Factor(factor="seal", control="plain"), Factor(factor="wire", control="thin")]
    got = analysed(cells, lifetimes, comparison={"factors": factors})
    exact = row_of(got, "exact log-rank")
    assert exact["verdict"] == "not estimable"
    assert "no cell of 'plain' counts" in exact["reason"]
    (finding,) = got.findings.to_pylist()
    assert "no column 'wire'" in finding["message"]
    assert finding["severity"] == "fault"


def test_nothing_ended_is_not_estimable() -> None:
    """A campaign in which every cell runs has curves and counts, but no comparison."""
    lives = [("plain", "1", -9.0), ("bead", "1", -9.0)] * 3
    got = analysed(*campaign(lives))
    exact = row_of(got, "exact log-rank")
    assert exact["verdict"] == "not estimable"
    assert "no informative event" in exact["reason"]
    assert all("median not reached" in row["reason"] for row in got.life_summary.to_pylist())
    assert got.causes.num_rows == 0


def test_no_cells_at_all() -> None:
    """Empty tables give empty tables with their columns."""
    cells, _ = campaign([])
    got = analysed(cells, empty(TABLES["lifetimes"]))
    for name in ("survival", "at_risk", "life_summary", "comparisons", "causes", "findings"):
        assert getattr(got, name).num_rows == 0


def test_three_groups_have_an_overall_test_and_are_closed() -> None:
    """Beside each contrast stands the overall test; the larger p of both is the adjusted one."""
    lives = [
        (seal, batch, float(10 * place + step))
        for place, seal in enumerate(("plain", "bead", "weld"))
        for batch in ("1", "2")
        for step in (1, 4, 6)
    ]
    got = analysed(*campaign(lives))
    overall = row_of(got, "exact log-rank", control="all")
    assert overall["cells"] == 18
    assert "quadratic form" in overall["reason"]
    assert overall["verdict"] in ("", None)
    assert overall["p"] < 0.05
    for seal in ("bead", "weld"):
        exact = row_of(got, "exact log-rank", group=seal)
        # by hand: complete separation within two batches of 3 and 3: 2 of C(6,3)^2 = 400
        assert exact["p"] == pytest.approx(2 / 400)
        assert exact["p_adjusted"] == pytest.approx(max(2 / 400, overall["p"]))
        assert exact["stratified_by"] == "batch"
        assert row_of(got, "time ratio for equivalence", group=seal)["confidence"] == 0.95


def test_references_compete_with_their_cells() -> None:
    """For references the end of a cell is a cause of its own, and the sentence points there."""
    because = {1: "cell ended first", 4: "cell ended first"}
    lives = [("plain", "1", 2.0), ("plain", "1", -3.0), ("plain", "1", 5.0), ("bead", "1", 4.0),
             ("bead", "1", -6.0), ("bead", "1", -9.0)]  # fmt: skip
    got = analysed(*campaign(lives, endpoint="reference", because=because))
    assert "see causes" in row_of(got, "exact log-rank")["reason"]
    shares = {
        (row["cause"], row["time"]): row["incidence"]
        for row in got.causes.to_pylist()
        if row["group"] == "plain"
    }
    # by hand: one of three lost at 2, then one of two cells left ends at 3, the last is lost at 5
    assert shares["reference lost", 2] == pytest.approx(1 / 3)
    assert shares["cell ended first", 3] == pytest.approx(1 / 3)
    assert shares["reference lost", 5] == pytest.approx(2 / 3)


def test_the_other_clock_is_sensitivity() -> None:
    """Both clocks have a verdict; the one that does not decide names the one that does."""
    lives = [("plain", "1", 1.0), ("plain", "1", 2.0), ("bead", "1", 3.0), ("bead", "1", 4.0)]
    got = analysed(*campaign(lives, clocks=("hours", "cycles")))
    assert "primary clock" not in row_of(got, "exact log-rank", clock="hours")["reason"]
    other = row_of(got, "exact log-rank", clock="cycles")
    assert "Sensitivity only: the primary clock is hours" in other["reason"]
    assert other["verdict"] in VERDICTS


def test_unusable_durations_stay_in_the_counts() -> None:
    """A life without duration counts as censored at 0, with a finding."""
    cells, lifetimes = campaign([("plain", "1", 4.0), ("bead", "1", 5.0), ("bead", "1", 6.0)])
    rows = lifetimes.to_pylist()
    rows[2]["duration"] = None
    got = analysed(cells, table("lifetimes", rows))
    exact = row_of(got, "exact log-rank")
    assert (exact["cells"], exact["events"]) == (2, 1)
    assert "no duration" in got.findings.to_pylist()[0]["message"]


def test_unlike_follow_up_is_a_finding() -> None:
    """Groups whose cells were last seen at quite different times are named, with p and limit."""
    lives = [("plain", "1", -float(t)) for t in (1, 2, 3, 4)]
    got = analysed(*campaign(lives + [("bead", "1", -float(t)) for t in (11, 12, 13, 14)]))
    (finding,) = got.findings.to_pylist()
    assert finding["check"] == "followed alike"
    assert finding["value"] == pytest.approx(2 / 70)  # by hand: 2 of C(8, 4) permutations
    assert finding["limit"] == 0.1


def test_numbers_at_risk_start_with_all_cells() -> None:
    """At time 0 every cell of a group is at risk, and numbers never rise."""
    got = analysed(*remission()).at_risk.to_pylist()
    own = [row["at_risk"] for row in got if row["group"] == "bead"]
    assert own[0] == 21
    assert own == sorted(own, reverse=True)
    # by hand from the data: 15 patients at risk at 10 weeks, 8 at 20, 4 at 30
    assert own == [21, 15, 8, 4]


def test_names_and_order_of_cells_do_not_matter() -> None:
    """Other cell names and another order of rows give the same tables."""
    lives = [("plain", "1", 1.0), ("bead", "1", 3.0), ("plain", "2", -2.0), ("bead", "2", 4.0)]
    first = analysed(*campaign(lives))
    second = analysed(*campaign(lives[::-1]))
    assert first.comparisons.equals(second.comparisons)
    assert first.survival.equals(second.survival)


def ledger(last_time_s: float, absolute: str = "yes") -> pa.Table:
    """A ledger of one file."""
    row = {
        "cell": "c00", "file": "c00.csv", "content": "cycling", "layout": "x", "bytes": 1,
        "sha256": "0", "rows_seen": 1, "rows_used": 1, "rows_set_aside": 0,
        "absolute_time": absolute, "first_time_s": 0.0, "last_time_s": last_time_s,
    }  # fmt: skip
    return table("ledger", [row])


def test_interim_looks_are_marked() -> None:
    """Before the planned end a look is interim; on its day it is final; unknown is a finding."""
    march_6 = 1772791200.0  # 2026-03-06 10:00 UTC
    zone = {"time_zone": "Europe/Berlin"}
    mark, found = interim_mark(planned_end="2026-03-07", ledger=ledger(march_6), **zone)
    assert mark == "Interim: the data cut of 2026-03-06 lies before the planned end 2026-03-07"
    assert found == []
    assert interim_mark(planned_end="2026-03-06", ledger=ledger(march_6), **zone) == ("", [])
    assert interim_mark(planned_end=None, ledger=None, **zone) == ("", [])
    mark, _ = interim_mark(
        planned_end="2026-03-06T12:00", data_cut="2026-03-06T11:59", ledger=None, **zone
    )
    assert mark.startswith("Interim")
    mark, (finding,) = interim_mark(
        planned_end="2026-03-07", ledger=ledger(5.0, absolute="no"), **zone
    )
    assert mark == ""
    assert "can't be told" in finding.message


def test_numbers_in_sentences() -> None:
    """Three digits for an effect, two for a p, and words where a limit is missing."""
    assert [plain_number(v) for v in (1.0, 23.04, 123.4, 1234.5, float("nan"))] == [
        "1.00", "23.0", "123", "1234", "no limit",
    ]  # fmt: skip
    assert [plain_p(v) for v in (0.1, 1.0, 0.00123, 4.2e-05)] == [
        "0.10",
        "1.0",
        "0.0012",
        "4.2e-05",
    ]


def test_the_command_writes_its_tables(tmp_path: Path) -> None:
    """From the command line: every table is written, and an interim look is in the sentence."""
    lives = [("plain", "1", 1.0), ("plain", "1", 2.0), ("bead", "1", 3.0), ("bead", "1", 4.0)]
    cells, lifetimes = campaign(lives)
    tables = {"cells": cells, "lifetimes": lifetimes, "ledger": ledger(0.0)}
    settings = {
        "survival": Survival().model_dump(),
        "comparison": {"factors": [{"factor": "seal", "control": "plain"}]},
        "lifetime": {"primary_clock": "hours"},
        "campaign": {"planned_end": "2026-04-24", "time_zone": "UTC"},
    }
    written = run_job(tmp_path, "survival", settings=settings, tables=tables)
    comparisons = written["comparisons"]
    reasons = [row["reason"] for row in comparisons.to_pylist() if row["verdict"]]
    assert len(reasons) == 1
    assert reasons[0].endswith("the planned end 2026-04-24.")
    for name in ("survival", "at_risk", "life_summary", "causes"):
        assert written[name].num_rows > 0
    assert "findings_survival" in written
    assert np.all(np.array(comparisons["cells"]) > 0)


# --- looks ---------------------------------------------------------------------------------------

BEGAN_S = datetime(2026, 3, 2, tzinfo=UTC).timestamp()
DAY_H = 24.0


def looked(days: dict[str, list[float]], cut: datetime, *, looks: str = "weekly") -> SurvivalTables:
    """Cells that all began on 2 March and are planned to be judged on 13 April, six weeks later.

    `days` are ends in days; what had not ended by the cut is running.
    """
    age_h = (cut.timestamp() - BEGAN_S) / 3600.0
    lives: list[Life] = []
    for group, ends in days.items():
        for end in ends:
            lives.append((group, "1", end * DAY_H if end * DAY_H <= age_h else -age_h))
    cells, lifetimes = campaign(lives)
    rows = lifetimes.to_pylist()
    for row in rows:
        row["start_s"] = BEGAN_S
        row["known_h"] = row["duration"] if row["observed"] else None
    return run(
        cells=cells,
        lifetimes=table("lifetimes", rows),
        survival=Survival(monte_carlo_draws=2000),
        comparison=Comparison(factors=[Factor(factor="seal", control="tape")], looks=looks),
        primary_clock="hours",
        schedule=Schedule("2026-04-13", "UTC", cut),
    )


DAYS = {"tape": [9, 10, 11, 12, 13, 41], "epoxy": [30, 31, 32, 33, 34, 34.5]}
"""At first tape ends early; the last tape outlives all of epoxy."""


def primary(tables: SurvivalTables) -> dict[str, Any]:
    """The row of the exact test."""
    return next(row for row in tables.comparisons.to_pylist() if row["measure"] == "exact log-rank")


def test_what_a_look_has_shown_stays_shown_with_its_date() -> None:
    """The date of the claim is that of the first look that shows it, at every later cut."""
    early = primary(looked(DAYS, datetime(2026, 3, 17, tzinfo=UTC)))
    assert early["verdict"] == "inconclusive"
    dates = set()
    for day in (31, 7, 12):
        cut = datetime(2026, 3 if day == 31 else 4, day, tzinfo=UTC)
        row = primary(looked(DAYS, cut))
        assert row["verdict"] == "different"
        assert f"Shown at the look of {row['shown_on']}" in row["reason"]
        dates.add(row["shown_on"])
    assert len(dates) == 1


def test_a_small_p_at_an_early_look_is_not_yet_a_verdict() -> None:
    """Five ends against none after two weeks: p below 0.05, but the level is kept for later."""
    row = primary(looked(DAYS, datetime(2026, 3, 17, tzinfo=UTC)))
    assert row["p"] < 0.05
    assert row["shown_on"] in ("", None)
    assert "The looks share a level of 0.05 between them" in row["reason"]
    assert "2026-03-16" in row["reason"]


def test_the_final_look_alone_shows_nothing_before_it() -> None:
    """With `looks: final` nothing is shown before the planned end, then by the plain test."""
    cut = datetime(2026, 3, 31, tzinfo=UTC)
    before = looked(DAYS, cut, looks="final")
    assert primary(before)["verdict"] == "inconclusive"
    assert "the first is still to come" in primary(before)["reason"]
    assert before.looks.num_rows == 0
    after = looked(DAYS, datetime(2026, 4, 13, 9, tzinfo=UTC), looks="final")
    (look,) = after.looks.to_pylist()
    assert (look["fraction"], look["p"]) == (1.0, pytest.approx(primary(after)["p"]))
    assert (primary(after)["verdict"] == "different") == bool(look["crossed"])


@pytest.mark.parametrize("looks", ["weekly", "final"])
def test_what_comes_after_the_planned_end_decides_nothing(looks: str) -> None:
    """Five against four ends on the day; two weeks later the ends part the groups: too late."""
    days = {"tape": [9, 20, 31, 38, 43, 44], "epoxy": [12, 21, 33, 54, 55, 56]}
    on_the_day = looked(days, datetime(2026, 4, 13, 9, tzinfo=UTC), looks=looks)
    later = looked(days, datetime(2026, 4, 24, tzinfo=UTC), looks=looks)
    assert primary(later)["p"] != primary(on_the_day)["p"]
    assert later.looks.to_pylist() == on_the_day.looks.to_pylist()
    for name in ("verdict", "shown_on"):
        assert primary(later)[name] == primary(on_the_day)[name]


def test_every_look_is_a_row() -> None:
    """The table holds each look with what may be spent, what was, and the boundary."""
    rows = looked(DAYS, datetime(2026, 4, 13, 9, tzinfo=UTC)).looks.to_pylist()
    assert [row["look"] for row in rows] == [
        "2026-03-09", "2026-03-16", "2026-03-23", "2026-03-30", "2026-04-06", "2026-04-13",
    ]  # fmt: skip
    assert all(row["spent"] <= row["may_spend"] + 1e-12 for row in rows)
    assert sum(row["crossed"] for row in rows) == 1


def test_lives_without_a_start_are_judged_as_before() -> None:
    """Where no start is known there are no looks, and each cut stands for itself."""
    cells, lifetimes = campaign([("tape", "1", 5.0), ("epoxy", "1", 9.0)] * 6)
    found = run(
        cells=cells,
        lifetimes=lifetimes,
        survival=Survival(monte_carlo_draws=2000),
        comparison=Comparison(factors=[Factor(factor="seal", control="tape")]),
        primary_clock="hours",
        schedule=Schedule("2026-04-13", "UTC", datetime(2026, 4, 1, tzinfo=UTC)),
    )
    assert found.looks.num_rows == 0
    assert primary(found)["verdict"] == "different"


@pytest.mark.parametrize("kept", [("plain",), ("plain", "bead"), ("bead", "wax"), ("wax",)])
@pytest.mark.parametrize("looks", ["weekly", "final"])
def test_groups_without_a_life_on_a_clock_are_said(kept: tuple[str, ...], looks: str) -> None:
    """A group of which no cell has a life in cycles, or the control, keeps its row in each stage.

    So it is at an early data cut, and of cells of which there are only spectra.
    """
    lives = [
        (group, "1", value)
        for group, values in (("plain", (3.0, 4.0, 5.0)), ("bead", (6.0, -7.0, 8.0)),
                              ("wax", (5.5, 6.5, -9.0)))
        for value in values
    ]  # fmt: skip
    cells, lifetimes = campaign(lives, clocks=("hours", "cycles"))
    rows = [row for row in lifetimes.to_pylist() if row["clock"] == "hours" or row["group"] in kept]
    some = pa.Table.from_pylist(rows, schema=lifetimes.schema)
    got = analysed(cells, some, primary_clock="cycles", comparison={"looks": looks})
    groups = ("bead", "wax")
    for group in groups:
        exact = row_of(got, "exact log-rank", clock="cycles", group=group)
        both = "plain" in kept and group in kept
        assert (exact["verdict"] == "not estimable") is not both
        if group not in kept or "plain" not in kept:
            assert "counts" in exact["reason"]
    comparison = Comparison(factors=[Factor(factor="seal", control="plain")])
    planned = planning.run(
        cells=cells, lifetimes=some, comparison=comparison, primary_clock="cycles", seed=1,
        calendar=planning.Calendar(None, "UTC"),
    )  # fmt: skip
    assert set(planned["group"].to_pylist()) == set(groups)
    balance.run(
        cells=cells, lifetimes=some, comparison=comparison, survival=Survival(),
        primary_clock="cycles", time_zone="UTC",
    )  # fmt: skip
