"""The stage cycling on simulated cells: what was put in must come out.

The cell is a drawing, not physics: straight potentials, 2 mAh, a positive that rests at 3.425 V
(LFP plateau, common practice, no source). Every fault is set by hand.
"""

from dataclasses import asdict
from itertools import pairwise

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pytest
from drawn_cell import ELECTRODES, FACTS, LOG, START_s, ledger_table, series_table
from jobs import run_job

from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.campaign import Settings
from trivet.schema.settings.science import Cycling, Electrodes, Reference, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.stages.cycling.ohmic import Ohmic, negative_ohmic
from trivet.stages.cycling.stage import run
from trivet.store.tables import empty, make_table

CYCLING = Cycling(
    capacity_basis_mAh=2.0,
    ageing_rate=0.5,
    check_up_rate=0.1,
    upper_voltage_V=3.65,
    lower_voltage_V=2.5,
    longest_gap_s=1800.0,
)


def one_step(hours, current_mA, positive_V, negative_V):
    """Rows of one step, ten minutes apart, one 10 s after its start."""
    seconds = hours * 3600.0
    time_s = np.unique(np.concatenate([[0.0, 10.0], np.arange(600.0, seconds, 600.0), [seconds]]))
    share = time_s / seconds
    return (
        time_s,
        np.full(time_s.size, float(current_mA)),
        positive_V[0] + share * (positive_V[1] - positive_V[0]),
        negative_V[0] + share * (negative_V[1] - negative_V[0]),
    )


def one_cycle(rate, anchored):
    """Steps of a cycle at a rate; an anchored one rests 1 h in the middle of its charge."""
    hours, level = 1.0 / rate, 2.0 * rate
    rest = one_step(1.0, 0.0, (3.425, 3.425), (0.2, 0.2))
    low = one_step(hours / 2, level, (3.45, 3.45), (0.3, 0.1))
    high = one_step(hours / 2, level, (3.45, 3.70), (0.1, 0.05))
    down = one_step(hours * 0.95, -level, (3.40, 3.20), (0.15, 0.70))
    pause = one_step(1 / 6, 0.0, (3.35, 3.35), (0.3, 0.3))
    return [low, *([rest] if anchored else []), high, down, pause]


def simulated(cycles, shift=None, cell_only=False):
    """Columns of a series: rest, then cycles; `shift(time_h)` is put on both potentials [V]."""
    steps = [one_step(1.0, 0.0, (3.3, 3.3), (0.3, 0.3))]
    for rate, anchored in cycles:
        steps += one_cycle(rate, anchored)
    ends = np.cumsum([0.0] + [step[0][-1] for step in steps])
    time_s = np.concatenate([step[0] + end for step, end in zip(steps, ends[:-1], strict=True)])
    current_mA, positive_V, negative_V = (
        np.concatenate([step[place] for step in steps]) for place in (1, 2, 3)
    )
    cell_V = positive_V - negative_V
    moved = np.zeros(time_s.size) if shift is None else shift(time_s / 3600.0)
    nothing = np.full(time_s.size, np.nan)
    return {
        "time_s": START_s + time_s,
        "current_mA": current_mA,
        "cell_V": cell_V,
        "positive_V": nothing if cell_only else positive_V + moved,
        "negative_V": nothing if cell_only else negative_V + moved,
    }


WEEKS = [(0.1, False), (0.5, False), (0.1, True), *[(0.5, False)] * 4, (0.1, True)]


def result(
    columns=None,
    *,
    facts=FACTS,
    ledger=None,
    reference=None,
    cycling=CYCLING,
    plating=None,
    points=None,
):
    """Run the stage; a plating file is its rows and its ledger entry."""
    files = ledger_table() if ledger is None else ledger
    if plating is not None:
        entry = files.to_pylist()[0] | plating[1]
        files = pa.concat_tables([files, pa.Table.from_pylist([entry], schema=files.schema)])
    return run(
        facts=facts,
        series=series_table(simulated(WEEKS) if columns is None else columns),
        ledger=files,
        settings=Settings.model_construct(
            cycling=cycling,
            electrodes=ELECTRODES,
            reference=Reference() if reference is None else reference,
            trust=Trust(),
        ),
        plating_rows=None if plating is None else plating[0],
        points=points,
    )


def rows(found, table):
    """Rows of a table."""
    return found.tables[table].to_pylist()


def checks_of(found):
    """Names of the findings."""
    return {finding.check for finding in found.findings}


def states(found, track):
    """States of a track in order."""
    return [row["state"] for row in rows(found, "timeline") if row["track"] == track]


def test_a_sound_cell_gives_what_was_put_in():
    """Capacities, kinds and retention equal the drawing; the reference is trusted from plating."""
    found = result()
    cycles = rows(found, "cycles")
    assert [row["kind"] for row in cycles] == [
        "formation",
        "ageing",
        "check-up",
        *["ageing"] * 4,
        "check-up",
    ]
    for row in cycles:
        assert row["charge_capacity_mAh"] == pytest.approx(2.0)
        assert row["discharge_capacity_mAh"] == pytest.approx(1.9)
        assert row["coulombic_efficiency"] == pytest.approx(0.95)
        assert row["retention"] == (1.0 if row["kind"] == "ageing" else None)
    assert states(found, "reference") == ["not plated", "trusted"]
    assert {row["trust"] for row in rows(found, "electrode_cycles")} == {"trusted"}
    offsets = [row["value"] for row in rows(found, "reference_checks") if row["check"] == "offset"]
    assert offsets == pytest.approx([0.0, 0.0], abs=1e-9)
    assert not found.findings


def test_electrodes_of_a_sound_cell_add_to_the_cell():
    """Hysteresis of both electrodes adds to that of the cell, and so do their resistances."""
    found = result()
    cycle = rows(found, "cycles")[1]
    positive, negative = (
        next(
            row
            for row in rows(found, "electrode_cycles")
            if row["cycle"] == 2 and row["electrode"] == electrode
        )
        for electrode in ("positive", "negative")
    )
    hysteresis_V = cycle["mean_charge_voltage_V"] - cycle["mean_discharge_voltage_V"]
    assert positive["hysteresis_V"] + negative["hysteresis_V"] == pytest.approx(hysteresis_V)
    assert positive["end_of_charge_potential_V"] == pytest.approx(3.70)
    assert negative["minimum_potential_V"] == pytest.approx(0.05)
    # From 3.70 V at 1 mA to 3.40 V (and 10 s of slope) at -1 mA; 0.05 to 0.15 V.
    assert positive["dc_resistance_ohm"] == pytest.approx(150.0, abs=0.5)
    assert negative["dc_resistance_ohm"] == pytest.approx(50.0, abs=0.5)
    assert positive["dc_delay_s"] == pytest.approx(10.0, abs=1e-6)


def test_a_lost_reference_withholds_electrodes_and_nothing_else():
    """From a jump of -300 mV on, electrode values are missing; capacities stay; the row is kept."""
    columns = simulated(WEEKS, shift=lambda hours: np.where(hours > 60.6, -0.3, 0.0))
    sound, found = result(), result(columns)
    assert states(found, "reference")[-2:] == ["trusted", "lost"]
    jump = next(row for row in rows(found, "reference_checks") if row["check"] == "jump")
    # Between its two rows the positive fell by 17 mV and the negative rose by 48 mV by themselves.
    assert jump["value"] == pytest.approx(-300.0 + (48 - 17) / 2, abs=1.0)
    lost = [row for row in rows(found, "electrode_cycles") if row["withheld"]]
    assert lost
    assert len(rows(found, "electrode_cycles")) == len(rows(sound, "electrode_cycles"))
    for row in lost:
        assert row["trust"] == "lost"
        assert row["mean_charge_potential_V"] is None
        assert row["dc_resistance_ohm"] is None
    assert found.tables["cycles"].equals(sound.tables["cycles"])
    for row in rows(found, "potential_curves"):
        assert row["cell_V"] is not None
        assert (row["positive_V"] is None) == (row["trust"] != "trusted")
    assert "common-mode jump" in checks_of(found)
    assert "offset of the reference" in checks_of(found)


def test_a_slow_drift_is_found_by_the_offset():
    """A slide of 1 mV an hour jumps nowhere; the second anchor finds it lost, between suspect."""
    found = result(simulated(WEEKS, shift=lambda hours: -1e-3 * np.maximum(hours - 40.0, 0.0)))
    assert "common-mode jump" not in checks_of(found)
    assert states(found, "reference") == ["not plated", "trusted", "suspect", "lost"]


def test_exchanged_leads_are_proposed_not_applied():
    """Leads exchanged: a fault that says so, no value shown, capacities as before."""
    columns = simulated(WEEKS)
    columns["positive_V"], columns["negative_V"] = columns["negative_V"], columns["positive_V"]
    found = result(columns)
    fault = next(finding for finding in found.findings if finding.check == "swapped leads")
    assert fault.severity == "fault"
    assert "nothing was exchanged" in fault.action
    assert states(found, "reference") == ["not plated", "unknown"]
    assert all(row["withheld"] == 1 for row in rows(found, "electrode_cycles"))
    assert found.tables["cycles"].equals(result().tables["cycles"])


def test_a_cell_with_its_voltage_only_has_no_electrodes_said_once():
    """Only the cell voltage: cycles as ever, no electrode rows, one finding."""
    found = result(simulated(WEEKS, cell_only=True))
    assert found.tables["cycles"].equals(result().tables["cycles"])
    assert rows(found, "electrode_cycles") == []
    assert [finding.check for finding in found.findings] == ["electrode potentials"]


def test_closure_is_not_testable_where_a_voltage_was_derived():
    """With a derived voltage there is no closure row, and a finding says why."""
    found = result(ledger=ledger_table(derived="negative_V"))
    assert not [row for row in rows(found, "reference_checks") if row["check"] == "closure"]
    assert [f.message for f in found.findings if f.check == "closure"] == [
        "Closure is not testable: negative was derived from the other two."
    ]


def test_without_a_plating_nothing_is_shown():
    """No `plated` in the bench log: not plated, withheld, said; unless no plating is required."""
    bare = CellFacts("c1", "b1", clock_start_s=START_s)
    found = result(facts=bare)
    assert states(found, "reference") == ["not plated"]
    assert checks_of(found) == {"not plated"}
    free = result(facts=bare, reference=Reference(plating_required=False))
    assert states(free, "reference") == ["trusted"]


def test_without_an_anchor_trust_is_unknown():
    """Settings without an anchor give no trust, and a finding says so."""
    found = result(reference=Reference(anchor="none"))
    assert states(found, "reference") == ["not plated", "unknown"]
    assert checks_of(found) == {"no anchor"}


def test_charge_left_is_checked_where_the_channel_is_known():
    """50 uAh at 80 % over 5 Mohm: lost from the hour at which a fifth is left."""
    found = result(reference=Reference(channel_resistance_ohm=5e6))
    left = [row for row in rows(found, "reference_checks") if row["check"] == "charge left"]
    assert [row["trust"] for row in left] == ["suspect", "lost", "lost"]
    # Both channels together see about 3.65 V: 0.73 uA; four fifths of 40 uAh last about 44 h.
    assert left[1]["time_h"] == pytest.approx(0.8 * 40.0 / (3.65 / 5.0), rel=0.05)
    assert states(found, "reference")[-1] == "lost"


def test_hours_count_from_the_first_row_where_the_start_is_unknown():
    """Without a clock start or calendar time hours begin at the first row, said once."""
    found = result(facts=CellFacts("c1", "b1", log=LOG))
    assert rows(found, "cycles")[0]["start_h"] == pytest.approx(1.0)
    assert checks_of(found) == {"start of the hours"}
    columns = simulated(WEEKS)
    columns["time_s"] = columns["time_s"] - START_s
    found = result(columns, ledger=ledger_table(absolute="no"))
    assert checks_of(found) == {"start of the hours"}
    assert states(found, "reference") == ["trusted"]


def test_a_gap_is_said_with_its_hours_and_makes_partial():
    """Rows missing for 5 h in a charge: no integration, a partial cycle, a finding in hours."""
    columns = simulated(WEEKS)
    hours = (columns["time_s"] - START_s) / 3600.0
    kept = {name: values[(hours < 3.0) | (hours > 7.9)] for name, values in columns.items()}
    found = result(kept)
    assert rows(found, "cycles")[0]["kind"] == "partial"
    gap = next(finding for finding in found.findings if finding.check == "gap")
    assert gap.value == pytest.approx(8.0 - 17 / 6, abs=0.2)
    assert "no rows" in states(found, "phase")


def test_open_switches_are_said():
    """Rows dropped at the switches leave charge open, and a finding gives the bound."""
    columns = simulated(WEEKS)
    twice = np.append(np.diff(columns["time_s"]) == 0.0, False)
    found = result({name: values[~twice] for name, values in columns.items()})
    assert "rows missing at a switch" in checks_of(found)


def test_phases_cover_the_life_without_holes():
    """Phases follow each other from the first to the last row, and neighbours differ."""
    found = result()
    phases = [row for row in rows(found, "timeline") if row["track"] == "phase"]
    assert [row["state"] for row in phases] == [
        "rest",
        "formation",
        "ageing",
        "check-up",
        "ageing",
        "check-up",
    ]
    for before, after in pairwise(phases):
        assert before["end_h"] == after["start_h"]


def test_drawn_cycles_keep_their_ends():
    """First and last ageing cycle are drawn, each half from 0 to its capacity, thinned."""
    points = rows(result(), "potential_curves")
    assert sorted({row["cycle"] for row in points}) == [2, 5, 7]
    charge = [row for row in points if row["cycle"] == 2 and row["half"] == "charge"]
    assert charge[0]["capacity_mAh"] == 0.0
    assert charge[-1]["capacity_mAh"] == pytest.approx(2.0)
    assert len(charge) <= 120


def test_an_open_circuit_is_an_excursion():
    """A voltage at the rail beyond limit and margin is given with its time and value."""
    columns = simulated(WEEKS)
    columns["cell_V"][-3:] = 5.0
    spans = rows(result(columns), "excursions")
    assert len(spans) == 1
    assert spans[0]["extreme_voltage_V"] == 5.0
    assert spans[0]["limit_V"] == pytest.approx(3.95)


def test_an_open_cell_is_no_fault_of_the_reference():
    """An anchor read while the cell voltage is at the rail is not held against the reference."""
    columns = simulated(WEEKS)
    hours = (columns["time_s"] - START_s) / 3600.0
    rail = (hours > 66.67) & (hours < 67.67)
    columns["cell_V"][rail] = 5.0
    columns["positive_V"][rail] = 5.0 + columns["negative_V"][rail]
    found = result(columns)
    offsets = [row for row in rows(found, "reference_checks") if row["check"] == "offset"]
    assert [row["trust"] for row in offsets] == ["trusted"]
    assert "lost" not in states(found, "reference")


def test_a_cell_without_rows_gives_empty_tables():
    """A cell without rows is no fault of the program: every table is there and empty."""
    found = run(
        facts=FACTS,
        series=empty(TABLES["series"]),
        ledger=empty(TABLES["ledger"]),
        settings=Settings.model_construct(
            cycling=CYCLING,
            electrodes=ELECTRODES,
            reference=Reference(),
            trust=Trust(),
        ),
    )
    assert all(table.num_rows == 0 for table in found.tables.values())


@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_cell_with_few_rows_is_no_fault(count):
    """One, two or three rows give tables, not a traceback."""
    columns = {name: values[:count] for name, values in simulated(WEEKS).items()}
    assert result(columns).tables["cycles"].num_rows == 0
    columns["current_mA"] = np.ones(count)
    assert rows(result(columns), "cycles")[0]["kind"] == "partial"


def test_the_command_writes_every_table(tmp_path):
    """The printed command reads, computes and writes all tables of the stage."""
    tables = {"series": series_table(simulated(WEEKS)), "ledger": ledger_table()}
    for name in ("capacity_records", "plating_series", "spectrum_points"):
        tables[name] = empty(TABLES[name])
    settings = {
        "cycling": CYCLING.model_dump(),
        "electrodes": ELECTRODES.model_dump(),
        "reference": Reference().model_dump(),
        "trust": Trust().model_dump(),
    }
    written = run_job(tmp_path, "cycling", settings=settings, cell=asdict(FACTS), tables=tables)
    assert set(written) == {*result().tables, "findings"}


SHEET = {
    "positive_disc_mass_mg": 15.20,
    "positive_disc_mass_uncertainty_mg": 0.02,
    "positive_foil_mass_mg": 4.58,
    "positive_foil_mass_uncertainty_mg": 0.05,
    "positive_active_fraction": 0.92,
    "positive_diameter_mm": 12.0,
    "positive_diameter_uncertainty_mm": 0.1,
}


def test_capacities_per_mass_and_area_carry_their_uncertainty():
    """P1-15: 9.7704 mg with 0.507 % and 1.130973 cm2 with 1.667 %; without a sheet no number."""
    found = result(facts=CellFacts("c1", "b1", clock_start_s=START_s, log=LOG, numbers=SHEET))
    row = rows(found, "cycles")[0]
    assert row["specific_capacity_mAh_g"] == pytest.approx(1900.0 / 9.7704)
    share = row["specific_capacity_uncertainty_mAh_g"] / row["specific_capacity_mAh_g"]
    assert share == pytest.approx(0.00507, abs=5e-6)
    assert row["areal_capacity_mAh_cm2"] == pytest.approx(1.9 / 1.130973, rel=1e-6)
    share = row["areal_capacity_uncertainty_mAh_cm2"] / row["areal_capacity_mAh_cm2"]
    assert share == pytest.approx(1 / 60)
    assert rows(result(), "cycles")[0]["specific_capacity_mAh_g"] is None
    weighed = SHEET | {"positive_active_mass_mg": 10.0}
    found = result(facts=CellFacts("c1", "b1", clock_start_s=START_s, log=LOG, numbers=weighed))
    row = rows(found, "cycles")[0]
    assert row["specific_capacity_mAh_g"] == pytest.approx(190.0)
    assert row["specific_capacity_uncertainty_mAh_g"] is None


def test_an_implausible_build_is_said_also_without_rows():
    """What the sheet says of a cell is checked whether or not the cell gave data."""
    facts = CellFacts("c1", "b1", clock_start_s=START_s, numbers={"lead_wire_um": 80.0})
    assert "plausibility of the build" in checks_of(result(facts=facts))


def test_slippage_and_inefficiency_per_hour():
    """Both ends slip by 0.1 mAh a cycle (2.0 in, 1.9 out); 5 % in the 4 h of a cycle at 0.5/h."""
    cycles = rows(result(), "cycles")
    assert cycles[0]["charge_slippage_mAh"] is None
    for row in cycles[1:]:
        assert row["charge_slippage_mAh"] == pytest.approx(0.1)
        assert row["discharge_slippage_mAh"] == pytest.approx(0.1)
    row = cycles[1]
    assert row["inefficiency_per_h"] == pytest.approx(0.05 / (row["end_h"] - row["start_h"]))


def test_both_hystereses_and_the_shares_of_the_electrodes():
    """Half of the charge passes at 3.45 and 0.1 V, half of the discharge at 3.30 and 0.425 V."""
    both = [row for row in rows(result(), "electrode_cycles") if row["cycle"] == 2]
    negative, positive = sorted(both, key=lambda row: row["electrode"])
    assert positive["hysteresis_at_half_V"] == pytest.approx(3.45 - 3.30)
    assert negative["hysteresis_at_half_V"] == pytest.approx(0.425 - 0.10)
    assert positive["hysteresis_at_half_V"] != pytest.approx(positive["hysteresis_V"], rel=0.01)
    assert positive["polarisation_share"] + negative["polarisation_share"] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("shift_V", "words"), [(0.0, "no"), (-0.045, "near"), (-0.052, "near"), (-0.056, "possible")]
)
def test_lithium_deposition_is_told_by_the_minimum(shift_V, words):
    """The negative's minimum of 50 mV, lowered at the end of charges only, against 10 and -5 mV."""
    columns = simulated(WEEKS)
    low = columns["negative_V"] < 0.0501
    for name, sign in (("negative_V", 1.0), ("cell_V", -1.0)):
        columns[name] = columns[name] + np.where(low, sign * shift_V, 0.0)
    found = result(columns)
    kinds = {
        row["lithium_deposition"]
        for row in rows(found, "electrode_cycles")
        if row["electrode"] == "negative"
    }
    assert kinds == {words}
    assert ("lithium deposition" in checks_of(found)) == (words == "possible")
    empty_of = [r for r in rows(found, "electrode_cycles") if r["electrode"] == "positive"]
    assert {row["lithium_deposition"] for row in empty_of} == {""}
    (error_mV,) = {
        row["corrected_minimum_error_mV"]
        for row in rows(found, "electrode_cycles")
        if row["electrode"] == "negative"
    }
    # an offset within 5 mV, uniform, is known to 5 / sqrt(3); the plateau of LFP to 2 mV
    assert error_mV == pytest.approx(np.hypot(5.0 / np.sqrt(3.0), 2.0), rel=0.02)


def test_differential_capacity_gives_back_the_charge():
    """First and last check-up: bins of both electrodes add to the charge passed."""
    found = result()
    bins = rows(found, "differential_capacity")
    assert {row["cycle"] for row in bins} == {3, 8}
    for half, charge in (("charge", 2.0), ("discharge", 1.9)):
        for electrode in ("positive", "negative"):
            own = [
                row["charge_mAh"]
                for row in bins
                if (row["cycle"], row["half"], row["electrode"]) == (8, half, electrode)
            ]
            assert sum(own) == pytest.approx(charge)


def test_untrusted_potentials_have_no_differential_capacity():
    """Without trust no electrode has bins, and neither has a cell without potentials."""
    found = result(facts=CellFacts("c1", "b1", clock_start_s=START_s))
    assert not rows(found, "differential_capacity")
    assert not rows(result(simulated(WEEKS, cell_only=True)), "differential_capacity")


def test_a_plating_stands_in_its_table():
    """50 uAh on a mesh of 4 mm, 30 um at 127 um (0.1865 cm2): 1.3 um; loss and life as found."""
    mesh = Reference(
        disc_diameter_mm=4.0, wire_width_um=30.0, wire_pitch_um=127.0, channel_resistance_ohm=1e9
    )
    columns = simulated(WEEKS, shift=lambda hours: np.where(hours > 60.6, -0.3, 0.0))
    (row,) = rows(result(columns, reference=mesh), "plating")
    assert row["area_cm2"] == pytest.approx(np.pi / 4 * 0.16 * 2 * np.pi * 30 / 127)
    assert row["thickness_um"] == pytest.approx(4.84908077 * 0.05 / row["area_cm2"])
    assert (row["time_h"], row["usable_mAh"], row["lost"]) == (0.5, pytest.approx(0.04), 1)
    assert row["observed_life_h"] == pytest.approx(60.67 - 0.5, abs=0.2)
    # Both channels of 1 Gohm together see 3.4 to 3.7 V: some 3.6 nA.
    assert row["expected_life_h"] == pytest.approx(0.04 / 3.6e-6, rel=0.1)


def test_plating_again_starts_anew():
    """A reference lost at 60.6 h and plated again at 70 h counts as a second plating."""
    again = LogEntry("c1", START_s + 70 * 3600.0, "re-plated", charge_mAh=0.03)
    facts = CellFacts("c1", "b1", clock_start_s=START_s, log=(*LOG, again))
    shift = lambda hours: np.where((hours > 60.6) & (hours < 70), -0.3, 0.0)  # noqa: E731
    found = result(simulated(WEEKS, shift=shift), facts=facts)
    first, second = rows(found, "plating")
    assert (first["lost"], second["lost"]) == (1, 0)
    assert second["time_h"] == 70.0
    assert second["observed_life_h"] == pytest.approx(rows(found, "timeline")[-1]["end_h"] - 70.0)
    assert states(found, "reference")[-1] != "lost"


def plating_file(start_h, absolute="yes"):
    """Rows of a plating of 0.1 mA for 36 minutes, and its ledger beside that of the cycling."""
    time_s = START_s + start_h * 3600.0 + np.array([0.0, 1080.0, 2160.0])
    table = make_table(
        TABLES["plating_series"],
        {
            "cell": ["c1"] * 3,
            "time_s": time_s,
            "current_mA": np.full(3, -0.1),
            "file": ["plating/c1.csv"] * 3,
            "line": [2, 3, 4],
        },
    )
    return table, {"file": "plating/c1.csv", "content": "plating", "absolute_time": absolute}


def test_a_plating_file_alone_makes_a_reference_plated():
    """Without a log the file's end is the plating and its charge 0.06 mAh; a note says so."""
    table, entry = plating_file(-0.1)
    bare = CellFacts("c1", "b1", clock_start_s=START_s)
    found = result(facts=bare, plating=(table, entry))
    (row,) = rows(found, "plating")
    assert (row["charge_mAh"], row["logged"]) == (pytest.approx(0.06), 0)
    assert row["time_h"] == pytest.approx(0.5)
    assert "trusted" in states(found, "reference")
    assert "not plated" not in {finding.check for finding in found.findings}
    assert "plating not logged" in {finding.check for finding in found.findings}


def test_a_plating_file_is_held_against_the_log():
    """The log's 0.05 mAh outrank the file's 0.06 mAh, and the difference is told."""
    found = result(plating=plating_file(-0.1))
    (row,) = rows(found, "plating")
    assert (row["charge_mAh"], row["file"], row["logged"]) == (0.05, "plating/c1.csv", 1)
    (told,) = [finding for finding in found.findings if finding.check == "plating charge"]
    assert (told.value, told.limit) == (pytest.approx(0.06), 0.05)


def test_a_plating_file_without_calendar_time_is_not_guessed():
    """Neither log nor calendar: the file can't be placed, so the reference stays not plated."""
    bare = CellFacts("c1", "b1", clock_start_s=START_s)
    found = result(facts=bare, plating=plating_file(-0.1, absolute="no"))
    assert not rows(found, "plating")
    (told,) = [finding for finding in found.findings if finding.check == "plating not logged"]
    assert told.severity == "caution"


def half_arc(series_ohm, sign=1.0):
    """Points of a spectrum of the negative: an inductance, a resistance and an arc of 20 ohm."""
    frequency_Hz = np.logspace(5, -1, 31)
    omega = 2 * np.pi * frequency_Hz
    impedance = series_ohm + 1e-5j * omega / 2 + 20.0 / (1 + 1e-3j * omega)
    count = frequency_Hz.size
    table = TABLES["spectrum_points"]
    columns = dict.fromkeys(table.names, [None] * count) | {
        "cell": ["c1"] * count,
        "spectrum": [1] * count,
        "pair": ["negative"] * count,
        "frequency_Hz": frequency_Hz,
        "real_ohm": sign * impedance.real,
        "imaginary_ohm": sign * impedance.imag,
        "file": ["z.csv"] * count,
        "line": list(range(2, count + 2)),
    }
    return make_table(table, columns)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_ohmic_part_comes_from_the_cells_own_spectra(sign):
    """By hand: the arc has passed at the crossing, so 4 ohm; a negated pair is turned."""
    found = negative_ohmic(half_arc(4.0, sign), ELECTRODES)
    assert found.ohm == pytest.approx(4.0, abs=0.05)
    # one spectrum does not tell how far it is off in another cycle
    assert found.error_ohm == found.ohm
    stated = ELECTRODES.model_copy(update={"negative_ohmic_ohm": 3.0})
    assert negative_ohmic(half_arc(4.0, sign), stated) == Ohmic(3.0, 0.0)


def test_no_ohmic_part_is_taken_from_spectra_that_do_not_show_it():
    """Without a crossing, without spectra, or with a negative of lithium nothing is corrected."""
    points = half_arc(4.0)
    slow = points.filter(pc.less(points["frequency_Hz"], 1000.0))
    lithium = Electrodes.model_validate(
        {"positive": {"material": "LFP"}, "negative": {"material": "lithium"}}
    )
    for table, electrodes in ((slow, ELECTRODES), (None, ELECTRODES), (points, lithium)):
        assert negative_ohmic(table, electrodes) is None


def test_the_minimum_of_the_negative_is_corrected_by_its_spectra():
    """The lowest potential under charge rises by I times 4 ohm (at most 1 mA) in each cycle."""
    plain = [row for row in rows(result(), "electrode_cycles") if row["electrode"] == "negative"]
    spectra = result(points=half_arc(4.0))
    for before, after in zip(plain, [row for row in rows(spectra, "electrode_cycles")
                                     if row["electrode"] == "negative"], strict=True):  # fmt: skip
        if before["corrected_minimum_V"] is None:
            assert after["corrected_minimum_V"] is None
            continue
        rise_mV = 1000.0 * (after["corrected_minimum_V"] - before["corrected_minimum_V"])
        assert 0.0 < rise_mV <= 1.0 * 4.05
        assert after["ohmic_ohm"] == pytest.approx(4.0, abs=0.05)
        assert before["ohmic_ohm"] is None


@pytest.mark.parametrize(("elapsed_s", "kept"), [(0.0, True), (None, False)])
def test_the_first_cycle_stays_or_its_loss_is_said(elapsed_s, kept):
    """A file that begins under current: cycle 1 counts where its clock begins, else a caution."""
    columns = simulated(WEEKS)
    first = int(np.argmax(columns["current_mA"] > 0))
    series = series_table({name: values[first:] for name, values in columns.items()})
    if elapsed_s is not None:
        place = series.column_names.index("elapsed_s")
        values = pa.array(columns["time_s"][first:] - columns["time_s"][first] + elapsed_s)
        series = series.set_column(place, series.schema.field("elapsed_s"), values)
    found = run(
        facts=FACTS,
        series=series,
        ledger=ledger_table(),
        settings=Settings.model_construct(
            cycling=CYCLING,
            electrodes=ELECTRODES,
            reference=Reference(),
            trust=Trust(),
        ),
    )
    efficiency = rows(found, "cycles")[0]["coulombic_efficiency"]
    assert efficiency == (pytest.approx(0.95) if kept else None)
    said = [one.severity for one in found.findings if one.check == "beginning of the first cycle"]
    assert said == ["note" if kept else "caution"]


def test_steps_of_the_current_give_resistances_of_slow_cycles():
    """Steps of check-ups with their state of charge; electrodes add to the cell."""
    found = result()
    steps = rows(found, "step_resistances")
    assert {row["cycle"] for row in steps} == {1, 3, 8}
    within = [row for row in steps if row["step"] == "within"]
    assert [row["state_of_charge"] for row in within] == pytest.approx([0.5] * 4)
    assert [row["to_mA"] for row in within] == pytest.approx([0.0, 0.2] * 2)
    for row in steps:
        assert row["delay_s"] == pytest.approx(10.0, abs=2.0)
        assert row["positive_ohm"] + row["negative_ohm"] == pytest.approx(row["cell_ohm"])
    # by hand, back to 0.2 mA: positive 3.425 to 3.45 V, negative 0.2 to 0.1 V, and 10 s of slopes
    # of 0.25 V and -0.05 V in 5 h
    assert within[1]["positive_ohm"] == pytest.approx((25.0 + 0.1389) / 0.2, abs=0.01)
    assert within[1]["negative_ohm"] == pytest.approx((100.0 + 0.0278) / 0.2, abs=0.01)


def test_steps_keep_the_cell_where_the_reference_serves_nothing():
    """Without a plated reference only the cell's resistance stands."""
    found = result(facts=CellFacts("c1", "b1", clock_start_s=START_s))
    steps = rows(found, "step_resistances")
    assert steps
    for row in steps:
        assert row["withheld"] == 1
        assert row["cell_ohm"] is not None
        assert row["positive_ohm"] is None
