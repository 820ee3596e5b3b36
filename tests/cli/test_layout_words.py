"""`trivet layout` on headers and times as exports have them: each reads right, or is asked."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from trivet.cli.main import main
from trivet.rawfiles.layout.patterns import RawFile
from trivet.schema.cell_facts import CellFacts
from trivet.schema.settings.raw import Raw
from trivet.stages.read import run
from trivet.store.tables import arrays

ROWS = 60


def volt(n: int) -> float:
    """Cell voltage of a charge [V]."""
    return 3.0 + n / 100


def negative(n: int) -> float:
    """Potential of the negative [V]."""
    return 0.1 - n / 1000


def write(path: Path, header: str, row: Callable[[int], str], *, units: str = "") -> Path:
    """A charge of 60 rows, a row a minute."""
    above = [header, units] if units else [header]
    path.write_text("\n".join([*above, *map(row, range(ROWS))]) + "\n", encoding="utf-8")
    return path


def proposal(path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """The block `raw` that is proposed without any question."""
    assert main(["layout", str(path)]) == 0
    return dict(yaml.safe_load(capsys.readouterr().out)["raw"])


def columns(block: dict[str, Any]) -> dict[str, str]:
    """Headers by quantity."""
    (layout,) = block["layouts"].values()
    return {column["quantity"]: column["header"] for column in layout["columns"]}


def series(path: Path, block: dict[str, Any]) -> dict[str, np.ndarray]:
    """The series that the proposal gives."""
    raw = Raw.model_validate(block)
    file = RawFile(path, path.name, "cycling", raw.cycling[0].layout, folder=path.parent)
    return arrays(run(facts=CellFacts("A", "1"), files=[file], raw=raw, time_zone="UTC").series)


def test_a_counter_of_data_points_is_no_elapsed_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`DataPoint` counts rows; the time is in the column that says so."""
    path = write(
        tmp_path / "A.csv",
        "DataPoint,Time/s,Current/mA,Voltage/V",
        lambda n: f"{n + 1},{60 * n},1,{volt(n):.4f}",
    )
    assert columns(proposal(path, capsys))["elapsed time"] == "Time/s"


def test_a_sign_that_is_not_proved_is_asked_and_can_not_be_pasted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """While another question is open nothing is proved: the sign is asked, its value refused."""
    path = write(
        tmp_path / "A.csv",
        "Date,I/mA,U/V",
        lambda n: f"0{n % 9 + 1}/04/2025 10:{n:02d}:00,1,{volt(n):.4f}",
    )
    assert main(["layout", str(path)]) == 2
    said = capsys.readouterr()
    assert "is charging positive or negative in this file?" in said.err
    (layout,) = yaml.safe_load(said.out)["raw"]["layouts"].values()
    with pytest.raises(ValueError, match="charging_current"):
        Raw.model_validate({"layouts": {"bench": layout}})


def test_each_layout_has_a_name_of_its_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two kinds of files give two names that stand side by side; one kind gives one name."""
    names = []
    for name, header in (("A", "t/s,I/mA,U/V"), ("B", "t/s,Strom/mA,U/V"), ("C", "t/s,I/mA,U/V")):
        path = write(tmp_path / f"{name}.csv", header, lambda n: f"{60 * n},1,{volt(n):.4f}")
        block = proposal(path, capsys)
        names.append(*block["layouts"])
        assert block["cycling"][0]["layout"] == names[-1]
    assert names[0] == names[2] != names[1]
    assert all(name.startswith("cycling-") for name in names)


@pytest.mark.parametrize("header", ["Date", "Timestamp", "Zeit"])
@pytest.mark.parametrize("offset", ["Z", "+01:00", "-0330", ".250+01:00", ".2500000Z"])
def test_iso_times_with_an_offset_are_read(
    tmp_path: Path, header: str, offset: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """ISO 8601 with Z or an offset; outside: `datetime.fromisoformat` of the standard library."""
    texts = [f"2026-03-28T23:{n:02d}:00{offset}" for n in range(ROWS)]
    path = write(tmp_path / "A.csv", f"{header},I/mA,U/V", lambda n: f"{texts[n]},1,{volt(n):.4f}")
    got = series(path, proposal(path, capsys))["time_s"]
    # the library takes at most six digits of a second
    wanted = [datetime.fromisoformat(text.replace(".2500000", ".250")) for text in texts]
    assert got.tolist() == [moment.timestamp() for moment in wanted]


@pytest.mark.parametrize("unit", ["hh:mm:ss", "[HH:MM:SS]", "h:mm:ss.s", "d hh:mm:ss"])
def test_a_unit_row_with_a_clock_is_read(
    tmp_path: Path, unit: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A unit of a clock in the row of units is that of the clock below it."""
    path = write(
        tmp_path / "A.csv",
        "Time,Current,Voltage",
        lambda n: f"00:{n:02d}:00,1,{volt(n):.4f}",
        units=f"{unit},mA,V",
    )
    got = series(path, proposal(path, capsys))
    assert got["elapsed_s"].tolist() == [60.0 * n for n in range(ROWS)]


@pytest.mark.parametrize("first", [1, 2])
def test_auxiliary_voltages_that_differ_by_the_cell_voltage_are_the_potentials(
    tmp_path: Path, first: int, capsys: pytest.CaptureFixture[str]
) -> None:
    """Positive less negative is the cell voltage to noise, whichever input is which: the proof."""
    names = [f"Auxiliary Voltage {place}/V" for place in ((1, 2) if first == 1 else (2, 1))]
    path = write(
        tmp_path / "A.csv",
        f"Time/s,Current/mA,Voltage/V,{names[0]},{names[1]}",
        lambda n: (
            f"{60 * n},1,{volt(n):.4f},{volt(n) + negative(n) + 0.0004 * math.sin(7 * n):.4f},"
            f"{negative(n):.4f}"
        ),
    )
    assert main(["layout", str(path)]) == 0
    said = capsys.readouterr().out
    assert f"'{names[0]}' - '{names[1]}' is the cell voltage within 0.4 mV in 60 rows" in said
    found = columns(yaml.safe_load(said)["raw"])
    assert [found["positive potential"], found["negative potential"]] == names


@pytest.mark.parametrize(
    ("positive_V", "negative_V"),
    [
        (volt, lambda n: 0.0),  # an input that is shorted
        (lambda n: volt(n) + 1.0, lambda n: 0.9 - n / 1000),  # 60 mV off in the end
    ],
)
def test_auxiliary_voltages_without_the_proof_are_left_out(
    tmp_path: Path,
    positive_V: Callable[[int], float],
    negative_V: Callable[[int], float],
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A difference that is not the cell voltage, or an input that does not move, proves nothing."""
    path = write(
        tmp_path / "A.csv",
        "Time/s,Current/mA,Voltage/V,Aux 1/V,Aux 2/V",
        lambda n: f"{60 * n},1,{volt(n):.4f},{positive_V(n):.4f},{negative_V(n):.4f}",
    )
    assert set(columns(proposal(path, capsys))) == {"elapsed time", "current", "cell voltage"}


def test_auxiliary_inputs_named_after_their_electrode_are_potentials(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`Aux_Positive(V)`: the electrode is in its name, the unit in its brackets."""
    path = write(
        tmp_path / "A.csv",
        "Time(s),Current(mA),Voltage(V),Aux_Positive(V),Aux_Negative(V)",
        lambda n: f"{60 * n},1,{volt(n):.4f},{volt(n) + negative(n):.4f},{negative(n):.4f}",
    )
    got = series(path, proposal(path, capsys))
    assert np.allclose(got["positive_V"], [volt(n) + negative(n) for n in range(ROWS)], atol=1e-4)
    assert np.allclose(got["negative_V"], [negative(n) for n in range(ROWS)], atol=1e-4)


def test_units_as_products_and_against_lithium_are_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`mA.h` is a charge; `V vs Li` is a voltage, whatever it is against."""
    path = write(
        tmp_path / "A.csv",
        "Time/s;I/mA;E_pos (V vs Li);E_neg/V vs. Li/Li+;Charge Capacity/mA.h",
        lambda n: f"{60 * n};1;{volt(n) + negative(n):.4f};{negative(n):.4f};{n / 60:.4f}",
    )
    block = proposal(path, capsys)
    (layout,) = block["layouts"].values()
    units = {column["quantity"]: column["unit"] for column in layout["columns"] if "unit" in column}
    assert units["positive potential"] == units["negative potential"] == "V"
    assert units["charge counter"] == "mAh"
    assert np.allclose(series(path, block)["cell_V"], [volt(n) for n in range(ROWS)], atol=1e-9)


def test_content_that_does_not_fit_its_header_is_what_is_blamed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A column of dates nobody knows is left out for its content, which is shown."""
    path = write(
        tmp_path / "A.csv", "Zeit,t/s,I/mA,U/V", lambda n: f"Mo 3h{n},{60 * n},1,{volt(n):.4f}"
    )
    assert main(["layout", str(path)]) == 0
    said = capsys.readouterr().out
    assert "'Zeit': its words say time, its content, as 'Mo 3h0', does not" in said
