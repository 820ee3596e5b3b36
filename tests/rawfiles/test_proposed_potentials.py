"""Which column is which potential: names and differences both speak, and neither is overruled.

How people write headers is common practice, no source. The cell voltage is the positive less the
negative potential by definition.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from raw_files import lines

from trivet.cli.main import main
from trivet.rawfiles.proposal.words import quantity_of, unit_word

ROWS = 60


def exported(header: str, *, exchanged: bool = False, factor: float = 1.0) -> str:
    """A charge of 60 rows: time, current, cell voltage, and the potentials of both electrodes."""
    body = []
    for n in range(ROWS):
        positive, negative = 3.2 + n / 100, 0.2 - n / 1000
        first, second = (negative, positive) if exchanged else (positive, negative)
        volts = (positive - negative, first, second)
        body.append(f"{60 * n};1.0;" + ";".join(f"{factor * value:.4f}" for value in volts))
    return lines(header, *body)


def proposed(
    path: Path, text: str, capsys: pytest.CaptureFixture[str]
) -> tuple[int, dict[str, Any], str]:
    """Exit code, columns by header, and questions of a proposal."""
    path.write_text(text, encoding="utf-8")
    code = main(["layout", str(path)])
    printed = capsys.readouterr()
    (layout,) = yaml.safe_load(printed.out)["raw"]["layouts"].values()
    return code, {column["header"]: column for column in layout["columns"]}, printed.err


@pytest.mark.parametrize(
    ("header", "quantity"),
    [
        ("Vpos (V)", "positive potential"),
        ("Eneg/V", "negative potential"),
        ("Ucell/V", "cell voltage"),
        ("Ewe-Ece (V)", "cell voltage"),
        ("Volts + to Ref", "positive potential"),
        ("Volts - to Ref", "negative potential"),
        ("E+ (V)", "positive potential"),
        ("Ewe (V)", ""),
        ("T/°C", "temperature"),
        ("Cyc", "cycle"),
        ("Amps", "current"),
    ],
)
def test_headers_are_known(header: str, quantity: str) -> None:
    """A working electrode alone may be either one, so it has no quantity by its name."""
    assert quantity_of(header) == quantity


@pytest.mark.parametrize(("header", "unit"), [("Amps", "A"), ("Volts + to Ref", "V"), ("I", "")])
def test_a_word_may_be_the_unit(header: str, unit: str) -> None:
    """`Volts` names quantity and unit."""
    assert unit_word(header) == unit


def test_names_that_agree_need_no_question(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Names and difference say the same."""
    text = exported("t/s;I/mA;Vcell/V;Vpos/V;Vneg/V")
    code, columns, _ = proposed(tmp_path / "A.csv", text, capsys)
    assert code == 0
    assert columns["Vpos/V"]["quantity"] == "positive potential"


def test_names_that_the_difference_contradicts_are_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither reading is taken: both are named, and the check stops at `decide`."""
    text = exported("t/s;I/mA;Vcell/V;Vpos/V;Vneg/V", exchanged=True)
    code, columns, asked = proposed(tmp_path / "A.csv", text, capsys)
    assert code == 2
    assert columns["Vpos/V"]["quantity"] == columns["Vneg/V"]["quantity"] == "decide"
    assert "'Vneg/V' - 'Vpos/V' is the cell voltage" in asked
    assert "by their names 'Vpos/V' is the positive" in asked


def test_electrodes_without_a_name_are_found_by_their_difference(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Which of working and counter electrode is the positive is proved by the cell voltage."""
    text = exported("t/s;I/mA;Ewe-Ece (V);Ewe (V);Ece (V)")
    code, columns, _ = proposed(tmp_path / "A.csv", text, capsys)
    assert code == 0
    assert columns["Ewe (V)"]["quantity"] == "positive potential"


@pytest.mark.parametrize(("factor", "unit"), [(1.0, "V"), (1000.0, "mV")])
def test_voltages_without_a_unit_have_it_by_their_size(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], factor: float, unit: str
) -> None:
    """A cell is charged to some volts, which are thousands of millivolts."""
    text = exported("t/s;I/mA;u_cell;u_pos_li;u_neg_li", factor=factor)
    code, columns, _ = proposed(tmp_path / "A.csv", text, capsys)
    assert code == 0
    assert {columns[name]["unit"] for name in ("u_cell", "u_pos_li")} == {unit}
