"""The files of the demo: settings, sheet and log as committed, raw files, truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import yaml

from trivet.demo.layouts import cycling_file, local_times, readings
from trivet.demo.make import main, write_truth
from trivet.demo.plan import CellPlan, plan_campaign
from trivet.demo.protocol import CellRun
from trivet.demo.scenario import CAMPAIGN
from trivet.demo.sheets import bench_log, build_sheet
from trivet.demo.spectrum_layouts import impedance_files
from trivet.schema.cell_facts import FAILURE_CAUSES, LOG_EVENTS
from trivet.schema.settings.campaign import Settings

RunOf = Callable[[str], CellRun]
DEMO = Path(__file__).resolve().parents[2] / "config" / "demo"


@pytest.fixture(scope="module")
def small_campaign(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three cells, made in a folder of their own."""
    folder = tmp_path_factory.mktemp("demo")
    main([str(folder), "--cells", "c04", "c13", "c14"])
    return folder


def test_settings_are_valid_and_committed() -> None:
    """The committed settings are those of the generator, and the model takes them."""
    text = (DEMO / "campaign.yaml").read_text(encoding="utf-8")

    settings = Settings.model_validate(yaml.safe_load(text))

    assert text == CAMPAIGN
    assert settings.campaign.invented


def test_build_sheet_is_committed() -> None:
    """The committed build sheet is that of the plan with the default seed."""
    text = (DEMO / "build-sheet.csv").read_text(encoding="utf-8")

    assert text == build_sheet(plan_campaign())
    assert text.count("\n") == 25


def test_bench_log_is_committed(plans: dict[str, CellPlan], run_of: RunOf) -> None:
    """The committed bench log is what happened with the default seed, in known words."""
    text = (DEMO / "bench-log.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines()[1:]]

    assert text == bench_log(
        (plan, None if plan.role.fate == "excluded" else run_of(plan.cell))
        for plan in plans.values()
    )
    assert {row[2] for row in rows} <= set(LOG_EVENTS)
    assert {row[3] for row in rows} <= {"", *FAILURE_CAUSES}


def test_same_seed_gives_the_same_bytes(tmp_path: Path, small_campaign: Path) -> None:
    """A cell's files are the same bytes when it is made again, alone."""
    main([str(tmp_path), "--cells", "c13"])

    made = sorted(path for path in tmp_path.rglob("*") if path.is_file())

    assert made
    for path in made:
        assert path.read_bytes() == (small_campaign / path.relative_to(tmp_path)).read_bytes()


def test_layouts_declare_the_columns_that_the_files_have(run_of: RunOf) -> None:
    """Every declared header stands in the files of its layout, after decoding as declared."""
    raw = Settings.model_validate(yaml.safe_load(CAMPAIGN)).raw
    files = [cycling_file(run_of(cell)) for cell in ("c13", "c14", "c07", "c04")]
    files += [next(iter(impedance_files(run_of(cell)))) for cell in ("c13", "c14", "c07", "c04")]
    by_folder = {Path(name).parent.as_posix(): content for name, content in files}

    for pattern in (*raw.cycling, *raw.impedance):
        content = by_folder[Path(pattern.files).parent.as_posix()]
        if pattern.layout == "bdf":
            assert b" / " in content[:200]
            continue
        layout = raw.layouts[pattern.layout]
        lines = content.decode(layout.encoding).splitlines()[:4]
        headers = max((line.split(layout.delimiter) for line in lines), key=len)
        for column in layout.columns:
            assert any(column.header in line.split(layout.delimiter) for line in lines), headers


def test_readings_close_up_to_their_noise(run_of: RunOf) -> None:
    """Cell less positive plus negative is 0 in the model and noise of about 0.1 mV as read."""
    data = readings(run_of("c04"))
    closure_V = data.cell_V - (data.positive_V - data.negative_V)

    assert np.std(closure_V) == pytest.approx(5e-5 * np.sqrt(3.0), rel=0.05)
    assert abs(np.mean(closure_V)) < 5e-6


def test_exchanged_leads_exchange_both_potentials(run_of: RunOf) -> None:
    """Where the leads are exchanged the positive reads the graphite, and closure fails."""
    run = run_of("c11")
    data = readings(run)

    assert run.plan.role.swapped
    assert np.mean(data.positive_V) < 0.5
    assert np.mean(data.negative_V) > 3.0
    assert np.median(np.abs(data.cell_V - (data.positive_V - data.negative_V))) > 5.0


def test_capacity_of_the_file_is_the_true_capacity(run_of: RunOf, small_campaign: Path) -> None:
    """The trapezoid over the rows of a file gives the model's charge within 0.1 %."""
    rows = np.loadtxt(
        small_campaign / "raw/cycling-bdf/c04.bdf.csv", delimiter=",", skiprows=1, usecols=(0, 2, 4)
    )
    cycle = rows[rows[:, 2] == 3]
    run = run_of("c04")
    true = run.cycle == 3

    from_file = np.trapezoid(np.maximum(-cycle[:, 1], 0.0), cycle[:, 0]) / 3.6
    exact = np.trapezoid(np.maximum(-run.current_mA[true], 0.0), run.time_s[true]) / 3600.0

    assert from_file == pytest.approx(exact, rel=1e-3)


def test_one_file_ends_in_mid_line(run_of: RunOf) -> None:
    """The file that was copied while growing has no line end after its last, short line."""
    _, content = cycling_file(run_of("c17"))
    lines = content.split(b"\r\n")

    assert lines[-1]
    assert lines[-1].count(b";") < lines[-2].count(b";")


def test_local_times_refuse_a_change_of_clocks() -> None:
    """Clocks changed on 2026-03-29 in Europe/Berlin (EU directive 2000/84/EC: last Sunday)."""
    plan = plan_campaign()[0]
    start_s = plan.crimped_at.timestamp()

    assert local_times(plan, unix_s=np.array([start_s, start_s + 0.9]))[1] == "12.01.2026 13:00:00"
    with pytest.raises(ValueError, match="clocks change within the data"):
        local_times(plan, unix_s=np.array([start_s, start_s + 80 * 86400.0]))


def test_truth_is_complete(tmp_path: Path, run_of: RunOf, plans: dict[str, CellPlan]) -> None:
    """Every cell has its truth; every cycle and check-up of a cell that ran has a row."""
    chosen = ("c04", "c13", "c14", "c24")
    runs = [(plans[cell], None if cell == "c24" else run_of(cell)) for cell in chosen]
    write_truth(tmp_path, runs=runs)

    cells = json.loads((tmp_path / "truth/cells.json").read_text(encoding="utf-8"))
    cycles = (tmp_path / "truth/cycles.csv").read_text(encoding="utf-8").splitlines()[1:]
    resistances = (tmp_path / "truth/resistances.csv").read_text(encoding="utf-8").splitlines()

    assert [cell["cell"] for cell in cells] == list(chosen)
    assert cells[-1]["fate"] == "excluded"
    assert len(cycles) == sum(int(run.cycle[-1]) for _, run in runs if run)
    assert len(resistances) - 1 == 2 * sum(len(run.check_ups) for _, run in runs if run)


def test_unknown_cell_is_refused(tmp_path: Path) -> None:
    """A cell that the demo does not have is named and nothing is made."""
    with pytest.raises(SystemExit, match="no such cell in the demo: c99"):
        main([str(tmp_path), "--cells", "c99"])

    assert not list(tmp_path.iterdir())
