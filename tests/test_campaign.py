"""The demonstration against its truth, and its results as a whole."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from campaign_runs import rows
from demonstrated import Demonstrated

from trivet.demo.plan import plan_campaign
from trivet.science.electrodes.attribution import TERMS


@pytest.fixture(scope="module")
def demo(demonstration_run: Demonstrated) -> Path:
    """The demonstration campaign, made and run once."""
    return demonstration_run.work


def truth(work: Path, name: str) -> list[dict[str, str]]:
    """Rows of a table of the truth."""
    path = work / "truth" / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def true_cells(work: Path) -> dict[str, dict[str, object]]:
    """What really happened to each cell."""
    path = work / "truth" / "cells.json"
    return {cell["cell"]: cell for cell in json.loads(path.read_text(encoding="utf-8"))}


# --- the demonstration against its truth --------------------------------------------------------


def test_capacities_are_right_within_a_tenth_of_a_percent(demo: Path) -> None:
    """Each capacity of each whole cycle equals the exact integral of the model within 0.1 %."""
    found = {(row["cell"], row["cycle"]): row for row in rows(demo, "cycles")}
    compared = 0
    for true in truth(demo, "cycles"):
        row = found[true["cell"], int(true["cycle"])]
        assert row["complete"] == int(true["complete"])
        assert row["kind"] == true["kind"]
        for column, name in (
            ("charge_capacity_mAh", "charge_mAh"), ("discharge_capacity_mAh", "discharge_mAh"),
        ):  # fmt: skip
            # below this a cell passes no charge worth the name, and 0.1 % is below the digits
            if int(true["complete"]) and float(true[name]) > 0.01:
                assert row[column] == pytest.approx(float(true[name]), rel=1e-3)
                compared += 1
    assert compared > 4000


def test_lives_are_right_to_the_cycle(demo: Path) -> None:
    """Each end is found at its cycle, from its cause, others are censored."""
    lives = {(row["cell"], row["endpoint"], row["clock"]): row for row in rows(demo, "lifetimes")}
    causes = set()
    for cell, true in true_cells(demo).items():
        if true["fate"] == "excluded":
            assert (cell, "cell", "cycles") not in lives
            continue
        life = lives[cell, "cell", "cycles"]
        assert life["observed"] == (true["cause"] is not None), cell
        assert life["cause"] == (true["cause"] or ""), cell
        if true["end_cycle"] is not None:
            assert life["duration"] == true["end_cycle"], cell
        if true["end_h"] is not None:
            hours = lives[cell, "cell", "hours"]["duration"]
            assert hours == pytest.approx(true["end_h"], abs=0.5), cell
        causes.add(life["cause"])
    assert len(causes - {""}) >= 4


def test_reference_losses_are_found_within_one_check(demo: Path) -> None:
    """Each loss lies between the last good check and the first bad one, and none is invented."""
    lives = [row for row in rows(demo, "lifetimes")
             if row["endpoint"] == "reference" and row["clock"] == "hours"]  # fmt: skip
    true = true_cells(demo)
    lost = {row["cell"]: row for row in lives if row["observed"]}
    really = {cell for cell in true if true[cell].get("reference", {})
              and true[cell]["reference"]["lost_h"] is not None}  # fmt: skip
    assert set(lost) == really
    for cell, life in lost.items():
        since_plating_h = true[cell]["reference"]["lost_h"] - true[cell]["reference"]["plated_h"]
        assert life["lower"] - 1e-6 <= since_plating_h <= life["upper"] + 0.5, cell


def test_what_a_lost_reference_still_serves_is_shown_and_nothing_else(demo: Path) -> None:
    """A wire without lithium shows nothing; a drifting one differences, and potentials corrected.

    Lost in week two: one by a jump, one by drift. The life of both cells still counts.
    """
    true = true_cells(demo)
    early = [cell for cell in true if (true[cell].get("reference") or {}).get("lost_h")
             and true[cell]["reference"]["lost_h"] < 14 * 24]  # fmt: skip
    assert len(early) == 2
    starts = {(row["cell"], row["cycle"]): row["start_h"] for row in rows(demo, "cycles")}
    seen = set()
    for cell in early:
        # a loss by drift is known only at the check that finds it
        known_h = next(row["start_h"] for row in rows(demo, "timeline")
                       if row["cell"] == cell and row["state"] == "lost")  # fmt: skip
        later = [row for row in rows(demo, "electrode_cycles") if row["cell"] == cell
                 and starts[cell, row["cycle"]] > known_h]  # fmt: skip
        assert later
        gone = "no lithium on the wire" in {
            row["reason"] for row in rows(demo, "fitness") if row["cell"] == cell
        }
        seen.add(gone)
        for row in later:
            assert row["withheld"] == int(gone)
            bare = row["mean_charge_potential_V"] is None
            assert bare == (row["absolute_fitness"] == "not fit")
            assert row["absolute_fitness"] != "fit"
            assert not (gone and row["hysteresis_V"] is not None)
        assert any(row["cell"] == cell and row["endpoint"] == "cell"
                   for row in rows(demo, "lifetimes"))  # fmt: skip
    assert seen == {True, False}


def test_steps_within_charges_give_the_resistance_of_the_negative(demo: Path) -> None:
    """Interrupted half way, the negative answers with the model's ohmic part and arcs."""
    true = {
        (row["cell"], int(row["cycle"])): float(row["ohmic_ohm"]) + float(row["arcs_ohm"])
        for row in truth(demo, "resistances")
        if row["electrode"] == "negative"
    }
    steps = [
        row for row in rows(demo, "step_resistances")
        if row["step"] == "within" and not row["withheld"] and (row["cell"], row["cycle"]) in true
    ]  # fmt: skip
    off = np.array(
        [row["negative_ohm"] - true[row["cell"], row["cycle"]] for row in steps], dtype=float
    )
    assert off.size > 80
    error = np.array([row["negative_error_ohm"] for row in steps])
    assert np.abs(np.median(off)) < 0.3
    assert np.mean(np.abs(off) < 3.0 * error) > 0.9


def test_spectra_of_a_drifting_reference_are_shown_and_add_up(demo: Path) -> None:
    """A drift of 2.6 mV a day takes nothing from spectra: the sum and the ohmic parts are right."""
    resistances = {
        (row["cell"], int(row["cycle"]), row["electrode"]): float(row["ohmic_ohm"])
        for row in truth(demo, "resistances")
    }
    for cell in ("c12", "c22"):
        own = [
            row for row in rows(demo, "spectra") if row["cell"] == cell and row["pair"] != "cell"
        ]
        assert len(own) >= 12
        for row in own:
            assert (row["withheld"], row["trust"]) == (0, "trusted")
            assert row["additivity_percent"] < 0.5
            true_ohm = resistances[cell, row["cycle"], row["pair"]]
            assert row["high_frequency_resistance_ohm"] == pytest.approx(true_ohm, rel=0.02)


def test_platings_are_those_of_the_bench_log(demo: Path) -> None:
    """Charge and time of each plating are the truth's, and the loss is seen where there is one."""
    true = true_cells(demo)
    found = {row["cell"]: row for row in rows(demo, "plating")}
    for cell, row in found.items():
        model = true[cell]["reference"]
        assert row["time_h"] == pytest.approx(model["plated_h"], abs=1 / 60)
        assert row["charge_mAh"] == pytest.approx(model["plated_mAh"], rel=1e-6)
        assert row["lost"] == int(model["lost_h"] is not None), cell
    assert len(found) >= 20


def test_differential_capacity_gives_back_the_charge(demo: Path) -> None:
    """Summed over its bins, dQ/dV of each electrode is the charge of the half-cycle."""
    charges = {
        (row["cell"], row["cycle"], half): row[f"{half}_capacity_mAh"]
        for row in rows(demo, "cycles") for half in ("charge", "discharge")
    }  # fmt: skip
    sums: dict[tuple, float] = {}
    for row in rows(demo, "differential_capacity"):
        key = (row["cell"], row["cycle"], row["half"], row["electrode"])
        sums[key] = sums.get(key, 0.0) + row["charge_mAh"]
    assert len(sums) > 100
    for (cell, cycle, half, _), charge in sums.items():
        assert charge == pytest.approx(charges[cell, cycle, half], rel=1e-6)


def test_swapped_leads_are_named(demo: Path) -> None:
    """The cell whose leads are swapped, and no other, has the finding; nothing is turned round."""
    swapped = [cell for cell, true in true_cells(demo).items() if true.get("swapped")]
    named = {row["cell"] for row in rows(demo, "findings") if "swapped" in row["check"]}
    assert named == set(swapped)


def test_a_file_cut_in_mid_line_loses_that_line_only(demo: Path) -> None:
    """The last line without an end is set aside with a finding; the ledger adds up everywhere."""
    cut = [cell for cell, true in true_cells(demo).items() if true.get("cut_in_mid_line")]
    for row in rows(demo, "ledger"):
        assert row["rows_seen"] == row["rows_used"] + row["rows_set_aside"]
        expected = int(row["cell"] in cut and row["content"] == "cycling")
        assert row["rows_set_aside"] == expected, row["file"]
    assert len(cut) == 1


def test_resistances_are_right_within_their_errors(demo: Path) -> None:
    """Of the fitted sums of arcs 95 % lie within two standard errors; all within one percent."""
    found = {(row["cell"], row["pair"], round(row["time_h"])): row for row in rows(demo, "spectra")}
    true = true_cells(demo)
    deviations, relative = [], []
    for row in truth(demo, "resistances"):
        swapped = true[row["cell"]]["swapped"]
        spectrum = found[row["cell"], row["electrode"], round(float(row["hours"]))]
        if spectrum["withheld"] or spectrum["trust"] != "trusted" or swapped:
            continue
        value = spectrum["polarisation_resistance_ohm"]
        error = spectrum["polarisation_resistance_se_ohm"]
        deviations.append(abs(value - float(row["arcs_ohm"])) / error)
        relative.append(abs(value / float(row["arcs_ohm"]) - 1))
    assert len(deviations) > 150
    # 95 % of 200 trials: fewer than 90 % within has a probability below 0.3 % (binomial)
    assert np.mean(np.array(deviations) <= 2.0) >= 0.90
    assert max(relative) < 0.02


def test_misplaced_mesh_is_called_so_and_no_other_cell_is(demo: Path) -> None:
    """The cell whose mesh is off the middle has `suspect reference geometry`; its pair is well."""
    off = {cell for cell, true in true_cells(demo).items() if true.get("mesh_offset_mm")}
    named = {row["cell"] for row in rows(demo, "findings")
             if row["check"] == "suspect reference geometry"}  # fmt: skip
    assert len(off) == 1
    assert named == off
    own = [row for row in rows(demo, "spectra") if row["cell"] in off]
    assert all(row["trust"] == "trusted" for row in own if row["pair"] == "cell")
    assert all("suspect reference geometry" in row["reasons"]
               for row in own if row["pair"] != "cell")  # fmt: skip
    assert max(row["kk_rms_percent"] for row in own) < 0.5
    assert max(row["additivity_percent"] for row in own) < 1.0


def test_the_verdict_does_not_contradict_the_truth(demo: Path) -> None:
    """The seal that lasts 1.6 times as long is not `equivalent`, nor the like one `different`."""
    verdicts = {row["group"]: row["verdict"] for row in rows(demo, "comparisons")
                if row["endpoint"] == "cell" and row["clock"] == "hours"
                and row["factor"] == "seal" and row["measure"] == "exact log-rank"
                and row["control"] == "tape"}  # fmt: skip
    assert verdicts["epoxy"] in ("different", "inconclusive")
    assert verdicts["sleeve"] in ("equivalent", "inconclusive")


def test_second_pass_resistances_and_slopes_are_right(demo: Path) -> None:
    """Of both resistances 95 % lie within two standard errors; slopes are those of the truth.

    A cell that leaks is left out of the slopes, since its ohmic resistance is no line.
    """
    found = {(row["cell"], row["pair"], round(row["time_h"])): row
             for row in rows(demo, "spectra_second_pass") if not row["reason"]}  # fmt: skip
    cells, away, over = true_cells(demo), [], {}
    for row in truth(demo, "resistances"):
        key = (row["cell"], row["electrode"], round(float(row["hours"])))
        if key not in found or cells[row["cell"]]["swapped"]:
            continue
        over.setdefault(key[:2], []).append((float(row["hours"]), float(row["ohmic_ohm"])))
        for name, true in (("ohmic", row["ohmic_ohm"]), ("polarisation", row["arcs_ohm"])):
            error = found[key][f"{name}_resistance_se_ohm"]
            away.append(abs(found[key][f"{name}_resistance_ohm"] - float(true)) / error)
    # 95 % of 400 trials: fewer than 92 % within has a probability below 1 % (binomial)
    assert len(away) > 300
    assert np.mean(np.array(away) <= 2.0) >= 0.92
    slopes = {(row["cell"], row["pair"]): row["slope"] for row in rows(demo, "resistance_trends")
              if row["quantity"] == "ohmic" and row["clock"] == "hours"}  # fmt: skip
    compared = 0
    for (cell, pair), points in over.items():
        if len(points) >= 3 and cells[cell]["cause"] != "leak":
            true = 100 * np.polyfit(*np.transpose(points), 1)[0]
            assert slopes[cell, pair] == pytest.approx(true, rel=0.05), (cell, pair)
            compared += 1
    assert compared > 25


def test_separators_have_their_resistances(demo: Path) -> None:
    """One more separator beside the positive is 2.4 ohm when fresh, as the model has it."""
    row = next(r for r in rows(demo, "separator_resistance") if r["pair"] == "positive")
    assert row["lower_ohm"] < 2.4 < row["upper_ohm"]
    assert row["batches"] == 3


# --- the results as a whole ---------------------------------------------------------------------


def test_the_truth_is_never_read(demo: Path) -> None:
    """The truth lies elsewhere before the first job, and no job names it."""
    assert (demo / "truth").is_dir()
    assert not [path for path in (demo / "campaign").rglob("*") if "truth" in path.name]
    folder = demo / "reports" / "demo" / "jobs"
    # the list of the program's own files has names of studies with that word
    jobs = set(folder.glob("*.json")) - {folder / "sources.json"}
    assert len(jobs) > 80
    assert not [path for path in jobs if "truth" in path.read_text(encoding="utf-8")]


def test_lithium_lost_is_that_of_the_model(demo: Path) -> None:
    """Within three standard errors of what the side reaction took; no material is lost."""
    plans = {plan.cell: plan for plan in plan_campaign()}
    cycles = {(row["cell"], row["cycle"]): row for row in rows(demo, "cycles")}
    told = [row for row in rows(demo, "attribution") if row["inventory_lost_mAh"] is not None]
    assert len(told) > 50
    for row in told:
        hours = [
            sum(cycles[row["cell"], row[name]][end] for end in ("start_h", "end_h")) / 2.0
            for name in ("base_cycle", "cycle")
        ]
        between = np.linspace(*hours, 400)
        losing = [plans[row["cell"]].ageing.loss_mA(float(hour)) for hour in between]
        off = row["inventory_lost_mAh"] - np.trapezoid(losing, between)
        assert abs(off) < min(3.0 * row["inventory_lost_error_mAh"] + 1e-4, 0.006), row["cell"]
        for side in ("positive", "negative"):
            if row[f"{side}_active"] is not None:
                assert abs(row[f"{side}_active"] - 1.0) < 3.0 * row[f"{side}_active_error"] + 1e-3
        terms = [row[f"lost_to_{term}_mAh"] for term in TERMS]
        known = sum(value for value in terms if value is not None)
        assert known + row["remainder_mAh"] == pytest.approx(row["lost_mAh"], abs=1e-12)
