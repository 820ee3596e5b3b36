"""A column of charge current and one of discharge current are one current, never half of it.

Expected values follow from the definition: charge counts positive, discharge negative.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import yaml
from raw_files import columns, lines, read

from trivet.cli.main import main
from trivet.rawfiles.layout.rules import broken_layout
from trivet.rawfiles.proposal.words import quantity_of
from trivet.rawfiles.two_currents import CHARGE, DISCHARGE
from trivet.schema.settings.raw import Layout, LayoutColumn

BOTH = Layout(
    columns=columns(
        t="elapsed time:s", up=f"{CHARGE}:mA", down=f"{DISCHARGE}:mA", U="cell voltage:V"
    )
)
ROWS = 40


def exported(*, minus: bool = False, swapped: bool = False, header: str = "t,up,down,U") -> str:
    """A charge of 1 mA in which the voltage rises, then a discharge of 2 mA in which it falls."""
    body = []
    for n in range(2 * ROWS):
        first = n < ROWS
        up, down = (1.0, 0.0) if first else (0.0, -2.0 if minus else 2.0)
        up, down = (down, up) if swapped else (up, down)
        volt = 3.0 + 0.01 * n if first else 3.4 - 0.01 * (n - ROWS)
        body.append(f"{60 * n},{up},{down},{volt:.3f}")
    return lines(header, *body)


@pytest.mark.parametrize("minus", [False, True])
def test_the_current_is_charge_less_discharge(tmp_path: Path, minus: bool) -> None:
    """Both as magnitudes, or the discharge below zero; the voltage proves the sign of the sum."""
    got = read(tmp_path, {"A.csv": exported(minus=minus)}, BOTH)
    np.testing.assert_array_equal(got.series["current_mA"], [1.0] * ROWS + [-2.0] * ROWS)
    assert "proved by the voltage" in got.assumed


def test_exchanged_columns_are_refused(tmp_path: Path) -> None:
    """Where charge and discharge are declared the other way round, the voltage contradicts."""
    got = read(tmp_path, {"A.csv": exported(swapped=True)}, BOTH)
    assert not len(got.series["current_mA"])
    assert got.findings["sign of current"]["severity"] == "fault"
    assert "exchanged in the layout?" in str(got.findings["sign of current"]["message"])


def test_a_row_with_both_is_set_aside(tmp_path: Path) -> None:
    """Two currents at once can't be; an offset of 1 uA in the idle column is noise."""
    text = (
        exported().replace("120,1.0,0.0,", "120,1.0,0.9,").replace("180,1.0,0.0,", "180,1.0,0.001,")
    )
    got = read(tmp_path, {"A.csv": text}, BOTH)
    assert len(got.series["current_mA"]) == 2 * ROWS - 1
    found = got.findings["charge and discharge current at once"]
    assert (found["severity"], found["line"]) == ("caution", 4)


def test_a_file_in_which_both_flow_as_a_rule_is_refused(tmp_path: Path) -> None:
    """Such columns are something else, and the fault says so."""
    text = lines("t,up,down,U", *(f"{60 * n},1.0,1.5,{3 + n / 100}" for n in range(ROWS)))
    got = read(tmp_path, {"A.csv": text}, BOTH)
    assert not len(got.series["current_mA"])
    assert "40 rows of 40" in str(got.findings["charge and discharge current at once"]["message"])


def test_a_charge_current_below_zero_is_refused(tmp_path: Path) -> None:
    """A column with both signs is the current itself; taken as magnitudes half would be wrong."""
    text = exported().replace("0.0,2.0,", "-2.0,2.0,")
    got = read(tmp_path, {"A.csv": text}, BOTH)
    assert got.findings["negative charge current"]["severity"] == "fault"


def test_half_of_the_current_is_said(tmp_path: Path) -> None:
    """One of the two may be declared alone, but not in silence."""
    half = Layout(columns=[column for column in BOTH.columns if column.quantity != DISCHARGE])
    got = read(tmp_path, {"A.csv": exported()}, half)
    assert "all discharge current of the file is missing" in str(
        got.findings["half of the current"]["message"]
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"charging_current": "negative"}, "has its sign already"),
        ({"columns": [*BOTH.columns, LayoutColumn(header="I", quantity="current", unit="mA")]},
         "beside 'current'"),
    ],
)  # fmt: skip
def test_a_layout_with_two_accounts_of_the_sign_is_refused(
    change: dict[str, object], words: str
) -> None:
    """The names of the two columns are the sign; a second one would turn or double it."""
    layout = Layout.model_validate(BOTH.model_dump() | change)
    assert any(words in message for _, message in broken_layout(("raw",), layout))


@pytest.mark.parametrize(
    ("header", "quantity"),
    [
        ("I charge (mA)", CHARGE),
        ("Charge current/mA", CHARGE),
        ("Ichg", CHARGE),
        ("Ladestrom", CHARGE),
        ("I discharge (mA)", DISCHARGE),
        ("I_dis", DISCHARGE),
        ("Idch/A", DISCHARGE),
        ("Discharge current", DISCHARGE),
        ("Entladestrom [mA]", DISCHARGE),
        ("Charge/discharge current", "current"),
        ("Charge capacity (mAh)", "charge counter"),
        ("Current", "current"),
    ],
)
def test_names_of_currents_are_known(header: str, quantity: str) -> None:
    """Names as people write them; common practice, no source."""
    assert quantity_of(header) == quantity


def test_layout_proposes_both(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two columns are declared for what they hold; the sign needs no decision."""
    path = tmp_path / "A.csv"
    path.write_text(exported(header="t/s,I charge (mA),I discharge (mA),U/V"), encoding="utf-8")
    assert main(["layout", str(path)]) == 0
    (layout,) = yaml.safe_load(capsys.readouterr().out)["raw"]["layouts"].values()
    assert {column["quantity"] for column in layout["columns"]} >= {CHARGE, DISCHARGE}
    assert layout["charging_current"] == "positive"


def test_layout_asks_for_the_other_half(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A column of charge current without one of discharge is a question."""
    path = tmp_path / "A.csv"
    path.write_text(exported(header="t/s,I charge (mA),other,U/V"), encoding="utf-8")
    assert main(["layout", str(path)]) == 2
    assert "which column holds the discharge current?" in capsys.readouterr().err
