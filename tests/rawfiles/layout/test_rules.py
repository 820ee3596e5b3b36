"""What can be wrong with a declared layout is told before any file is read."""

from __future__ import annotations

import pytest
from raw_files import PLAIN

from trivet.campaign.settings_rules import broken_rules
from trivet.rawfiles.layout.rules import broken_layout, header_unit
from trivet.schema.settings.raw import Layout, LayoutColumn, Raw, RawFiles


def column(header: str, quantity: str, unit: str = "", **more: object) -> LayoutColumn:
    """One column of a layout."""
    return LayoutColumn(header=header, quantity=quantity, unit=unit, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"encoding": "utf-9"}, "Did you mean 'utf-8'?"),
        ({"thousands": "."}, "thousands sign and decimal sign are both '.'"),
        ({"columns": [*PLAIN, column("J", "current", "mA")]}, "declared for several columns"),
        ({"columns": [*PLAIN, column("I", "cycle")]}, "header 'I' is declared several times"),
        ({"columns": [*PLAIN, column("N", "cycle", also=["I"])]}, "declared several times"),
        ({"columns": [column("I", "current", "V")]}, "does not fit the current"),
        ({"columns": [column("I", "current", "furlong")]}, "is not known"),
        ({"columns": [column("I", "current")]}, "is not known"),
        ({"columns": [column("I", "current", "h:m:s")]}, "for elapsed time only"),
        ({"columns": [column("I/A", "current", "mA")]}, "says 'A', the unit is 'mA'"),
        ({"columns": [column("U [mV]", "cell voltage", "V")]}, "says 'mV', the unit is 'V'"),
        ({"wide_real": "Re"}, "must have {frequency} exactly once"),
        ({"wide_real": "R{frequency}"}, "'' must have {frequency} exactly once"),
        ({"frequencies_file": "/etc/f.csv"}, "must be a path below the campaign folder"),
    ],
)
def test_wrong_layouts_are_named(changes: dict[str, object], message: str) -> None:
    """Unknown encoding, a quantity or header twice, a unit that does not fit: each is told."""
    layout = Layout(**({"columns": PLAIN} | changes))  # type: ignore[arg-type]
    told = [text for _, text in broken_layout(("raw", "layouts", "bench"), layout)]
    assert any(message in text for text in told), told


def test_a_right_layout_breaks_no_rule() -> None:
    """Nothing is told of a layout that can be read with."""
    columns = [
        *PLAIN,
        column("clock", "ignored"),
        column("x", "ignored"),
        column("T/degC", "temperature", "degC"),
    ]
    assert list(broken_layout((), Layout(columns=columns))) == []


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        ("I [mA]", "mA"),
        ("I (mA)", "mA"),
        ("I/mA", "mA"),
        ("I_mA", "mA"),
        ("Current / A", "A"),
        ("I", ""),
    ],
)
def test_unit_in_a_header(header: str, unit: str) -> None:
    """Units stand in (), [], behind / or behind _."""
    assert header_unit(header) == unit


@pytest.mark.parametrize(
    ("pattern", "names_cell", "message"),
    [
        ("raw/table.csv", False, "must have {cell}."),
        ("raw/{cell}.csv", True, "must not have {cell}"),
        ("raw/table.csv", True, ""),
    ],
)
def test_a_file_of_several_cells_has_no_placeholder(
    pattern: str, names_cell: bool, message: str
) -> None:
    """{cell} stands in the pattern, or a column names the cell, and never both."""
    columns = [*PLAIN, *([column("cell", "cell")] if names_cell else [])]
    raw = Raw(
        impedance=[RawFiles(files=pattern, layout="bench")],
        layouts={"bench": Layout(columns=columns)},
    )
    told = [text for _, text in broken_rules({"raw": raw})]
    assert (told == []) if not message else any(message in text for text in told)
