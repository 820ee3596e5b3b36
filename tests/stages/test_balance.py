"""Numbers of the build beside groups and lives, orders of factors, and the delay as a factor.

All lives here are invented.
"""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from lives_door import Life, measure, tables, write

from trivet.campaign.built.weighings import mass_lost_mg_per_d
from trivet.campaign.folder import read_campaign
from trivet.errors import InputError
from trivet.schema.cell_facts import LogEntry
from trivet.schema.settings.inference import Survival
from trivet.science.survival.log_rank import log_rank_scores
from trivet.stages.balance import run


def balance(folder: Path) -> dict[str, pa.Table]:
    """Tables of the stage on a campaign of a build sheet and a table of lives."""
    settings = read_campaign(folder).settings
    found = tables(folder)
    return run(
        cells=found["cells"],
        lifetimes=found["lifetimes"],
        comparison=settings.comparison,
        survival=Survival(),
        primary_clock=settings.lifetime.primary_clock,
        time_zone="Europe/Berlin",
    )


def life(arm: str, duration: float, taken: str = "", sealed: str = "", **more: Any) -> Life:
    """A cell of an arm with its times out of the box and sealed."""
    day = "2026-01-12T"
    built = {
        "out_at": f"{day}{taken}" if taken else "",
        "sealed_at": f"{day}{sealed}" if sealed else "",
        **more,
    }
    return {"arm": arm, "duration": duration, "built": built}


DELAY = "  covariates: [out_at to sealed_at]\n"


def test_a_delay_that_goes_with_the_seal_is_aliased(tmp_path: Path) -> None:
    """66 min for epoxy, 18 to 20 for tape: apart; sleeve at 20 min: not; minutes from times."""
    lives = [
        *(life("tape", 100 + n, "15:30", f"15:{48 + 2 * (n % 2)}") for n in range(4)),
        *(life("epoxy", 120 + n, "15:30", "16:36") for n in range(4)),
        *(life("sleeve", 110 + n, "15:30", "15:50" if n else "") for n in range(3)),
    ]
    found = balance(write(tmp_path / "c", lives, control="tape", more=DELAY))
    rows = {row["group"]: row for row in found["covariates"].to_pylist()}
    assert [rows[name]["aliased"] for name in ("tape", "epoxy", "sleeve")] == [0, 1, 0]
    assert (rows["epoxy"]["lowest"], rows["epoxy"]["highest"], rows["epoxy"]["unit"]) == (
        66, 66, "min"
    )  # fmt: skip
    assert rows["epoxy"]["chance_apart"] == pytest.approx(2 / 70)  # 8 over 4
    assert (rows["sleeve"]["cells"], rows["sleeve"]["missing_cells"]) == (2, 1)
    assert rows["tape"]["median"] == 19


def test_a_number_is_held_against_lives_within_groups_and_batches(tmp_path: Path) -> None:
    """P is that of every order within the two groups, running cells among them."""
    volume = (78.0, 79.0, 80.0, 81.0, 82.0, 77.0, 83.0, 84.0)
    duration = (50.0, 60.0, -75.0, 70.0, 30.0, 20.0, 45.0, -50.0)
    lives = [
        life("a" if place < 4 else "b", lived, electrolyte_uL=given)
        for place, (lived, given) in enumerate(zip(duration, volume, strict=True))
    ]
    folder = write(tmp_path / "c", lives, control="a", more="  covariates: [electrolyte_uL]\n")
    (row,) = balance(folder)["covariate_tests"].to_pylist()
    group = np.repeat([0, 1], 4)
    scores = log_rank_scores(
        np.abs(duration), observed=(np.array(duration) > 0).astype(int), stratum=group
    )
    values = np.array(volume)
    sums = [
        sum(float(np.argsort(np.argsort(values[group == k]))[list(order)] @ scores[group == k])
            for k, order in enumerate(orders))
        for orders in itertools.product(itertools.permutations(range(4)), repeat=2)
    ]  # fmt: skip
    size = np.abs(sums)
    assert row["p"] == pytest.approx(float(np.mean(size >= size[0] - 1e-9)), abs=1e-12)
    assert (row["cells"], row["events"], row["permutations"], row["unit"]) == (8, 6, 576, "uL")
    assert row["correlation"] > 0.5


def test_nothing_that_differs_within_a_group_is_no_test(tmp_path: Path) -> None:
    """A delay that is the same in each group has no p, and says why."""
    lives = [life(arm, 100 + n, "15:30", sealed) for n in range(3)
             for arm, sealed in (("a", "15:40"), ("b", "15:50"))]  # fmt: skip
    (row,) = balance(write(tmp_path / "c", lives, control="a", more=DELAY))[
        "covariate_tests"
    ].to_pylist()
    assert row["p"] is None
    assert "within no group and batch" in row["reason"]


def test_covariates_that_the_sheet_does_not_have_stop_the_run(tmp_path: Path) -> None:
    """An unknown column, a text for a number, an order that lacks a value: each is named."""
    lives = [life(arm, 100.0, note="wet" if arm == "a" else "7") for arm in ("a", "b")]
    more = "  covariates: [note, outt_at to sealed_at]\n  ordered: {arm: [a, c]}\n"
    write(tmp_path / "c", lives, control="a", more=more)
    with pytest.raises(InputError) as caught:
        read_campaign(tmp_path / "c")
    said = str(caught.value)
    assert "'note' of cell 'c00000' is 'wet', no number." in said
    assert "no column 'outt_at'. Did you mean 'out_at'?" in said
    assert "the order of 'arm' lacks the value 'b' of the build sheet." in said


@pytest.mark.parametrize("order", ["[a]", "[a, a, b]"])
def test_an_order_names_each_value_once(tmp_path: Path, order: str) -> None:
    """One value alone, or one named twice, is no order."""
    lives = [life(arm, 100.0) for arm in ("a", "b")]
    write(tmp_path / "c", lives, control="a", more=f"  ordered: {{arm: {order}}}\n")
    with pytest.raises(InputError, match="2 to 7 values, each once"):
        read_campaign(tmp_path / "c")


THREE = {
    "1+1": (300.0, 420.0, 350.0, 390.0),
    "2+1": (410.0, 520.0, -600.0, 450.0),
    "2+2": (-610.0, 560.0, -600.0, 590.0),
}


def three(order: str = "") -> list[Life]:
    """Invented lives that grow with the number of separators."""
    return [life(name, lived) for name, lives in THREE.items() for lived in lives]


def test_lives_that_grow_along_an_order_show_it(tmp_path: Path) -> None:
    """P is the share of all 34,650 relabellings with as large a sum; turned round, it turns."""
    more = "  ordered: {{arm: {}}}\n".format
    folder = write(tmp_path / "c", three(), control="1+1", more=more("[1+1, 2+1, 2+2]"))
    (row,) = balance(folder)["order_trends"].to_pylist()
    duration = np.array([lived for lives in THREE.values() for lived in lives])
    scores = log_rank_scores(np.abs(duration), observed=(duration > 0).astype(int))
    level = np.repeat([-1.0, 0.0, 1.0], 4)
    seen = abs(float(level @ scores))
    every = set(range(12))
    sums = []
    for low in itertools.combinations(range(12), 4):
        rest = sorted(every - set(low))
        lost = scores[list(low)].sum()
        sums += [float(scores[list(top)].sum() - lost) for top in itertools.combinations(rest, 4)]
    assert len(sums) == 34_650
    assert row["p"] == pytest.approx(float(np.mean(np.abs(sums) >= seen - 1e-9)), abs=1e-12)
    assert (row["direction"], row["permutations"], row["events"]) == ("longer", 34_650, 9)
    turned = write(tmp_path / "t", three(), control="1+1", more=more("[2+2, 2+1, 1+1]"))
    (back,) = balance(turned)["order_trends"].to_pylist()
    assert back["direction"] == "shorter"
    assert back["p"] == pytest.approx(row["p"], abs=1e-12)


def test_neither_order_nor_covariates_move_a_comparison(tmp_path: Path) -> None:
    """Every row of the comparison is the same with and without them."""
    more = "  covariates: [out_at to sealed_at]\n  ordered: {arm: [1+1, 2+1, 2+2]}\n"
    plain = tables(write(tmp_path / "c", three(), control="1+1"))["comparisons"]
    with_both = tables(write(tmp_path / "d", three(), control="1+1", more=more))["comparisons"]
    assert plain.equals(with_both)


def delays(cells: int, spread: float, ratio: float, seed: int) -> list[Life]:
    """Invented lives of cells sealed at once and after half an hour."""
    random = np.random.default_rng(seed)
    middle = {"0 min": 800.0, "30 min": 800.0 * ratio}
    return [
        {"arm": arm, "duration": round(float(value), 1)}
        for arm, most in middle.items()
        for value in most * random.weibull(1 / spread, cells)
    ]


def test_whether_sealing_late_is_as_good_can_be_shown(tmp_path: Path) -> None:
    """Twelve cells each of small spread: the delay of half an hour is shown to be the same."""
    folder = write(tmp_path / "c", delays(12, 0.12, 1.0, 3), control="0 min")
    row = measure(tables(folder), "exact log-rank", "30 min")
    assert row["verdict"] == "equivalent"
    limits = measure(tables(folder), "time ratio for equivalence", "30 min")
    assert 1 / 1.25 < limits["lower"] < limits["upper"] < 1.25


def test_too_few_cells_leave_the_delay_open(tmp_path: Path) -> None:
    """Four cells each of the usual spread show neither a difference nor equivalence."""
    folder = write(tmp_path / "c", delays(4, 0.4, 1.0, 3), control="0 min")
    row = measure(tables(folder), "exact log-rank", "30 min")
    assert row["p"] > 0.05
    assert row["verdict"] == "inconclusive"


def test_a_delay_that_costs_half_the_life_is_shown(tmp_path: Path) -> None:
    """Eight cells each: a difference, not equivalence."""
    folder = write(tmp_path / "c", delays(8, 0.2, 0.5, 3), control="0 min")
    assert measure(tables(folder), "exact log-rank", "30 min")["verdict"] == "different"


WEIGHED = "  covariates: [mass_lost_mg_per_d]\n"


def weighed(folder: Path, log: list[str]) -> Path:
    """A campaign of two tape and two epoxy cells with weighings in its bench log."""
    lives = [life("tape", 100), life("tape", 110), life("epoxy", 120), life("epoxy", 130)]
    campaign = write(folder, lives, control="tape", more=WEIGHED)
    settings = campaign / "campaign.yaml"
    text = settings.read_text(encoding="utf-8")
    assert "bench_log: {file: null}" in text
    settings.write_text(text.replace("{file: null}", "{file: log.csv}"), encoding="utf-8")
    (campaign / "log.csv").write_text("\n".join(["time,cell,event,mass_mg", *log, ""]))
    return campaign


def test_mass_lost_is_the_first_weighing_less_the_last_by_the_days_between(
    tmp_path: Path,
) -> None:
    """3 mg in 10 d: 0.3 mg/d whatever was weighed between; one weighing tells nothing."""
    cells = [f"c{place:05d}" for place in range(4)]
    log = [
        f"2026-01-12T12:00:00,{cells[0]},weighed,3412.0",
        f"2026-01-15T12:00:00,{cells[0]},weighed,3411.9",
        f"2026-01-22T12:00:00,{cells[0]},weighed,3409.0",
        f"2026-01-12T12:00:00,{cells[1]},weighed,3400.0",
        f"2026-01-12T12:00:00,{cells[2]},weighed,3400.0",
        f"2026-01-14T12:00:00,{cells[2]},weighed,3400.2",
    ]
    campaign = weighed(tmp_path / "b", log)
    lost = {row["cell"]: row["mass_lost_mg_per_d"] for row in tables(campaign)["cells"].to_pylist()}
    assert lost[cells[0]] == pytest.approx(0.3)
    assert lost[cells[2]] == pytest.approx(-0.1)
    assert lost[cells[1]] is None
    assert lost[cells[3]] is None
    rows = {row["group"]: row for row in balance(campaign)["covariates"].to_pylist()}
    assert (rows["tape"]["cells"], rows["tape"]["missing_cells"]) == (1, 1)
    assert rows["tape"]["unit"] == "mg/d"
    assert rows["tape"]["median"] == pytest.approx(0.3)


def test_weighings_after_the_data_cut_do_not_count() -> None:
    """Of three weighings two are before the cut."""
    log = [LogEntry("c", day * 86_400.0, "weighed", mass_mg=3400.0 - day**2) for day in (0, 2, 9)]
    assert mass_lost_mg_per_d(log, None) == pytest.approx(9.0)
    assert mass_lost_mg_per_d(log, 3 * 86_400.0) == pytest.approx(2.0)
    assert mass_lost_mg_per_d(log, 86_400.0) is None


def test_mass_lost_without_two_weighings_is_asked_about(tmp_path: Path) -> None:
    """Naming the covariate where no cell was weighed twice is a question before the run."""
    with pytest.raises(InputError, match="two weighings of a cell"):
        read_campaign(weighed(tmp_path, []))
