"""The stage trends on a small campaign whose truth is known: second pass, slopes, separators."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from jobs import run_job

from trivet.schema.settings.trends import TrendTrust
from trivet.schema.tables.dictionary import TABLES
from trivet.science.circuit import closed_forms as el
from trivet.science.circuit.arcs import Circuit
from trivet.science.circuit.fit import fit_circuit
from trivet.stages.trends.rows import mark_alike, separators_of
from trivet.stages.trends.stage import OUTPUTS, run
from trivet.store.tables import empty, make_table

INPUTS = ("cells", "spectra", "spectrum_curves")
FREQUENCY = np.geomspace(1e5, 2e-2, 48)
HOURS = (45.0, 215.0, 383.0, 553.0, 720.0)
CELLS = {"a1": ("A", "1+1"), "a2": ("A", "2+1"), "a3": ("A", "1+1"),
         "b1": ("B", "1+1"), "b2": ("B", "2+1"), "b3": ("B", "2+1")}  # fmt: skip
PER_SEPARATOR_OHM = 2.4
RISE_OHM_PER_H = {"positive": 0.004, "negative": 0.002}
GROWTH_OHM_PER_H = 0.012
EXPONENTS = (0.86, 0.82)
NOISE = 0.002
ALIKE = TrendTrust(spectra_alike=True)


def ohmic_ohm(cell: str, pair: str, hours: float) -> float:
    """Ohmic resistance of a side: one more separator is all beside the positive."""
    start = 4.0 + (PER_SEPARATOR_OHM if pair == "positive" and CELLS[cell][1] == "2+1" else 0.0)
    return start + (0.3 if CELLS[cell][0] == "B" else 0.0) + RISE_OHM_PER_H[pair] * hours


def arcs_ohm(hours: float) -> tuple[float, float]:
    """Widths of both arcs; only the slower one grows."""
    return 6.0, 10.0 + GROWTH_OHM_PER_H * hours


def electrode(cell: str, pair: str, hours: float) -> np.ndarray:
    """Closed form of one electrode."""
    first, second = arcs_ohm(hours)
    return el.series(
        el.inductor(FREQUENCY, inductance_H=3e-7),
        el.resistor(FREQUENCY, resistance_ohm=ohmic_ohm(cell, pair, hours)),
        el.zarc(FREQUENCY, resistance_ohm=first, time_constant_s=1.5e-4, exponent=EXPONENTS[0]),
        el.zarc(FREQUENCY, resistance_ohm=second, time_constant_s=1.5e-2, exponent=EXPONENTS[1]),
        el.warburg(FREQUENCY, coefficient_ohm_per_root_s=1.0),
    )


def first_pass(cell: str, spectrum: int, hours: float) -> tuple[list[dict], list[dict]]:
    """Rows of spectra and spectrum_curves of one measurement."""
    exact = {pair: electrode(cell, pair, hours) for pair in RISE_OHM_PER_H}
    exact["cell"] = exact["positive"] + exact["negative"]
    random = np.random.default_rng([list(CELLS).index(cell), spectrum])
    rows, curves = [], []
    for pair, impedance in exact.items():
        drawn = random.standard_normal((2, FREQUENCY.size))
        measured = impedance + NOISE * np.abs(impedance) * (drawn[0] + 1j * drawn[1])
        found = fit_circuit(FREQUENCY, measured, circuit=Circuit(2, "warburg", True), starts=1)
        parameters = {
            name: {"value": found.value(name), "standard_error": found.standard_error(name)}
            for name in found.circuit.names
        }
        head = {"cell": cell, "spectrum": spectrum, "pair": pair}
        rows.append(
            head
            | {"time_h": hours, "cycle": int(hours // 4), "points": 48, "trust": "trusted"}
            | {"reasons": "", "withheld": 0, "parameters": json.dumps(parameters)}
            | {"kk_rms_percent": 0.18}
        )
        curves += [
            head
            | {"frequency_Hz": float(f), "real_ohm": z.real, "imaginary_ohm": z.imag}
            | {"kk_residual_real_percent": 0.1, "kk_residual_imaginary_percent": 0.1}
            for f, z in zip(FREQUENCY, measured, strict=True)
        ]
    return rows, curves


@pytest.fixture(scope="module")
def measured() -> dict[str, list[dict[str, Any]]]:
    """Rows of the input tables."""
    found: dict[str, list[dict[str, Any]]] = {"cells": [], "spectra": [], "spectrum_curves": []}
    for cell, (batch, separators) in CELLS.items():
        found["cells"].append(
            {"cell": cell, "batch": batch, "group": "g", "included": 1, "status": "running",
             "separators": separators, "positive_diameter_mm": "12.0",
             "negative_diameter_mm": "13.0"}
        )  # fmt: skip
        for number, hours in enumerate(HOURS, start=1):
            rows, curves = first_pass(cell, number, hours)
            found["spectra"] += rows
            found["spectrum_curves"] += curves
    return found


SHEET = ("separators", "positive_diameter_mm", "negative_diameter_mm")


def as_table(name: str, rows: list[dict[str, Any]]) -> pa.Table:
    """Rows as a table of the dictionary; what they do not say is missing."""
    sheet = SHEET if name == "cells" else ()
    names = [*TABLES[name].names, *sheet]
    return make_table(TABLES[name], {key: [r.get(key) for r in rows] for key in names}, sheet)


def ran(rows: dict[str, list[dict[str, Any]]], trust: TrendTrust = ALIKE) -> dict[str, list[dict]]:
    """Rows of the output tables."""
    cells, spectra, curves = (as_table(name, rows[name]) for name in INPUTS)
    tables = run(cells=cells, spectra=spectra, curves=curves, trust=trust, confidence=0.95)
    assert tuple(tables) == OUTPUTS
    return {name: table.to_pylist() for name, table in tables.items()}


@pytest.fixture(scope="module")
def found(measured) -> dict[str, list[dict[str, Any]]]:
    """What the stage gives of the whole campaign."""
    return ran(measured)


def changed(measured, **of_spectra: Any) -> dict[str, list[dict[str, Any]]]:
    """The same campaign with the spectra of cell a1 changed; a function gives what changes."""
    change = of_spectra.pop("change")
    spectra = [row | change(row) if row["cell"] == "a1" else row for row in measured["spectra"]]
    return measured | {"spectra": spectra}


def trend(rows, cell="a1", pair="positive", quantity="ohmic", clock="hours"):
    """The only row of a trend."""
    (row,) = (
        r
        for r in rows["resistance_trends"]
        if (r["cell"], r["pair"], r["quantity"], r["clock"]) == (cell, pair, quantity, clock)
    )
    return row


def test_exponents_are_the_medians_and_near_the_truth(found, measured):
    """Every electrode spectrum is fitted with the median of the first pass, held exactly."""
    own = [row for row in found["spectra_second_pass"] if row["pair"] == "positive"]
    first = [json.loads(r["parameters"]) for r in measured["spectra"] if r["pair"] == "positive"]
    expected = np.median([one["n1"]["value"] for one in first])
    for row in own:
        held = json.loads(row["exponents"])
        assert held["n1"] == pytest.approx(expected, rel=1e-8)
        assert held["n1"] == pytest.approx(EXPONENTS[0], abs=0.005)
        parameters = json.loads(row["parameters"])
        assert parameters["n1"] == {"value": held["n1"], "standard_error": None}
        assert row["pooled_spectra"] == 30


def test_resistances_of_the_second_pass_are_right_within_their_errors(found):
    """Of 60 electrode spectra at least 90 % lie within two standard errors, in both quantities.

    95 % of 60 trials: fewer than 88 % within has a probability of 2 % (binomial).
    """
    inside = {"ohmic": [], "polarisation": []}
    for row in found["spectra_second_pass"]:
        if row["pair"] != "cell":
            true = {
                "ohmic": ohmic_ohm(row["cell"], row["pair"], row["time_h"]),
                "polarisation": sum(arcs_ohm(row["time_h"])),
            }
            for name, value in true.items():
                away = row[f"{name}_resistance_ohm"] - value
                inside[name].append(abs(away) <= 2 * row[f"{name}_resistance_se_ohm"])
    assert np.mean(inside["ohmic"]) >= 0.88
    assert np.mean(inside["polarisation"]) >= 0.88


def test_split_of_the_arcs_is_earned_here(found):
    """Time constants a hundred apart and little noise: both arcs are given, and are right."""
    for row in found["spectra_second_pass"]:
        if row["pair"] == "positive":
            assert (row["split"], row["split_refused"]) == (1, "")
            slow = json.loads(row["parameters"])["R2_ohm"]
            true = arcs_ohm(row["time_h"])[1]
            assert abs(slow["value"] - true) < 5 * slow["standard_error"]


@pytest.mark.parametrize("pair", ["positive", "negative", "cell"])
def test_ohmic_slopes_are_recovered(found, pair):
    """Per 100 h, each side has its own rise and the cell their sum; intervals cover the truth.

    Of 6 intervals at 95 % two or more miss with a probability of 3 %.
    """
    true = 100 * (RISE_OHM_PER_H.get(pair) or sum(RISE_OHM_PER_H.values()))
    rows = [trend(found, cell, pair) for cell in CELLS]
    assert np.mean([row["slope"] for row in rows]) == pytest.approx(true, rel=0.02)
    assert sum(row["slope_lower"] <= true <= row["slope_upper"] for row in rows) >= 5
    assert {row["unit"] for row in rows} == {"Ohm/(100.h)"}


def test_growth_of_the_arcs_is_recovered_on_both_clocks(found):
    """1.2 ohm per 100 h, and 4.8 per 100 cycles of 4 h; rank correlation 1."""
    for clock, true in (("hours", 1.2), ("cycles", 4.8)):
        row = trend(found, quantity="polarisation", clock=clock)
        assert row["slope"] == pytest.approx(true, rel=0.03)
        assert row["rank_correlation"] == pytest.approx(1.0)
        assert row["spectra"] == 5


def test_slopes_per_area_use_the_smaller_disc(found):
    """12 mm across are 1.130973 cm2 (pi/4 d2), whatever the larger disc."""
    row = trend(found)
    assert row["area_cm2"] == pytest.approx(1.1309734, rel=1e-7)
    assert row["areal_slope"] == pytest.approx(row["slope"] * 1.1309734, rel=1e-7)


def test_resistance_of_a_separator_is_recovered_on_its_side(found):
    """2.4 ohm beside the positive and in the cell; the negative does not differ in its number."""
    rows = {row["pair"]: row for row in found["separator_resistance"]}
    for pair in ("positive", "cell"):
        assert rows[pair]["lower_ohm"] <= PER_SEPARATOR_OHM <= rows[pair]["upper_ohm"]
        assert rows[pair]["per_separator_ohm"] == pytest.approx(PER_SEPARATOR_OHM, rel=0.02)
        assert (rows[pair]["cells"], rows[pair]["batches"]) == (6, 2)
    assert rows["negative"]["per_separator_ohm"] is None
    assert rows["negative"]["reason"].startswith("not estimable")


def test_withheld_spectra_are_not_fitted_and_say_so(measured):
    """Electrode spectra after the loss of the reference: no numbers, and the cell has its own."""

    def after(row):
        lost = row["pair"] != "cell" and row["spectrum"] > 2
        return {"withheld": 1, "trust": "suspect", "parameters": ""} if lost else {}

    rows = ran(changed(measured, change=after))
    held = [r for r in rows["spectra_second_pass"] if r["reason"]]
    assert len(held) == 6
    assert {r["reason"] for r in held} == {"withheld: the reference was not trusted"}
    assert all(r["ohmic_resistance_ohm"] is None for r in held)
    row = trend(rows)
    assert (row["slope"], row["reason"]) == (None, "withheld: the reference was not trusted")
    assert (row["spectra"], row["left_out"]) == (2, 3)
    assert trend(rows, pair="cell")["spectra"] == 5


def test_rejected_spectra_and_misplaced_references_are_left_out(measured):
    """A rejected spectrum and one of suspect geometry are no points of a trend."""
    reasons = {2: ("rejected", "Kramers-Kronig rms 3 %, at most 1 %"),
               4: ("suspect", "suspect reference geometry: loop")}  # fmt: skip

    def against(row):
        trust, why = reasons.get(row["spectrum"], ("trusted", ""))
        return {"trust": trust, "reasons": why, "misplaced": int(row["spectrum"] == 4)}

    row = trend(ran(changed(measured, change=against)))
    assert (row["spectra"], row["left_out"]) == (3, 2)
    assert row["slope"] == pytest.approx(0.4, rel=0.05)


def test_an_exponent_at_its_bound_is_held_there(measured):
    """Where no spectrum has n1 within its bounds, the median of all is held, and rows say so."""

    def at_bound(row):
        parameters = json.loads(row["parameters"])
        parameters["n1"]["standard_error"] = None
        return {"parameters": json.dumps(parameters)}

    every = [row | at_bound(row) for row in measured["spectra"]]
    found = ran(measured | {"spectra": every})
    bases = {row["basis"] for row in found["spectra_second_pass"]}
    assert bases == {"second pass, exponent held at its bound"}
    assert trend(found)["slope"] == pytest.approx(0.4, rel=0.05)
    assert trend(found)["basis"] == "second pass, exponent held at its bound"


def test_the_first_pass_serves_where_no_circuit_of_arcs_fits(measured):
    """Without a model there is no second pass; ohmic trends of every pair come from the first.

    The ohmic part of the cell never waits for its electrodes.
    """

    def written(row):
        value = sum(ohmic_ohm(row["cell"], pair, row["time_h"]) for pair in RISE_OHM_PER_H
                    if row["pair"] in ("cell", pair))  # fmt: skip
        return {
            "parameters": "",
            "high_frequency_resistance_ohm": value,
            "polarisation_resistance_ohm": sum(arcs_ohm(row["time_h"])),
        }

    found = ran(changed(measured, change=written))
    own = [row for row in found["spectra_second_pass"] if row["cell"] == "a1"]
    assert {row["basis"] for row in own} == {"first pass"}
    assert all(row["reason"] for row in own)
    for pair in ("cell", "positive", "negative"):
        rise = sum(v for k, v in RISE_OHM_PER_H.items() if pair in ("cell", k))
        row = trend(found, pair=pair)
        assert row["slope"] == pytest.approx(100.0 * rise, rel=1e-6)
        assert row["basis"] == "first pass"


def test_unknown_state_of_charge_makes_no_trend_of_the_arcs(measured):
    """Without potentials and without a person's word only the ohmic resistance has a trend."""
    rows = ran(measured, TrendTrust())
    assert trend(rows)["slope"] is not None
    row = trend(rows, quantity="polarisation")
    assert row["slope"] is None
    assert row["reason"].startswith("state of charge of the spectra not known")


def test_spectra_at_another_potential_are_not_alike():
    """One of four spectra 80 mV off the median of its cell and pair is marked; unknown is null."""
    rows = [{"cell": "a", "pair": "positive", "spectrum": n} for n in range(1, 6)]
    potentials = {("a", n, "positive"): value
                  for n, value in enumerate((3.420, 3.424, 3.340, 3.428), start=1)}  # fmt: skip
    mark_alike(rows, potentials, TrendTrust())
    assert [row["alike"] for row in rows] == [1, 1, 0, 1, None]


def test_every_spectrum_has_a_row_and_nothing_else(found, measured):
    """The second pass has as many rows as the first."""
    keys = [{(r["cell"], r["spectrum"], r["pair"]) for r in rows}
            for rows in (found["spectra_second_pass"], measured["spectra"])]  # fmt: skip
    assert keys[0] == keys[1]


def test_peaks_of_relaxation_are_the_arcs(found):
    """Two peaks each: areas within 10 % of the arcs, positions within 15 %; none of the cell."""
    own = [row for row in found["relaxation_peaks"] if row["pair"] == "positive"]
    assert {row["pair"] for row in found["relaxation_peaks"]} == {"positive", "negative"}
    assert len(own) == 2 * 30
    for row in own:
        true = arcs_ohm(row["time_h"])[row["peak"] - 1]
        assert row["resistance_ohm"] == pytest.approx(true, rel=0.1)
        expected = (1.5e-4, 1.5e-2)[row["peak"] - 1]
        assert row["time_constant_s"] == pytest.approx(expected, rel=0.15)
    assert len({row["regularisation"] for row in own}) == 1
    kept = {row["spectrum"] for row in found["relaxation_times"] if row["cell"] == "a1"}
    assert {1, 5} <= kept


def test_shares_of_both_electrodes_add_up(found):
    """The shares of positive and negative in both resistances add to 1; the cell has none."""
    rows = {(r["cell"], r["spectrum"], r["pair"]): r for r in found["spectra_second_pass"]}
    for name in ("ohmic_share", "polarisation_share"):
        positive, negative = (rows["a2", 1, pair][name] for pair in ("positive", "negative"))
        assert positive + negative == pytest.approx(1.0)
        assert rows["a2", 1, "cell"][name] is None
    true = [ohmic_ohm("a2", pair, HOURS[0]) for pair in ("positive", "negative")]
    share = rows["a2", 1, "positive"]["ohmic_share"]
    assert share == pytest.approx(true[0] / sum(true), rel=0.005)


def test_separators_are_counted_by_side():
    """`2+1` is two beside the positive; a plain number has no sides; words have none at all."""
    assert separators_of("2+1") == {"cell": 3.0, "positive": 2.0, "negative": 1.0}
    assert separators_of("2") == {"cell": 2.0}
    assert separators_of("glass") == {}


def test_empty_campaign_gives_empty_tables():
    """Lives from a table, no spectrum at all: every table is there without rows."""
    names = ("cells", "spectra", "spectrum_curves")
    cells, spectra, curves = (empty(TABLES[name]) for name in names)
    tables = run(cells=cells, spectra=spectra, curves=curves, trust=ALIKE, confidence=0.95)
    assert [table.num_rows for table in tables.values()] == [0, 0, 3, 0, 0]


def test_the_command_writes_what_run_gives(measured, tmp_path: Path):
    """The printed command works on its own and gives the same tables."""
    small = measured | {"spectra": [r for r in measured["spectra"] if r["cell"] == "a1"]}
    trust = {"alike_potential_mV": 20.0, "spectra_alike": True}
    settings = {"trust": trust, "comparison": {"confidence": 0.95}}
    tables = {name: as_table(name, small[name]) for name in INPUTS}
    tables["lifetimes"] = empty(TABLES["lifetimes"])
    written = run_job(tmp_path, "trends", settings=settings, tables=tables)
    expected = ran(small)
    for name in OUTPUTS:
        assert written[name].to_pylist() == expected[name]
