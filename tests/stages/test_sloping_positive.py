"""A cell with a sloping positive through the stage cycling: sound references serve.

The cell is invented (trivet.studies.sloping_cell); what was put in must come out, within stated
errors.
"""

from __future__ import annotations

import numpy as np
import pytest

from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.cycling.stage import run
from trivet.store.tables import make_table
from trivet.studies.sloping_cell import (
    LOWER_V,
    UPPER_V,
    Ageing,
    START_s,
    check_ups,
    simulated,
)

CYCLING = Cycling(
    capacity_basis_mAh=2.0,
    ageing_rate=0.5,
    check_up_rate=0.1,
    upper_voltage_V=UPPER_V,
    lower_voltage_V=LOWER_V,
    longest_gap_s=1800.0,
)
ELECTRODES = Electrodes.model_validate(
    {"positive": {"material": "NMC"}, "negative": {"material": "graphite"}}
)
PLATED = LogEntry("c1", START_s + 600.0, "plated", charge_mAh=0.05)
RATES = check_ups(4)


def ran(columns, *, reference=None, log=(), electrodes=ELECTRODES):
    """Run the stage on one file."""
    count = len(columns["time_s"])
    series = make_table(
        TABLES["series"],
        {"cell": ["c1"] * count, **columns, "elapsed_s": [None] * count,
         "temperature_degC": [None] * count, "raw_cycle": [None] * count,
         "file": ["c1.csv"] * count, "line": list(range(2, count + 2))},
    )  # fmt: skip
    row = {name: "" for name in TABLES["ledger"].names}
    row |= {"cell": "c1", "file": "c1.csv", "content": "cycling", "absolute_time": "yes"}
    row |= {"first_time_s": START_s, "last_time_s": START_s}
    row |= {name: 0 for name in ("bytes", "rows_seen", "rows_used", "rows_set_aside")}
    return run(
        facts=CellFacts("c1", "b1", clock_start_s=START_s, log=(PLATED, *log)),
        series=series,
        ledger=make_table(TABLES["ledger"], {name: [value] for name, value in row.items()}),
        settings=Settings.model_construct(
            cycling=CYCLING,
            electrodes=electrodes,
            reference=reference or Reference(),
            trust=Trust(),
        ),
    )


def rows(found, table, **where):
    """Rows of a table with these values."""
    every = found.tables[table].to_pylist()
    return [row for row in every if all(row[key] == value for key, value in where.items())]


def fit_share(found, purpose):
    """Share of the time after the plating in which a purpose is served."""
    spans = [row for row in rows(found, "fitness", purpose=purpose) if row["plating"]]
    lasting = {True: 0.0, False: 0.0}
    for row in spans:
        lasting[row["fitness"] != "not fit"] += row["to_h"] - row["from_h"]
    return lasting[True] / sum(lasting.values())


NEEDS_NO_OFFSET = ("difference within a cycle", "shape", "impedance of an electrode")


@pytest.fixture(scope="module")
def sound():
    """A sound reference, no anchor."""
    return ran(simulated(RATES))


def test_a_sound_reference_serves_all_but_the_absolute_potential(sound):
    """Without a known potential differences, shapes and impedances are served all the time."""
    for purpose in NEEDS_NO_OFFSET:
        assert fit_share(sound, purpose) == 1.0, purpose
    assert fit_share(sound, "absolute potential") == 0.0
    cycles = rows(sound, "electrode_cycles")
    assert len(cycles) > 60
    shown = [row for row in cycles if row["hysteresis_V"] is not None]
    assert len(shown) >= len(cycles) - 2
    assert all(row["withheld"] == 0 for row in cycles)
    assert all(row["minimum_potential_V"] is None for row in cycles)
    assert rows(sound, "differential_capacity", electrode="positive")


def test_no_death_is_invented(sound):
    """The default settings write no reference of a sloping positive as lost."""
    assert not rows(sound, "reference_checks", trust="lost")
    assert "lost" not in {row["state"] for row in rows(sound, "timeline")}
    assert rows(sound, "plating")[0]["lost"] == 0


def test_the_graphite_plateau_anchors():
    """With its plateau as anchor absolute potentials are served too, within its uncertainty."""
    found = ran(simulated(RATES), reference=Reference(anchor="graphite plateau"))
    assert fit_share(found, "absolute potential") == 1.0
    offsets = rows(found, "reference_checks", check="offset")
    # Each slow cycle but the formation.
    assert len(offsets) == 4
    assert all(abs(row["value"]) < 10.0 and row["uncertainty"] == 5.0 for row in offsets)


def test_measurements_of_the_log_anchor():
    """Two checks by a person around the life bracket it; a drift between them is taken off."""
    last_h = float(simulated(RATES)["time_s"][-1] - START_s) / 3600.0
    columns = simulated(RATES, offset_mV=lambda hours: 8.0 + 0.05 * hours)
    log = [
        LogEntry("c1", START_s + 3600.0 * at, "reference checked",
                 offset_mV=8.0 + 0.05 * at, uncertainty_mV=1.0)
        for at in (1.0, last_h - 0.5)
    ]  # fmt: skip
    found = ran(columns, log=log)
    truth = ran(simulated(RATES), reference=Reference(anchor="graphite plateau"))
    corrected = rows(found, "electrode_cycles", absolute_fitness="corrected")
    assert len(corrected) > 60
    known = {
        (row["cycle"], row["electrode"]): row["mean_charge_potential_V"]
        for row in rows(truth, "electrode_cycles")
    }
    for row in corrected[4:-4]:
        true_V = known[row["cycle"], row["electrode"]]
        error_mV = 1000.0 * (row["mean_charge_potential_V"] - true_V)
        assert abs(error_mV) < 2.0 * row["offset_correction_error_mV"] + 0.5


def test_two_mV_a_day_is_found_by_features():
    """Four check-ups tell a drift of 2 mV a day within its interval, without a known potential."""
    found = ran(simulated(RATES, offset_mV=lambda hours: 2.0 * hours / 24.0))
    drift = rows(found, "reference_checks", check="feature drift")[-1]
    assert drift["lower"] < 2.0 < drift["upper"]
    assert drift["upper"] - drift["lower"] < 0.8
    assert fit_share(found, "difference within a cycle") == 1.0
    assert fit_share(found, "impedance of an electrode") == 1.0
    assert "drift of the reference by features" in {one.check for one in found.findings}


def test_a_sound_reference_has_no_drift_by_features(sound):
    """Loss of lithium and growth of resistance are no drift: its interval holds zero, nearly."""
    drift = rows(sound, "reference_checks", check="feature drift")[-1]
    assert abs(drift["value"]) < 0.15
    assert "drift of the reference by features" not in {one.check for one in sound.findings}


@pytest.mark.parametrize("after_step_s", [None, 60.0])
def test_a_jump_of_30_mV_is_found(after_step_s):
    """A jump in a rest, or one minute after a step of the current, is found to 5 mV."""
    plain = simulated(RATES)
    hours = (plain["time_s"] - START_s) / 3600.0
    steps = np.flatnonzero(np.abs(np.diff(plain["current_mA"])) > 0.5)
    # The begin of a rest; at the begin of a charge the graphite itself moves 250 mV in a minute.
    steps = steps[plain["current_mA"][steps + 1] == 0.0]
    middle = steps[steps.size // 2]
    at_h = hours[middle + 1] + (0.5 if after_step_s is None else after_step_s / 3600.0)
    found = ran(simulated(RATES, offset_mV=lambda hours: np.where(hours > at_h, 30.0, 0.0)))
    jumps = rows(found, "reference_checks", check="jump")
    assert len(jumps) == 1
    assert jumps[0]["value"] == pytest.approx(30.0, abs=5.0)
    assert jumps[0]["time_h"] == pytest.approx(at_h, abs=0.1)
    features = rows(found, "reference_checks", check="features")[-1]
    assert features["value"] == pytest.approx(30.0, abs=5.0)
    assert fit_share(found, "impedance of an electrode") == 1.0
    assert 0.9 < fit_share(found, "difference within a cycle") < 1.0


def test_exchanged_leads_are_named_with_the_line_that_mends_them():
    """The finding prints a line; with it in the log everything is as it was before."""
    columns = simulated(RATES)
    sound = ran(columns)
    wrong = columns | {"positive_V": columns["negative_V"], "negative_V": columns["positive_V"]}
    found = ran(wrong)
    said = [one for one in found.findings if one.check == "swapped leads"]
    assert len(said) == 1
    assert ",c1,leads exchanged" in said[0].message
    assert {row["reason"] for row in rows(found, "fitness") if row["plating"]} == {"leads"}
    mended = ran(wrong, log=[LogEntry("c1", START_s, "leads exchanged")])
    (note,) = [one for one in mended.findings if one.check == "swapped leads"]
    assert note.severity == "note"
    for table in ("electrode_cycles", "fitness", "reference_checks"):
        assert mended.tables[table].equals(sound.tables[table]), table


def test_a_contact_fault_of_the_log_withholds_its_cycle():
    """Numbers of the cycle in which the log has a contact fault are withheld, others are not."""
    log = [LogEntry("c1", START_s + 150.0 * 3600.0, "contact fault")]
    found = ran(simulated(RATES), log=log)
    held = [row for row in rows(found, "electrode_cycles") if row["difference_fitness"] != "fit"]
    assert len({row["cycle"] for row in held}) == 1


def test_what_resistance_alone_costs_is_told():
    """A cell that loses nothing but conductance: its loss at the check-ups is the term.

    The model is independent of the counting: it stops at the limits, by rows of 0.0067 mAh.
    """
    found = ran(simulated(check_ups(5), ageing=Ageing(lithium_mAh=0.0, resistance=0.05)))
    told = [row for row in rows(found, "attribution") if not row["reason"]]
    assert len(told) == 3
    for row in told:
        assert row["lost_to_resistance_mAh"] == pytest.approx(row["lost_mAh"], abs=0.0067)
        assert row["lost_to_inventory_mAh"] == pytest.approx(0.0, abs=0.001)
    # the last of the cycles at five times the rate against the first after the base check-up
    fast = rows(found, "cycles", kind="ageing")
    base = told[0]["base_cycle"]
    first = next(row for row in fast if row["cycle"] > base)
    lost = first["discharge_capacity_mAh"] - fast[-1]["discharge_capacity_mAh"]
    assert told[-1]["lost_to_resistance_at_ageing_rate_mAh"] == pytest.approx(lost, abs=0.015)
