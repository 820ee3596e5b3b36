"""The stage impedance on small tables: rows, withholding, clock, findings, nothing lost."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import asdict

import numpy as np
import pytest
from jobs import run_job

from trivet.schema.cell_facts import CellFacts, LogEntry
from trivet.schema.settings.science import Impedance, Trust
from trivet.schema.tables.dictionary import TABLES
from trivet.science.circuit import closed_forms as el
from trivet.stages.impedance.place import expected_share
from trivet.stages.impedance.stage import run
from trivet.store.paths import cell_table_path
from trivet.store.tables import empty, make_table

START_S = 1.77e9
FREQUENCY = np.geomspace(1e5, 1e-2, 50)
FACTS = CellFacts(cell="A1", batch="A", clock_start_s=START_S)
POSITIVE = {"ohmic": 3.0, "arcs": ((12.0, 2e-4, 0.85), (20.0, 3e-2, 0.8)), "sigma": 2.0}
NEGATIVE = {"ohmic": 2.5, "arcs": ((60.0, 5e-5, 0.82),), "sigma": 1.5}


def spectrum_of(kind):
    """Closed form of an electrode, from the elements."""
    parts = [
        el.resistor(FREQUENCY, resistance_ohm=kind["ohmic"]),
        el.warburg(FREQUENCY, coefficient_ohm_per_root_s=kind["sigma"]),
    ]
    parts += [
        el.zarc(FREQUENCY, resistance_ohm=width, time_constant_s=tau, exponent=exponent)
        for width, tau, exponent in kind["arcs"]
    ]
    return el.series(*parts)


def measured(seed=0, noise=0.002):
    """The three pairs of one measurement with independent noise."""
    positive, negative = spectrum_of(POSITIVE), spectrum_of(NEGATIVE)
    random = np.random.default_rng(seed)
    pairs = {"cell": positive + negative, "positive": positive, "negative": negative}
    return {
        pair: impedance
        + noise * np.abs(impedance) * (random.standard_normal(50) + 1j * random.standard_normal(50))
        for pair, impedance in pairs.items()
    }


def points_of(spectra, frequency=FREQUENCY, raw_cycle=None):
    """Table spectrum_points from (time_s, {pair: impedance}) of each measurement."""
    rows = [
        (
            "A1",
            number,
            time_s,
            raw_cycle,
            pair,
            float(f),
            z.real,
            z.imag,
            f"raw/A1-{number}.csv",
            line,
        )
        for number, (time_s, pairs) in enumerate(spectra, start=1)
        for pair, impedance in pairs.items()
        for line, (f, z) in enumerate(zip(frequency, impedance, strict=True), start=2)
    ]
    names = TABLES["spectrum_points"].names
    return make_table(
        TABLES["spectrum_points"],
        {name: [row[at] for row in rows] for at, name in enumerate(names)},
    )


def cycles_of(starts_h):
    """Table cycles with these starts."""
    table = TABLES["cycles"]
    columns = {name: [None] * len(starts_h) for name in table.names}
    columns |= {
        "cell": ["A1"] * len(starts_h),
        "cycle": list(range(1, len(starts_h) + 1)),
        "start_h": list(starts_h),
        "end_h": [start + 1.0 for start in starts_h],
        "kind": ["ageing"] * len(starts_h),
        "complete": [1] * len(starts_h),
    }
    return make_table(table, columns)


def fitness_of(*spans):
    """Table fitness with these spans for impedance (fitness, from_h, to_h)."""
    return make_table(
        TABLES["fitness"],
        {
            "cell": ["A1"] * len(spans),
            "plating": [1] * len(spans),
            "purpose": ["impedance of an electrode"] * len(spans),
            "from_h": [span[1] for span in spans],
            "to_h": [span[2] for span in spans],
            "fitness": [span[0] for span in spans],
            "reason": ["nothing against it"] * len(spans),
            "sentence": [""] * len(spans),
        },
    )


def ledger_of(absolute="yes", derived=None):
    """Table ledger with one cycling file and the files of three spectra."""
    files = [("raw/A1.csv", "cycling", absolute, "")]
    files += [(f"raw/A1-{n}.csv", "impedance", "yes", derived or "") for n in (1, 2, 3)]
    count = len(files)
    columns = {name: [""] * count for name in TABLES["ledger"].names}
    columns |= {
        "cell": ["A1"] * count,
        "file": [one[0] for one in files],
        "content": [one[1] for one in files],
        "absolute_time": [one[2] for one in files],
        "derived": [one[3] for one in files],
        "layout": ["plain"] * count,
        "sha256": ["0"] * count,
        "first_time_s": [START_S + 3600.0] * count,
        "last_time_s": [START_S + 9e5] * count,
    }
    columns |= dict.fromkeys(("bytes", "rows_seen", "rows_used"), [1] * count)
    return make_table(TABLES["ledger"], columns | {"rows_set_aside": [0] * count})


def ran(points, **changed):
    """Run the stage with what is right but for the changes."""
    given = {
        "facts": FACTS,
        "cycles": cycles_of([1.0, 10.0, 20.0]),
        "fitness": fitness_of(("fit", 0.0, 100.0)),
        "ledger": ledger_of(),
        "impedance": Impedance(),
        "trust": Trust(),
        "series": empty(TABLES["series"]),
        "materials": {"positive": "LFP", "negative": "graphite"},
        "zero_current_mA": 0.002,
    }
    result = run(points=points, **(given | changed))
    rows = result.tables["spectra"].to_pylist()
    return result, {(row["spectrum"], row["pair"]): row for row in rows}


def checks(result):
    """Names of the findings."""
    return [finding.check for finding in result.findings]


@pytest.fixture(scope="module")
def one_spectrum():
    """A clean measurement 15 h after the clock start, run once."""
    return ran(points_of([(START_S + 15 * 3600, measured())]))


def test_truth_within_the_errors(one_spectrum):
    """Fitted R0 and sum of arcs lie within four standard errors of the closed form (own)."""
    _, rows = one_spectrum
    for pair, kind in (("positive", POSITIVE), ("negative", NEGATIVE)):
        row = rows[1, pair]
        width = sum(arc[0] for arc in kind["arcs"])
        ohmic = json.loads(row["parameters"])["R0_ohm"]
        assert abs(row["polarisation_resistance_ohm"] - width) < (
            4 * row["polarisation_resistance_se_ohm"]
        )
        assert abs(ohmic["value"] - kind["ohmic"]) < 4 * ohmic["standard_error"]
        assert row["high_frequency_resistance_se_ohm"] == pytest.approx(ohmic["standard_error"])


def test_clean_spectrum_is_trusted(one_spectrum):
    """A clean measurement is trusted in all pairs, additive, and raises no finding."""
    result, rows = one_spectrum
    assert [rows[1, pair]["trust"] for pair in ("cell", "positive", "negative")] == ["trusted"] * 3
    assert rows[1, "cell"]["additivity_percent"] < 0.6
    assert rows[1, "positive"]["model"] == "R0 + ZARC + ZARC + W"
    assert rows[1, "negative"]["model"] == "R0 + ZARC + W"
    assert result.findings == ()


def test_hours_and_cycle(one_spectrum):
    """Hours count from the clock start; the cycle is the last that started before (own)."""
    _, rows = one_spectrum
    assert rows[1, "cell"]["time_h"] == pytest.approx(15.0)
    assert rows[1, "cell"]["cycle"] == 2
    _, early = ran(points_of([(START_S + 1800, {"cell": measured()["cell"]})]))
    assert early[1, "cell"]["cycle"] is None


def test_curves_hold_every_point(one_spectrum):
    """Every point used stands in the curves with its model and residual, by falling frequency."""
    result, rows = one_spectrum
    curves = result.tables["spectrum_curves"].to_pylist()
    assert len(curves) == 150
    positive = [row for row in curves if row["pair"] == "positive"]
    assert [row["frequency_Hz"] for row in positive] == FREQUENCY.tolist()
    misfit = [
        complex(
            row["real_ohm"] - row["fitted_real_ohm"],
            row["imaginary_ohm"] - row["fitted_imaginary_ohm"],
        )
        / abs(complex(row["real_ohm"], row["imaginary_ohm"]))
        for row in positive
    ]
    rms = 100 * np.sqrt(np.sum(np.abs(misfit) ** 2) / 100)
    assert rms == pytest.approx(rows[1, "positive"]["fit_rms_percent"], rel=1e-6)
    residuals = [
        (row["kk_residual_real_percent"], row["kk_residual_imaginary_percent"]) for row in positive
    ]
    assert np.sqrt(np.mean(np.square(residuals))) == pytest.approx(
        rows[1, "positive"]["kk_rms_percent"], rel=1e-9
    )


def test_untrusted_reference_withholds_electrodes_only():
    """A lost reference empties the numbers of both electrodes, never those of the cell."""
    points = points_of([(START_S + h * 3600, measured(seed)) for seed, h in enumerate((5, 50))])
    fitness = fitness_of(("fit", 0.0, 30.0), ("not fit", 30.0, 100.0))
    result, rows = ran(points, fitness=fitness)
    assert [rows[1, pair]["withheld"] for pair in ("cell", "positive", "negative")] == [0, 0, 0]
    assert [rows[2, pair]["withheld"] for pair in ("cell", "positive", "negative")] == [0, 1, 1]
    kept = {"cell", "spectrum", "time_h", "cycle", "pair", "points", "model", "trust", "withheld"}
    kept |= {"placed_by", "misplaced"}
    for pair in ("positive", "negative"):
        emptied = {name: value for name, value in rows[2, pair].items() if name not in kept}
        assert set(emptied.values()) <= {None, ""}
        assert rows[2, pair]["trust"] == "trusted"
    assert rows[2, "cell"]["polarisation_resistance_ohm"] > 0
    shown = {(r["spectrum"], r["pair"]) for r in result.tables["spectrum_curves"].to_pylist()}
    assert shown == {(1, "cell"), (1, "positive"), (1, "negative"), (2, "cell")}
    assert [(f.check, f.value) for f in result.findings] == [("withheld spectra", 2.0)]


def test_time_unknown_means_trust_unknown():
    """Without calendar time a spectrum has no hours, no cycle, and its electrodes are withheld."""
    points = points_of([(None, measured())])
    result, rows = ran(points)
    assert rows[1, "cell"]["time_h"] is None
    assert rows[1, "cell"]["cycle"] is None
    assert rows[1, "positive"]["withheld"] == 1
    assert rows[1, "cell"]["withheld"] == 0
    assert "time of spectra" in checks(result)
    _, elapsed = ran(points_of([(START_S, measured())]), ledger=ledger_of(absolute="no"))
    assert elapsed[1, "cell"]["time_h"] is None


def test_without_time_the_stated_cycle_counts():
    """A spectrum without time has the cycle that its file states; with time it has its own."""
    _, rows = ran(points_of([(None, measured())], raw_cycle=7))
    assert {row["cycle"] for row in rows.values()} == {7}
    _, timed = ran(points_of([(START_S + 15 * 3600, measured())], raw_cycle=7))
    assert timed[1, "cell"]["cycle"] == 2


def test_the_stated_cycle_places_a_spectrum_without_time():
    """It lies at the end of the cycle that its file states, is served as there, and it is said."""
    fitness = fitness_of(("fit", 0.0, 15.0), ("not fit", 15.0, 100.0))
    result, rows = ran(points_of([(None, measured())], raw_cycle=2), fitness=fitness)
    for row in rows.values():
        assert (row["time_h"], row["cycle"], row["placed_by"]) == (11.0, 2, "cycle")
        assert row["withheld"] == 0
    assert [one.check for one in result.findings] == ["time of spectra"]
    _, later = ran(points_of([(None, measured())], raw_cycle=3), fitness=fitness)
    assert later[1, "positive"]["withheld"] == 1
    _, timed = ran(points_of([(START_S + 5 * 3600, measured())], raw_cycle=2), fitness=fitness)
    assert timed[1, "cell"]["placed_by"] == "time"


def test_a_spectrum_of_the_fresh_cell_is_served_as_its_first_row():
    """Before the first row of cycling the reference serves as it does there, plated or not."""
    points = points_of([(START_S + 1800, measured())])
    for word, held in (("fit", 0), ("not fit", 1)):
        _, rows = ran(points, fitness=fitness_of((word, 1.0, 100.0)))
        assert rows[1, "positive"]["withheld"] == held


def test_hours_without_a_clock_start():
    """Without a clock start hours count from the first cycling row, as those of the cycles do."""
    facts = CellFacts(cell="A1", batch="A")
    points = points_of([(START_S + 15 * 3600, {"cell": measured()["cell"]})])
    _, rows = ran(points, facts=facts)
    assert rows[1, "cell"]["time_h"] == pytest.approx(14.0)
    alone, first = ran(points, facts=facts, ledger=empty(TABLES["ledger"]))
    assert first[1, "cell"]["time_h"] == 0.0
    assert "start of the hours" in checks(alone)


def test_additivity_is_void_where_a_pair_was_derived():
    """A derived pair makes the sum true by construction: no number, and a note says so."""
    points = points_of([(START_S + 15 * 3600, measured())])
    result, rows = ran(points, ledger=ledger_of(derived="cell"))
    assert rows[1, "cell"]["additivity_percent"] is None
    assert checks(result) == ["additivity"]


def test_gain_error_is_rejected_by_additivity():
    """A gain of 15 % on one pair fails additivity in all three pairs (section A7: over 3 %)."""
    pairs = measured()
    pairs["positive"] = pairs["positive"] * 1.15
    result, rows = ran(points_of([(START_S + 15 * 3600, pairs)]))
    assert {rows[1, pair]["trust"] for pair in pairs} == {"rejected"}
    assert all("additivity" in rows[1, pair]["reasons"] for pair in pairs)
    assert {(f.check, f.limit, f.unit) for f in result.findings} == {
        ("trust of a spectrum", 3.0, "%")
    }


def test_lost_reference_does_not_condemn_the_cell():
    """Where the reference is lost a failing sum is nothing against the cell's own spectrum."""
    pairs = measured()
    pairs["positive"] = pairs["positive"] * 1.15
    points = points_of([(START_S + 15 * 3600, pairs)])
    _, rows = ran(points, fitness=fitness_of(("not fit", 0.0, 100.0)))
    assert rows[1, "cell"]["trust"] == "trusted"
    assert rows[1, "positive"]["trust"] == "rejected"


def test_outlier_is_set_aside_with_its_line():
    """A bad point leaves the count and the fit, stays in the curve, and is named by its line."""
    pairs = measured()
    pairs["positive"][25] *= 1.05
    result, rows = ran(points_of([(START_S + 15 * 3600, pairs)]))
    (found,) = [f for f in result.findings if f.check == "spectrum outlier"]
    assert (found.file, found.line, found.unit) == ("raw/A1-1.csv", 27, "%")
    assert found.value > found.limit
    assert rows[1, "positive"]["points"] == 49
    curve = [r for r in result.tables["spectrum_curves"].to_pylist() if r["pair"] == "positive"]
    assert len(curve) == 50
    assert curve[25]["kk_residual_real_percent"] is None
    assert curve[25]["fitted_real_ohm"] > 0


def test_negated_negative_gives_the_same_numbers(one_spectrum):
    """A negative recorded against the other current is turned, and its numbers do not change."""
    pairs = measured()
    pairs["negative"] = -pairs["negative"]
    result, rows = ran(points_of([(START_S + 15 * 3600, pairs)]))
    assert rows[1, "negative"] == one_spectrum[1][1, "negative"]
    assert checks(result) == ["negated spectrum"]


def test_every_point_is_used_or_set_aside():
    """Points in = points used + those of findings: window, copy, invalid row, outlier."""
    pairs = {"cell": measured()["cell"]}
    frequency = FREQUENCY.copy()
    frequency[7] = -1.0
    frequency[9], pairs["cell"][9] = frequency[8], pairs["cell"][8]
    points = points_of([(START_S + 15 * 3600, pairs)], frequency)
    settings = Impedance(highest_frequency_Hz=5e4)
    result, rows = ran(points, impedance=settings)
    above = int(np.count_nonzero(FREQUENCY > 5e4))
    found = {f.check: f for f in result.findings}
    assert found["frequency window"].value == above
    assert found["copied spectrum point"].value == 1
    assert found["copied spectrum point"].line == 11
    assert found["spectrum point"].line == 9
    assert rows[1, "cell"]["points"] == 50 - above - 1 - 1


def test_short_spectrum_keeps_its_row():
    """Five points are too few for test and fit: the row stays, empty, and says why."""
    points = points_of([(START_S, {"cell": measured()["cell"][::10]})], FREQUENCY[::10])
    result, rows = ran(points)
    row = rows[1, "cell"]
    assert row["trust"] == "suspect"
    assert row["kk_rms_percent"] is None
    assert row["polarisation_resistance_ohm"] is None
    assert row["high_frequency_resistance_ohm"] > 0
    assert checks(result) == ["no fit", "trust of a spectrum"]


def test_cell_without_spectra_is_said():
    """A cell without spectra has empty tables and one note."""
    result, rows = ran(empty(TABLES["spectrum_points"]))
    assert rows == {}
    assert result.tables["spectrum_curves"].num_rows == 0
    assert checks(result) == ["no spectrum"]


def series_of(potentials_mV, spacing_s=600.0, start_s=START_S + 14 * 3600, current_mA=0.0):
    """Table series: a charge that ended at the start, then rows of rest at these potentials."""
    count = len(potentials_mV)
    times = [start_s + spacing_s * row for row in range(count)]
    columns = {
        "cell": ["A1"] * count,
        "time_s": times,
        "current_mA": [1.0] + [current_mA] * (count - 1),
        "cell_V": [3.3 + mV / 1000 for mV in potentials_mV],
        "positive_V": [3.4 + mV / 1000 for mV in potentials_mV],
        "negative_V": [0.1] * count,
        "temperature_degC": [25.0] * count,
        "raw_cycle": [1] * count,
        "elapsed_s": [None] * count,
        "file": ["raw/A1.csv"] * count,
        "line": list(range(2, count + 2)),
    }
    return make_table(TABLES["series"], columns)


@pytest.mark.parametrize(
    ("moved_mV", "trust"), [(0.5, "trusted"), (3.0, "suspect"), (8.0, "rejected")]
)
def test_potential_before_and_after_the_sweep(moved_mV, trust):
    """A positive that moves during the sweep loses its trust; a still negative keeps it (Z9)."""
    series = series_of([0.0] * 7 + [moved_mV] * 6)
    _, rows = ran(points_of([(START_S + 15 * 3600, measured())]), series=series)
    assert rows[1, "positive"]["trust"] == trust
    assert rows[1, "negative"]["trust"] == "trusted"
    assert rows[1, "positive"]["potential_V"] == pytest.approx(3.4)
    assert rows[1, "positive"]["rest_h"] == pytest.approx(1.0)
    assert rows[1, "positive"]["temperature_degC"] == 25.0


def test_exchanged_leads_turn_pairs_and_the_potential_beside_them():
    """With the line in the log numbers and potential of a pair are those of the other channel."""
    series = series_of([0.0] * 13)
    points = points_of([(START_S + 15 * 3600, measured())])
    _, plain = ran(points, series=series)
    log = (LogEntry("A1", START_S, "leads exchanged"),)
    _, turned = ran(points, series=series, facts=dataclasses.replace(FACTS, log=log))
    for pair, other in (("positive", "negative"), ("negative", "positive"), ("cell", "cell")):
        for name in ("potential_V", "high_frequency_resistance_ohm"):
            assert turned[1, pair][name] == plain[1, other][name]
    assert turned[1, "positive"]["potential_V"] == pytest.approx(0.1)


def test_no_rest_means_no_potential():
    """Where current flows at the sweep nothing is said of its potential, and no check fails."""
    series = series_of([0.0] * 13, current_mA=1.0)
    result, rows = ran(points_of([(START_S + 15 * 3600, measured())]), series=series)
    assert rows[1, "positive"]["potential_V"] is None
    outcomes = {
        row["outcome"]
        for row in result.tables["spectrum_checks"].to_pylist()
        if row["check"] == "potential before and after"
    }
    assert outcomes == {"not testable"}


def test_every_check_stands_with_its_limit(one_spectrum):
    """Each pair has a row for each check: value and limit where tested, else why not (own)."""
    result, _ = one_spectrum
    rows = result.tables["spectrum_checks"].to_pylist()
    of_cell = {row["check"] for row in rows if row["pair"] == "cell"}
    of_positive = {row["check"] for row in rows if row["pair"] == "positive"}
    assert {"Kramers-Kronig rms", "additivity", "amplitude", "repeated frequency"} <= of_cell
    assert of_positive - of_cell == {
        "inductive loop", "falling real part", "polarisation out of family", "mirror features",
        "share of ohmic resistance", "change of ohmic share",
    }  # fmt: skip
    for row in rows:
        assert row["outcome"] in ("trusted", "not testable")
        assert (row["value"] is None) == (row["outcome"] == "not testable")
        assert bool(row["note"]) == (row["outcome"] == "not testable")


def test_amplitude_of_the_settings_is_held_against_every_pair():
    """0.4 mA through some 100 ohm is beyond 20 mV in the cell and less in the positive (Z10)."""
    settings = Impedance(excitation_current_mA=0.4)
    _, rows = ran(points_of([(START_S + 15 * 3600, measured())]), impedance=settings)
    assert rows[1, "cell"]["trust"] == "rejected"
    assert "peak voltage of the excitation" in rows[1, "cell"]["reasons"]
    assert rows[1, "positive"]["trust"] == "suspect"


def test_misplaced_reference_is_said_once_of_the_cell():
    """A feature moved from one electrode to the other: both suspect, the cell not, one finding."""
    spectra = []
    for seed, hours in enumerate((15, 30)):
        pairs = measured(seed)
        loop = 8.0 / (1 + 2j * np.pi * FREQUENCY * 2e-2)
        pairs["positive"] = pairs["positive"] + loop
        pairs["negative"] = pairs["negative"] - loop
        spectra.append((START_S + hours * 3600, pairs))
    result, rows = ran(points_of(spectra))
    assert rows[1, "cell"]["trust"] == "trusted"
    for pair in ("positive", "negative"):
        assert "suspect reference geometry" in rows[2, pair]["reasons"]
    found = [f for f in result.findings if f.check == "suspect reference geometry"]
    assert [(f.value, f.cell) for f in found] == [(2.0, "A1")]


def test_separators_shift_the_expected_share():
    """The build sheet's separators say what share of ohmic resistance is usual (check Z7)."""
    assert [expected_share(text) for text in ("1+1", "2+1", "1+2", "two", "")] == [
        0.5, pytest.approx(2 / 3), pytest.approx(1 / 3), 0.5, 0.5,
    ]  # fmt: skip


def test_lithium_keeps_one_arc_unless_a_second_is_earned():
    """For lithium a second arc less than ten apart is not taken, for graphite it is (table D1)."""
    close = {"ohmic": 3.0, "arcs": ((30.0, 2e-4, 0.85), (20.0, 1.2e-3, 0.85)), "sigma": 1.5}
    points = points_of([(START_S + 15 * 3600, {"negative": spectrum_of(close) * (1 + 0j)})])
    models = {}
    for material in ("graphite", "lithium"):
        _, rows = ran(points, materials={"positive": "LFP", "negative": material})
        models[material] = rows[1, "negative"]["model"]
    assert models["graphite"].count("ZARC") == 2
    assert models["lithium"].count("ZARC") == 1


def test_written_model_is_fitted_as_it_stands():
    """A model of the settings is fitted whole, with its label and every parameter in the table."""
    model = {"series": [{"element": "resistor"}, {"element": "arc"}, {"element": "gerischer"}]}
    truth = el.series(
        el.resistor(FREQUENCY, resistance_ohm=3.0),
        el.zarc(FREQUENCY, resistance_ohm=10.0, time_constant_s=1e-4, exponent=0.85),
        el.gerischer(FREQUENCY, resistance_ohm=30.0, time_constant_s=0.1),
    )
    settings = Impedance.model_validate({"positive_model": model})
    points = points_of([(START_S + 15 * 3600, {"positive": truth})])
    _, rows = ran(points, impedance=settings)
    row = rows[1, "positive"]
    assert row["model"] == "R0 + ZARC + G"
    found = {name: one["value"] for name, one in json.loads(row["parameters"]).items()}
    assert found == pytest.approx(
        {"R0_ohm": 3, "R1_ohm": 10, "tau1_s": 1e-4, "n1": 0.85, "R2_ohm": 30, "tau2_s": 0.1},
        rel=1e-6,
    )
    assert row["polarisation_resistance_ohm"] == pytest.approx(40.0, rel=1e-6)


def test_cell_voltage_only_says_nothing_of_additivity():
    """A cell measured without a reference is not reproached for missing electrodes."""
    result, _ = ran(points_of([(START_S + 15 * 3600, {"cell": measured()["cell"]})]))
    assert result.findings == ()


def test_command_line_writes_what_run_gives(tmp_path):
    """The printed command writes the tables of the dictionary, the same bytes each time."""
    inputs = {
        "spectrum_points": points_of([(START_S + 15 * 3600, measured())]),
        "cycles": cycles_of([1.0]),
        "fitness": fitness_of(("fit", 0.0, 100.0)),
        "ledger": ledger_of(),
        "series": empty(TABLES["series"]),
    }
    settings = {
        "impedance": Impedance().model_dump(),
        "trust": Trust().model_dump(),
        "electrodes": {"positive": {"material": "LFP"}, "negative": {"material": "graphite"}},
        "cycling": {"zero_current_mA": 0.002},
    }
    given = {"settings": settings, "cell": asdict(FACTS), "tables": inputs}
    first, second = (
        run_job(tmp_path / folder, "impedance", **given) for folder in ("first", "second")
    )
    for name in first:
        paths = [cell_table_path(tmp_path / folder, "impedance", name, FACTS.cell)
                 for folder in ("first", "second")]  # fmt: skip
        assert paths[0].read_bytes() == paths[1].read_bytes()
        assert first[name].equals(second[name])
    assert first["spectra"].num_rows == 3


def test_a_job_without_a_cell_is_refused(tmp_path):
    """Without a cell the stage refuses in one sentence."""
    with pytest.raises(ValueError, match="works on one cell, and this job names none"):
        run_job(tmp_path, "impedance", settings={"electrodes": {}})
