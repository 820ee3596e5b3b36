"""The stage lifetime on a campaign of a few cells whose fates can be read off."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from jobs import run_job

from trivet.errors import InputError
from trivet.reasons import Hand
from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.findings.hands import hand_of
from trivet.schema.settings.inference import Lifetime
from trivet.schema.settings.science import Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.lifetime.stage import INPUTS, LifetimeTables, run
from trivet.store.tables import empty, make_table

START_S = 1_772_442_000.0
"""2026-03-02T09:00 UTC, which is 10:00 in Berlin."""
CUT_S = START_S + 500 * 3600.0


def facts(cell: str, *log: tuple[str, float, str], **changes: Any) -> CellFacts:
    """A cell with its log as (event, hours, cause)."""
    entries = tuple(
        LogEntry(cell, START_S + hours * 3600.0, event, cause, line=2)
        for event, hours, cause in log
    )
    values = {"cell": cell, "batch": "A", "seal": "plain", "note": f"note of {cell}"}
    given = {"clock_start_s": START_S, "values": values, "log": entries} | changes
    return CellFacts(cell=cell, batch="A", **given)


def cycle_rows(cell: str, retention: list[float]) -> list[dict[str, Any]]:
    """Complete ageing cycles of 4 h each from hour 10 on."""
    blank = dict.fromkeys(TABLES["cycles"].names)
    return [
        blank
        | {
            "cell": cell,
            "cycle": number,
            "start_h": 6.0 + 4.0 * number,
            "end_h": 9.5 + 4.0 * number,
            "charge_capacity_mAh": 2.0 * share,
            "discharge_capacity_mAh": 2.0 * share,
            "coulombic_efficiency": 0.999,
            "kind": "ageing",
            "complete": 1,
            "retention": share,
        }
        for number, share in enumerate(retention, start=1)
    ]


def ledger_row(cell: str, last_h: float, *, absolute: str = "yes") -> dict[str, Any]:
    """A cycling file from hour 8 on."""
    origin_s = START_S + 8 * 3600.0 if absolute == "yes" else 0.0
    return dict.fromkeys(TABLES["ledger"].names, "") | {
        "cell": cell,
        "file": f"raw/{cell}.csv",
        "content": "cycling",
        "bytes": 1,
        "rows_seen": 9,
        "rows_used": 9,
        "rows_set_aside": 0,
        "absolute_time": absolute,
        "first_time_s": origin_s,
        "last_time_s": origin_s + (last_h - 8.0) * 3600.0,
    }


def check_row(cell: str, hours: float, check: str, value: float) -> dict[str, Any]:
    """A check of the reference in mV."""
    names = ("cell", "time_h", "check", "value", "unit", "limit", "trust")
    return dict(zip(names, (cell, hours, check, value, "mV", 20.0, "trusted"), strict=True))


def table(name: str, rows: list[dict[str, Any]]) -> pa.Table:
    """Rows as a table; what a row does not say is missing."""
    return make_table(TABLES[name], {key: [r.get(key) for r in rows] for key in TABLES[name].names})


def inputs(**rows: list[dict[str, Any]]) -> dict[str, pa.Table]:
    """Input tables; those not given are empty."""
    return {
        name: table(name, rows[name]) if name in rows else empty(TABLES[name]) for name in INPUTS
    }


def decide(cells: list[CellFacts], cut_s: float | None = CUT_S, **rows: Any) -> LifetimeTables:
    """Run the stage with the default settings."""
    return run(
        cells=cells,
        inputs=inputs(**rows),
        lifetime=Lifetime(),
        trust=Trust(),
        factor="seal",
        cut_s=cut_s,
    )


def row_of(tables: LifetimeTables, cell: str, endpoint: str, clock: str) -> dict[str, Any]:
    """The only row of a cell, endpoint and clock."""
    (row,) = (
        row
        for row in tables.lifetimes.to_pylist()
        if (row["cell"], row["endpoint"], row["clock"]) == (cell, endpoint, clock)
    )
    return dict(row)


CELLS = [
    facts("worn", ("plated", 9.0, "")),
    facts("runs", ("plated", 9.0, "")),
    facts("halt", ("stopped", 30.0, "")),
    facts("leak", ("failed", 25.0, "leak")),
    facts("none"),
    facts("odd", included=False, exclusion_reason="dropped"),
    facts("lapse"),
]
WORN = [1.0, 0.95, 0.79, 0.78, 0.77]
ROWS = {
    "cycles": [
        *cycle_rows("worn", WORN),
        *cycle_rows("runs", [1.0] * 120),
        *cycle_rows("halt", [1.0] * 5),
        *cycle_rows("leak", WORN),
        *cycle_rows("lapse", [1.0] * 5),
    ],
    "ledger": [
        ledger_row("worn", 30.0),
        ledger_row("runs", 495.0),
        ledger_row("halt", 30.0),
        ledger_row("leak", 30.0),
        ledger_row("lapse", 30.0),
    ],
    "reference_checks": [
        check_row("runs", 40.0, "offset", 1.0),
        check_row("runs", 208.0, "offset", 31.0),
        check_row("runs", 376.0, "offset", 35.0),
        check_row("worn", 20.0, "offset", 1.0),
    ],
}


def test_every_cell_stands_in_the_table_with_its_status() -> None:
    """Nothing vanishes: excluded cells and cells without data stay, with the sheet's columns."""
    cells = {row["cell"]: row for row in decide(CELLS, **ROWS).cells.to_pylist()}
    assert {name: row["status"] for name, row in cells.items()} == {
        "worn": "ended (capacity)",
        "runs": "running",
        "halt": "stopped",
        "leak": "ended (leak)",
        "none": "no data",
        "odd": "excluded",
        "lapse": "data end, not explained",
    }
    assert cells["odd"]["exclusion_reason"] == "dropped"
    assert cells["odd"]["included"] == 0
    assert (cells["worn"]["group"], cells["worn"]["seal"]) == ("plain", "plain")
    assert cells["worn"]["note"] == "note of worn"


def test_each_counted_cell_has_four_rows() -> None:
    """Two endpoints and two clocks a counted cell, none for an excluded one."""
    rows = decide(CELLS, **ROWS).lifetimes.to_pylist()
    assert len(rows) == 4 * 6
    assert not [row for row in rows if row["cell"] == "odd"]
    assert all(row["evidence"] for row in rows)
    assert all((row["cause"] != "") == (row["observed"] == 1) for row in rows)
    assert all((row["censored_because"] != "") == (row["observed"] == 0) for row in rows)


def test_lives_have_the_hours_and_cycles_of_their_fates() -> None:
    """End by capacity at the end of cycle 3; stop and failure at their times in the log."""
    tables = decide(CELLS, **ROWS)
    worn = row_of(tables, "worn", "cell", "hours")
    assert (worn["duration"], worn["lower"], worn["upper"]) == (21.5, 17.5, 21.5)
    assert row_of(tables, "worn", "cell", "cycles")["duration"] == 3.0
    halt = row_of(tables, "halt", "cell", "hours")
    assert (halt["duration"], halt["upper"]) == (30.0, None)
    leak = row_of(tables, "leak", "cell", "hours")
    assert (leak["duration"], leak["decided_by"]) == (25.0, "bench log")
    none = row_of(tables, "none", "cell", "hours")
    assert (none["duration"], none["observed"], none["censored_because"]) == (0.0, 0, "no data")


def spectra_row(cell: str, hours: float, *, absolute: str = "yes") -> dict[str, Any]:
    """A file with one spectrum, taken at an hour of the cell's clock."""
    at_s = START_S + hours * 3600.0 if absolute == "yes" else None
    return ledger_row(cell, hours, absolute=absolute) | {
        "file": f"raw/{cell}-{hours:g}.csv",
        "content": "impedance",
        "first_time_s": at_s,
        "last_time_s": at_s,
    }


def test_a_cell_with_spectra_alone_was_seen_until_its_last_spectrum() -> None:
    """It has data and a life in hours, none in cycles and none of its reference.

    What is known of such a cell (common practice, no source): it was there when it was measured.
    """
    cells = [facts("near"), facts("far"), facts("leak", ("failed", 300.0, "leak")), facts("none")]
    times = {"near": (20.0, 200.0, 480.0), "far": (100.0,), "leak": (20.0, 200.0)}
    files = [spectra_row(cell, hours) for cell, own in times.items() for hours in own]
    tables = decide(cells, ledger=files)
    assert {row["cell"]: row["status"] for row in tables.cells.to_pylist()} == {
        "near": "running",
        "far": "data end, not explained",
        "leak": "ended (leak)",
        "none": "no data",
    }
    lives = {(row["cell"], row["endpoint"], row["clock"]): row
             for row in tables.lifetimes.to_pylist()}  # fmt: skip
    values = ("duration", "lower", "observed")
    assert {key: tuple(row[name] for name in values) for key, row in lives.items()} == {
        ("near", "cell", "hours"): (480.0, 480.0, 0),
        ("far", "cell", "hours"): (100.0, 100.0, 0),
        ("leak", "cell", "hours"): (300.0, 200.0, 1),
        ("none", "cell", "hours"): (0.0, 0.0, 0),
    }
    assert lives["near", "cell", "hours"]["evidence"].startswith("last spectrum at 480.00 h")


def test_spectra_after_an_earlier_data_cut_say_nothing_at_it() -> None:
    """As of hour 250 a cell was last seen at its spectrum of hour 200, not at that of hour 480."""
    files = [spectra_row("near", hours) for hours in (20.0, 200.0, 480.0)]
    tables = decide([facts("near")], ledger=files, cut_s=START_S + 250 * 3600.0)
    assert row_of(tables, "near", "cell", "hours")["duration"] == 200.0


def test_lives_that_nobody_observed_are_absent_not_zero() -> None:
    """Spectra without times tell no life: a status and a finding say so, and no row of 0 h."""
    cells = [facts("bare"), facts("none")]
    tables = decide(cells, ledger=[spectra_row("bare", 1.0, absolute="no")])
    assert tables.lifetimes.num_rows == 0
    assert [row["status"] for row in tables.cells.to_pylist()] == ["no times", "no data"]
    found = [(row["cell"], row["check"]) for row in tables.findings.to_pylist()]
    assert found == [("bare", "life not observed")]


def test_reference_lives_count_from_the_plating() -> None:
    """Lost between the checks at 40 h and 208 h, plated at 9 h; a cell that ends first censors."""
    tables = decide(CELLS, **ROWS)
    lost = row_of(tables, "runs", "reference", "hours")
    assert (lost["lower"], lost["upper"], lost["cause"]) == (31.0, 199.0, "reference lost")
    assert row_of(tables, "runs", "cell", "hours")["observed"] == 0
    first = row_of(tables, "worn", "reference", "hours")
    assert (first["censored_because"], first["duration"]) == ("cell ended first", 12.5)
    unchecked = row_of(tables, "halt", "reference", "hours")
    assert unchecked["censored_because"] == "no check possible"


def test_findings_name_what_the_reader_must_know() -> None:
    """Unexplained ends of data, and where the bench log outranked the rule."""
    found = {(row["cell"], row["check"]): row for row in decide(CELLS, **ROWS).findings.to_pylist()}
    assert set(found) == {
        ("lapse", "data end"),
        ("leak", "bench log outranks rule"),
        ("halt", "stop without a reason"),
    }
    assert found["lapse", "data end"]["severity"] == "caution"
    outranked = found["leak", "bench log outranks rule"]
    assert (outranked["value"], outranked["limit"], outranked["unit"]) == (25.0, 21.5, "h")


def test_entries_after_the_cut_do_not_count() -> None:
    """As of an earlier date the leak has not happened yet, and the cell is running."""
    rows = ROWS | {"ledger": [ledger_row("leak", 20.0)], "cycles": cycle_rows("leak", [1.0, 0.95])}
    tables = decide([facts("leak", ("failed", 25.0, "leak"))], START_S + 20.5 * 3600.0, **rows)
    assert tables.cells.to_pylist()[0]["status"] == "running"


def test_without_a_cut_the_last_time_in_the_data_is_the_cut() -> None:
    """The cut is taken from the files, never from the clock."""
    tables = decide([facts("runs"), facts("lapse")], None, **ROWS)
    status = {row["cell"]: row["status"] for row in tables.cells.to_pylist()}
    assert status == {"runs": "running", "lapse": "data end, not explained"}


def test_cells_without_calendar_time_are_said() -> None:
    """Log entries can't be placed on elapsed time: taken at the last row, with a finding."""
    rows = {
        "cycles": cycle_rows("elapsed", [1.0, 0.95]),
        "ledger": [ledger_row("elapsed", 30.0, absolute="no")],
    }
    tables = decide([facts("elapsed", ("failed", 25.0, "leak"))], **rows)
    row = row_of(tables, "elapsed", "cell", "hours")
    assert (row["duration"], row["cause"]) == (22.0, "leak")
    (found,) = tables.findings.to_pylist()
    assert (found["check"], found["action"]) == ("bench log time", "taken at the last row")
    quiet = decide([facts("elapsed")], **rows)
    assert quiet.cells.to_pylist()[0]["status"] == "data end, not explained"


def test_an_entry_before_the_clock_start_is_said() -> None:
    """A failure before the clock starts counts at its start, with a finding."""
    tables = decide([facts("early", ("failed", -2.0, "other"))])
    assert row_of(tables, "early", "cell", "hours")["duration"] == 0.0
    (found,) = tables.findings.to_pylist()
    assert (found["check"], found["value"]) == ("bench log time", -2.0)


def test_a_cell_that_no_rule_can_judge_is_said() -> None:
    """Cycles without an ageing cycle leave the rules of capacity without a reference."""
    rows = [row | {"kind": "formation"} for row in cycle_rows("fresh", [1.0, 1.0])]
    tables = decide([facts("fresh")], cycles=rows, ledger=[ledger_row("fresh", 495.0)])
    (found,) = tables.findings.to_pylist()
    assert found["check"] == "end by capacity"


def test_open_circuit_is_read_from_the_excursions() -> None:
    """An excursion after the last complete cycle ends the cell at its start."""
    span = {
        "cell": "open",
        "start_h": 33.0,
        "end_h": 34.0,
        "extreme_voltage_V": 4.9,
        "limit_V": 3.95,
    }
    tables = decide(
        [facts("open")],
        cycles=cycle_rows("open", [1.0] * 5),
        ledger=[ledger_row("open", 495.0)],
        excursions=[span],
    )
    row = row_of(tables, "open", "cell", "hours")
    assert (row["cause"], row["duration"], row["lower"]) == ("open circuit", 33.0, 29.5)


def carried_out(folder: Path, out: Path, tables: Mapping[str, pa.Table]) -> dict[str, pa.Table]:
    """Run the stage as the workflow does."""
    settings = {
        "lifetime": {"running_within_h": 72.0},
        "trust": {"offset_lost_mV": 20.0, "jump_lost_mV": 20.0},
        "build_sheet": {"factors": ["seal"]},
        "bench_log": {},
        "comparison": {"factors": [{"factor": "seal", "control": "plain"}]},
        "campaign": {"time_zone": "Europe/Berlin", "data_cut": "2026-03-20T10:00"},
    }
    return run_job(out, "lifetime", settings=settings, tables=tables, campaign=folder)


def test_the_command_reads_the_campaign_and_writes_its_tables(
    campaign_folder: Path, tmp_path: Path
) -> None:
    """The printed command works on its own; hours count from the crimping time of the sheet."""
    tables = inputs(cycles=cycle_rows("A1", WORN), ledger=[ledger_row("A1", 30.0)])
    written = carried_out(campaign_folder, tmp_path, tables)
    cells = written["cells"].to_pylist()
    assert [(row["cell"], row["status"]) for row in cells] == [
        ("A1", "ended (capacity)"),
        ("A2", "no data"),
    ]
    lives = written["lifetimes"].to_pylist()
    reference = next(row for row in lives if row["endpoint"] == "reference")
    assert "counted from the plating at 23.00 h" in reference["evidence"]
    assert "findings_lifetime" in written


def test_a_wrong_build_sheet_stops_the_stage(campaign_folder: Path, tmp_path: Path) -> None:
    """Faults of the input are not findings: the command refuses them."""
    sheet = campaign_folder / "build-sheet.csv"
    sheet.write_text(sheet.read_text(encoding="utf-8").replace("plain", ""), encoding="utf-8")
    with pytest.raises(InputError, match="cell 'A1' has no seal"):
        carried_out(campaign_folder, tmp_path, inputs())


@pytest.mark.parametrize(
    ("reason", "said"),
    [("channel needed", "channel needed"), ("looked bad", "looked bad"), ("", "not stated")],
)
def test_a_stop_carries_its_reason(reason: str, said: str) -> None:
    """What the bench log says of a stop stands in the table; nothing said is said too."""
    entry = LogEntry("A1", START_S + 20 * 3600.0, "stopped", reason=reason)
    got = decide([facts("A1", log=(entry,))], cycles=cycle_rows("A1", [1.0] * 9),
                 ledger=[ledger_row("A1", 30.0)])  # fmt: skip
    life = next(row for row in got.lifetimes.to_pylist() if row["endpoint"] == "cell")
    assert (life["observed"], life["stop_reason"]) == (0, said)


def test_an_unexplained_end_of_data_is_a_stop_that_nobody_explains() -> None:
    """Rows that end long before the data cut are as doubtful as a stop without a reason."""
    got = decide([facts("A1")], cycles=cycle_rows("A1", [1.0] * 5), ledger=[ledger_row("A1", 30.0)])
    life = next(row for row in got.lifetimes.to_pylist() if row["endpoint"] == "cell")
    assert life["stop_reason"] == "not explained"


def test_an_end_is_known_with_the_third_cycle_in_a_row() -> None:
    """The life ends with the first cycle below the limit, and is known with the third."""
    retention = [1.0, 0.9, 0.79, 0.78, 0.77, 0.76]
    got = decide([facts("A1")], cycles=cycle_rows("A1", retention),
                 ledger=[ledger_row("A1", 33.5)])  # fmt: skip
    life = next(r for r in got.lifetimes.to_pylist()
                if r["endpoint"] == "cell" and r["clock"] == "hours")  # fmt: skip
    assert (life["duration"], life["known_h"]) == (9.5 + 4.0 * 3, 9.5 + 4.0 * 5)


def test_a_failure_logged_after_the_last_row_ends_the_cell() -> None:
    """Two hours after the last row of all it counts; after a data cut that is set, it does not."""
    entry = LogEntry("A1", START_S + 32 * 3600.0, "failed", cause="leak")
    given = {"cycles": cycle_rows("A1", [1.0] * 5), "ledger": [ledger_row("A1", 30.0)]}
    for cut_s, observed in ((None, 1), (START_S + 31 * 3600.0, 0)):
        got = decide([facts("A1", log=(entry,))], cut_s=cut_s, **given)
        life = next(row for row in got.lifetimes.to_pylist() if row["endpoint"] == "cell")
        assert life["observed"] == observed


@pytest.mark.parametrize("event", ["stopped", "removed", "paused"])
def test_a_stop_without_a_reason_asks_for_one(event: str) -> None:
    """A remark is no reason: the line is named, with the remark and the words that are reasons."""
    hour = 3600.0
    log = (
        LogEntry("A1", START_S, "plated", line=2),
        LogEntry("A1", START_S + 20 * hour, event, note="looked a bit bad", line=7),
        LogEntry("A1", START_S + 21 * hour, "note", note="in the drawer", line=9),
    )
    got = decide([facts("A1", log=log)], cycles=cycle_rows("A1", [1.0] * 9),
                 ledger=[ledger_row("A1", 30.0)])  # fmt: skip
    found = [row for row in got.findings.to_pylist() if row["check"] == "stop without a reason"]
    assert [(row["cell"], row["severity"]) for row in found] == [("A1", "caution")]
    assert found[0]["message"] == (
        "Line 7 of the bench log, whose note says 'looked a bit bad', gives no reason for "
        f"'{event}' of cell A1: one of planned, channel needed, equipment, looked bad."
    )
    assert hand_of("stop without a reason", "caution") is Hand.LOG_STOP


def test_a_stop_with_a_reason_asks_for_none() -> None:
    """Nothing is said of a stop whose reason stands in its column."""
    entry = LogEntry("A1", START_S + 20 * 3600.0, "stopped", reason="planned")
    got = decide([facts("A1", log=(entry,))], cycles=cycle_rows("A1", [1.0] * 9),
                 ledger=[ledger_row("A1", 30.0)])  # fmt: skip
    assert "stop without a reason" not in got.findings["check"].to_pylist()
